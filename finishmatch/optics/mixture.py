"""The colour of a mixture, hiding or as a film over a ground, and how it moves when the mixture does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.beam import (
    film_reading,
    film_reading_slopes,
    hiding_reading,
    hiding_reading_with_slope,
)
from finishmatch.optics.surface import Surface


@dataclass(frozen=True)
class Backing:
    """What a film lies on and how thick it is: dry build in µm, and the ground's reflectance in contact, (31,)."""

    name: str
    build_um: float
    ground: Floats


@dataclass(frozen=True)
class TintOptics:
    """Fitted optics of some tints.

    Parameters
    ----------
    names : tuple of str
    K, S : ndarray, shape (n, 31)
        In 1/µm when `per_um`, else relative to the S of the white.
    dry_ml_per_g : ndarray, shape (n,)
        Turns grams into dry volume.
    surface : Surface
    per_um : bool
        Whether films of a known build can be predicted.
    backing : Backing or None
        What mixtures are predicted as: a film over a ground, or (None) a film that hides.
    draws : ndarray, shape (d, 2, n, 31), or None
        K and S as they might also be, by what the panels leave open.
    dispersal_sd : float
        Of the logarithm of a tint's amount in one mixture of the bank, beyond what the scale leaves open: how much
        more or less of it comes to bear there. It stays with the mixture; 0 where nothing is known.
    neighbour_sd : float
        The same, by neighbours that no panel of the bank shows a tint beside: it stays with a mixture.
    model_sd : float
        What the theory leaves of a film that hides, as a share of its reflectance. 0 where nothing is known.
    model_run : float
        Over how many wavelengths in a row it is off the same way.
    """

    names: tuple[str, ...]
    K: Floats
    S: Floats
    dry_ml_per_g: Floats
    surface: Surface
    per_um: bool = False
    backing: Backing | None = None
    draws: Floats | None = None
    dispersal_sd: float = 0.0
    neighbour_sd: float = 0.0
    model_sd: float = 0.0
    model_run: float = 1.0

    @property
    def amount_sd(self) -> float:
        """How far the amount of a tint that comes to bear in a new mixture is off, of its logarithm (SD)."""
        return float(np.hypot(self.dispersal_sd, self.neighbour_sd))

    def spread_of_ratios(self, grams: Floats, sd: float) -> Floats:
        """Return how far what comes to bear of each part of a mixture is off, of its logarithm (SD), shape (n,).

        `sd`, and 0 for the largest dry volume: colour shows ratios, and what a bank shows of dispersal is one of ratios
        to the largest part (`AmountFactors`).
        """
        off = np.full(len(grams), sd)
        off[int(np.argmax(grams * self.dry_ml_per_g))] = 0.0
        return off

    def index(self, name: str) -> int:
        """Return where a tint stands; ValueError when it isn't here."""
        return self.names.index(name)

    def chosen(self, names: Sequence[str]) -> TintOptics:
        """Return the optics of some of the tints, in the order named."""
        at = [self.index(name) for name in names]
        return replace(
            self,
            names=tuple(names),
            K=self.K[at],
            S=self.S[at],
            dry_ml_per_g=self.dry_ml_per_g[at],
            draws=None if self.draws is None else self.draws[:, :, at],
        )

    def strengthened(self, strengths: Floats) -> TintOptics:
        """Return the optics with K and S of each tint times its strength, shape (n,)."""
        factor = np.asarray(strengths, dtype=float)[:, None]
        draws = None if self.draws is None else self.draws * factor
        return replace(self, K=self.K * factor, S=self.S * factor, draws=draws)

    def over(self, backing: Backing | None) -> TintOptics:
        """Return the optics of films over a ground instead of hiding ones.

        Raises
        ------
        ValueError
            When K and S aren't known per µm.
        """
        if backing is not None and not self.per_um:
            raise ValueError("K and S are not known per µm")
        return replace(self, backing=backing)


