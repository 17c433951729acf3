"""What is believed of tints before a panel is read: smooth spectra, and how far amounts and theory go off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE

STEP_NM = 10.0
K2 = (0.58, 0.03)  # of a flat surface, mean and SD: by Fresnel it lies near 0.6
BEAM_BACK = (0.30, 0.20)  # pigments scatter between evenly and strongly forward
SCALE_SD = 3.0  # of the logarithm of the scale per µm, about where the fit starts


@dataclass(frozen=True)
class Beliefs:
    """The spreads that the fit of a bank rests on; where it starts, and what was learnt of them.

    Lengths are in nm, the rest standard deviations and means of natural logarithms. K and S stand relative to the S of
    the white (or what else sets the scale).

    Parameters
    ----------
    k_mean, k_sd, k_length_nm : float
        Of log K: all tints about one mean.
    s_mean, s_level_sd : float
        Of the level of log S: most pigments scatter less than the white.
    s_sd, s_length_nm : float
        Of log S about its level.
    dispersal_sd : float
        Of the amount of a tint in one panel against what was weighed, beyond what the scale leaves open.
    build_sd : float
        Of a film's build against what is written.
    theory : float
        What the theory leaves, as a multiple of what it leaves in the booth (`panel_set`).
    run : float
        Over how many wavelengths in a row it is off the same way, so that they count as one reading.
    kinds : tuple of str
        Of each tint the kind of pigment it is taken for (`pigment_kinds`), "" for none; empty: none is taken for any.
    kinds_off : float
        By how much all of these are off their kinds alike, the logarithm of a strength.
    kinds_fine : bool
        Whether a tin is off its kind from band to band: what cameras saw besides colours shows so much.
    """

    k_mean: float = -1.0
    k_sd: float = 2.0
    k_length_nm: float = 60.0
    s_mean: float = -1.2
    s_level_sd: float = 0.8
    s_sd: float = 0.3
    s_length_nm: float = 150.0
    scale_mean: float = 0.0
    scale_sd: float = 0.3
    scale_length_nm: float = 200.0
    dispersal_sd: float = 0.01
    build_sd: float = 0.003
    theory: float = 1.0
    run: float = 2.0
    kinds: tuple[str, ...] = ()
    kinds_off: float = 0.0
    kinds_fine: bool = False


def smooth_precision(length_nm: float, sd: float) -> Floats:
    """Return the precision of a smooth process along the wavelengths, shape (31, 31), two diagonals on each side.

    Parameters
    ----------
    length_nm : float
        Over which values are alike.
    sd : float
        Of a value, on the mean of all wavelengths.

    References
    ----------
    Lindgren, Rue and Lindström, J. R. Stat. Soc. B 73 (2011) 423: the Markov process of a Matérn covariance, here of
    smoothness 3/2, with its step of 10 nm and a level slope at both ends.
    """
    return _unit_precision(length_nm) / sd**2


@lru_cache(maxsize=64)  # a fit tries the same few lengths again and again
def _unit_precision(length_nm: float) -> Floats:
    kappa2 = 3 * (STEP_NM / length_nm) ** 2
    operator = np.zeros((SIZE, SIZE))
    i = np.arange(SIZE)
    operator[i, i] = kappa2 + 2
    operator[i[:-1], i[1:]] = operator[i[1:], i[:-1]] = -1
    operator[0, 0] = operator[-1, -1] = kappa2 + 1
    precision: Floats = operator.T @ operator
    return precision * np.mean(np.diag(np.linalg.inv(precision)))
