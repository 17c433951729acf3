"""What the panels of a bank should read, from K and S of the tints and from how far each panel's amounts are off."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.optics.beam import film_reading, film_reading_slopes, hiding_reading, hiding_reading_with_slope
from finishmatch.optics.mixture import TintOptics, film_series
from finishmatch.optics.panel_set import MODEL_FLOOR, MODEL_SHARE, MODEL_SHARE_SHOWN, WEIGHING_SD_G, Bools, PanelSet
from finishmatch.optics.surface import Surface

Indices = NDArray[np.intp]
WHOLE_FILM = -1  # stands for a tint in a factor of the build
# what it leaves of a film at least: with less, dark films over black outweigh all else, and contrast ratios go off
FILM_FLOOR = 0.001
_LIGHT_AND_DARK = np.array([[0.92], [0.01]])  # grounds in contact with a film, about those of a drawdown card


@dataclass(frozen=True)
class AmountFactors:
    """Factors that all wavelengths of a panel share: a tint has so much more amount, or the film so much more build.

    The largest part of a mixture has none, since its colour shows ratios. Panels of one mixture share its factors,
    films of one build over several grounds that of the build.

    Parameters
    ----------
    slots : ndarray, shape (p, k)
        Which factors a panel has; `count` where it has fewer than k.
    tint : ndarray, shape (count,)
        Whose amount it is, or `WHOLE_FILM`.
    weighing_sd : ndarray, shape (count,)
        Of the factor's logarithm, what the scale leaves open.
    known_sd : ndarray, shape (count,), or None
        Of the factor's logarithm in all, where it doesn't follow from the bank; 0 where it does.
    told : (ndarray, shape (count, count), ndarray, shape (count,)), or None
        What else is known of the factors' logarithms beforehand, of several together: its precision, which needn't say
        anything of all, and that times what they are told to be.
    """

    slots: Indices
    tint: Indices
    weighing_sd: Floats
    known_sd: Floats | None = None
    told: tuple[Floats, Floats] | None = None

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.tint)

    @property
    def of_build(self) -> Bools:
        """Which are of the build, shape (count,)."""
        whole: Bools = self.tint == WHOLE_FILM
        return whole

    def of_panels(self, logs: Floats, n: int) -> Floats:
        """Return the amounts' logarithms, shape (p, n), from those of the factors, shape (count,)."""
        by_tint = np.zeros((len(self.slots), n))
        padded, tint = np.append(logs, 0.0), np.append(self.tint, WHOLE_FILM)
        rows = np.arange(len(self.slots))
        for slot in self.slots.T:
            of_film = tint[slot] == WHOLE_FILM
            by_tint += np.where(of_film, padded[slot], 0.0)[:, None]
            by_tint[rows, tint[slot]] += np.where(of_film, 0.0, padded[slot])
        return by_tint


def amount_factors(panels: PanelSet) -> AmountFactors:
    """Return the factors of a bank's panels."""
    tint: list[int] = []
    weighing: list[float] = []
    numbers: dict[tuple[int, float, int], int] = {}
    of_panel: list[list[int]] = []
    for i, (grams, shares) in enumerate(zip(panels.grams, panels.fractions, strict=True)):
        largest = int(shares.argmax())
        build = float(panels.build_um[i])
        wanted = [(int(panels.mixture[i]), np.inf, int(j)) for j in np.flatnonzero(grams > 0) if j != largest]
        if np.isfinite(build):
            wanted.append((int(panels.mixture[i]), build, WHOLE_FILM))
        for key in wanted:
            if key not in numbers:
                numbers[key] = len(tint)
                tint.append(key[2])
                slip = 0.0 if key[2] == WHOLE_FILM else WEIGHING_SD_G * np.hypot(1 / grams[key[2]], 1 / grams[largest])
                weighing.append(float(slip))
        of_panel.append([numbers[key] for key in wanted])
    most = max(1, *map(len, of_panel))
    slots = np.array([own + [len(tint)] * (most - len(own)) for own in of_panel], dtype=np.intp)
    return AmountFactors(slots, np.array(tint, dtype=np.intp), np.array(weighing))


