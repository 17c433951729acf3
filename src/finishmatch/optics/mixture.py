"""The colour of a mixture that hides, and how it moves when the mixture does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.film import hiding_reflectance, hiding_reflectance_slope
from finishmatch.optics.surface import Surface, measured, measured_slope


@dataclass(frozen=True)
class TintOptics:
    """Fitted optics of some tints: names, K and S of shape (n, 31), relative to the white's S, and the surface.

    `dry_ml_per_g` of shape (n,) turns grams into dry volume.
    """

    names: tuple[str, ...]
    K: Floats
    S: Floats
    dry_ml_per_g: Floats
    surface: Surface

    def index(self, name: str) -> int:
        """Return where a tint stands; ValueError when it isn't here."""
        return self.names.index(name)

    def chosen(self, names: list[str]) -> TintOptics:
        """Return the optics of some of the tints, in the order named."""
        at = [self.index(name) for name in names]
        return TintOptics(tuple(names), self.K[at], self.S[at], self.dry_ml_per_g[at], self.surface)

    def strengthened(self, strengths: Floats) -> TintOptics:
        """Return the optics with K and S of each tint times its strength, shape (n,)."""
        factor = np.asarray(strengths, dtype=float)[:, None]
        return TintOptics(self.names, self.K * factor, self.S * factor, self.dry_ml_per_g, self.surface)


def mixture_reflectance(amounts: Floats, K: Floats, S: Floats, surface: Surface) -> Floats:
    """Return what an instrument reads of hiding mixtures.

    Parameters
    ----------
    amounts : ndarray, shape (..., n)
        Dry volumes of the tints, on any common scale: K and S add by volume (Duncan 1940).
    K, S : ndarray, shape (..., n, 31)
    surface : Surface

    Returns
    -------
    ndarray, shape (..., 31)
    """
    k, s = _summed(amounts, K), _summed(amounts, S)
    return measured(hiding_reflectance(k / np.maximum(s, 1e-12)), surface)


def mixture_slope(amounts: Floats, K: Floats, S: Floats, surface: Surface) -> tuple[Floats, Floats]:
    """Return the reflectance of hiding mixtures, shape (..., 31), and its slope per amount, shape (..., n, 31)."""
    k = _summed(amounts, K)
    s = np.maximum(_summed(amounts, S), 1e-12)
    q = k / s
    inner = hiding_reflectance(q)
    per_q = measured_slope(inner, surface) * hiding_reflectance_slope(q)
    slope = (per_q / s)[..., None, :] * (K - q[..., None, :] * S)
    return measured(inner, surface), slope


def _summed(amounts: Floats, optics: Floats) -> Floats:
    total: Floats = np.matmul(np.asarray(amounts, float)[..., None, :], optics)[..., 0, :]
    return total