def mixture_reflectance(
    amounts: Floats, K: Floats, S: Floats, surface: Surface, backing: Backing | None = None
) -> Floats:
    """Return what an instrument reads of mixtures.

    Parameters
    ----------
    amounts : ndarray, shape (..., n)
        Dry volumes of the tints, on any common scale: K and S add by volume (Duncan 1940).
    K, S : ndarray, shape (..., n, 31)
    surface : Surface
    backing : Backing or None
        None for films that hide.

    Returns
    -------
    ndarray, shape (..., 31)
    """
    share = _shares(amounts)
    k, s = _summed(share, K), _summed(share, S)
    if backing is None:
        return hiding_reading(k / np.maximum(s, 1e-12), surface)
    read: Floats = film_reading(k, s, np.asarray(backing.build_um), backing.ground, surface)
    return read


def mixture_slope(
    amounts: Floats, K: Floats, S: Floats, surface: Surface, backing: Backing | None = None
) -> tuple[Floats, Floats]:
    """Return the reflectance of mixtures, shape (..., 31), and its slope per amount, shape (..., n, 31)."""
    total = np.asarray(amounts, float).sum(axis=-1)[..., None, None]
    share = _shares(amounts)
    k, s = _summed(share, K), np.maximum(_summed(share, S), 1e-12)
    if backing is None:
        q = k / s
        reading, per_q = hiding_reading_with_slope(q, surface)
        slope = (per_q / s)[..., None, :] * (K - q[..., None, :] * S)
        return reading, slope / total
    reading, by_k, by_s = film_reading_slopes(k, s, np.asarray(backing.build_um), backing.ground, surface)
    slope = by_k[..., None, :] * (K - k[..., None, :]) + by_s[..., None, :] * (S - s[..., None, :])
    return reading, slope / total


def strength_slope(amounts: Floats, optics: TintOptics) -> tuple[Floats, Floats]:
    """Return the reading of a mixture, (31,), and its slope per logarithm of the strength of each tint, (n, 31).

    Parameters
    ----------
    amounts : ndarray, shape (n,)
        Dry volumes of the tints. A stronger tint has more K and S in the same volume, so the build stays.
    optics : TintOptics
        Its backing says whether the film hides.
    """
    share = _shares(amounts)
    part_k, part_s = share[:, None] * optics.K, share[:, None] * optics.S
    k, s = part_k.sum(axis=0), np.maximum(part_s.sum(axis=0), 1e-12)
    if optics.backing is None:
        q = k / s
        reading, per_q = hiding_reading_with_slope(q, optics.surface)
        return reading, (per_q / s) * (part_k - q * part_s)
    build = np.asarray(optics.backing.build_um)
    reading, by_k, by_s = film_reading_slopes(k, s, build, optics.backing.ground, optics.surface)
    return reading, by_k * part_k + by_s * part_s


def predicted_reflectance(optics: TintOptics, grams: Floats) -> Floats:
    """Return the reading of films of weighed grams, shape (..., n), as their optics' backing has it, (..., 31)."""
    return mixture_reflectance(
        np.asarray(grams) * optics.dry_ml_per_g, optics.K, optics.S, optics.surface, optics.backing
    )


def film_series(optics: TintOptics, grams: Floats, build_um: Floats, grounds: Floats) -> Floats:
    """Return the reading of one mixture as films of several builds over several grounds.

    Parameters
    ----------
    optics : TintOptics
        Known per µm.
    grams : ndarray, shape (n,)
    build_um : ndarray, shape (m,)
    grounds : ndarray, shape (g, 31)
        Their reflectance in contact with the film.

    Returns
    -------
    ndarray, shape (g, m, 31)
    """
    share = _shares(np.asarray(grams) * optics.dry_ml_per_g)
    k, s = _summed(share, optics.K), _summed(share, optics.S)
    read: Floats = film_reading(k, s, np.asarray(build_um, float)[:, None], grounds[:, None], optics.surface)
    return read


def _shares(amounts: Floats) -> Floats:
    values = np.asarray(amounts, float)
    shares: Floats = values / np.maximum(values.sum(axis=-1, keepdims=True), 1e-300)
    return shares


def _summed(amounts: Floats, optics: Floats) -> Floats:
    total: Floats = np.matmul(amounts[..., None, :], optics)[..., 0, :]
    return total