def panel_readings(panels: PanelSet, K: Floats, S: Floats, surface: Surface) -> Floats:
    """Return what the panels should read, shape (p, 31), from K and S of the tints, shape (n, 31)."""
    k, s = panels.fractions @ K, np.maximum(panels.fractions @ S, 1e-12)
    hiding, thin = panels.hiding, ~panels.hiding
    reading = np.empty_like(k)
    reading[hiding] = hiding_reading(k[hiding] / s[hiding], surface)
    reading[thin] = film_reading(k[thin], s[thin], panels.build_um[thin, None], panels.ground[thin], surface)
    return reading


def panel_slopes(panels: PanelSet, K: Floats, S: Floats, surface: Surface) -> tuple[Floats, Floats, Floats]:
    """Return what the panels should read, shape (p, 31), and the slopes with respect to the mixture's K and S."""
    k, s = panels.fractions @ K, np.maximum(panels.fractions @ S, 1e-12)
    reading, by_k, by_s = np.empty_like(k), np.empty_like(k), np.empty_like(k)
    hiding, thin = panels.hiding, ~panels.hiding
    if hiding.any():
        q = k[hiding] / s[hiding]
        reading[hiding], slope = hiding_reading_with_slope(q, surface)
        by_k[hiding], by_s[hiding] = slope / s[hiding], -slope * q / s[hiding]
    if thin.any():
        reading[thin], by_k[thin], by_s[thin] = film_reading_slopes(
            k[thin], s[thin], panels.build_um[thin, None], panels.ground[thin], surface
        )
    return reading, by_k, by_s


def with_amounts(panels: PanelSet, factors: AmountFactors, logs: Floats) -> PanelSet:
    """Return the panels with their amounts times the factors whose logarithms are given, shape (count,)."""
    return replace(panels, fractions=panels.fractions * np.exp(factors.of_panels(logs, panels.fractions.shape[1])))


def film_theory_sd(optics: TintOptics, grams: Floats, reading: Floats) -> Floats:
    """Return what the theory leaves of a film that is foretold, one standard deviation, of the shape of `reading`.

    Parameters
    ----------
    optics : TintOptics
        With a backing; `model_sd` is what the theory leaves of a film that hides, as a share of its reflectance.
    grams : ndarray, shape (n,)
    reading : ndarray, shape (..., 31)
        Of the film, as it may come out.

    Notes
    -----
    As in the fit (`theory_sd`): the more of the ground is seen through a film the more it leaves.
    """
    assert optics.backing is not None
    times = optics.model_sd / MODEL_SHARE
    build = np.array([optics.backing.build_um])
    (light,), (dark,) = film_series(optics, grams, build, _LIGHT_AND_DARK * np.ones(SIZE))
    left: Floats = np.hypot(optics.model_sd * reading + times * MODEL_SHARE_SHOWN * (light - dark), times * FILM_FLOOR)
    return left


def theory_sd(panels: PanelSet, K: Floats, S: Floats, surface: Surface, reading: Floats) -> Floats:
    """Return what the theory leaves of each reading in the booth, shape (p, 31), one standard deviation.

    The more of the ground is seen through a film the more it leaves, whatever the ground is.
    """
    left = MODEL_SHARE * reading
    if (thin := ~panels.hiding).any():
        k, s = panels.fractions[thin] @ K, panels.fractions[thin] @ S
        light, dark = film_reading(k, s, panels.build_um[thin, None], _LIGHT_AND_DARK[:, None], surface)
        left[thin] += MODEL_SHARE_SHOWN * (light - dark)
    return np.hypot(left, np.where(panels.hiding, MODEL_FLOOR, FILM_FLOOR)[:, None])
