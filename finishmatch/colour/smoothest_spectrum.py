"""The smoothest spectrum that has a colour: what stands for a spectrum where only the colour is known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from finishmatch.colour.grid import SIZE, Floats

_ROUNDS, _SETTLED = 40, 1e-6


def smoothest_spectrum(lightness: float, away: Callable[[Floats], tuple[Floats, Floats]]) -> Floats:
    """Return the smoothest spectrum, shape (31,), that lies nowhere away from a colour.

    Parameters
    ----------
    lightness : float
        L* of about that colour, from which the search starts.
    away : callable
        Of a spectrum, how far it lies from the colour, shape (3,), and the slope of that, shape (3, 31).

    Notes
    -----
    The logarithm of the odds R/(1-R) is made smooth (least squared steps) and moved by Newton's method until the colour
    is met; colours no real spectrum has are approached as far as that goes.
    """
    difference = np.diff(np.eye(SIZE), axis=0)
    inverse = np.linalg.inv(difference.T @ difference + 1e-6 * np.eye(SIZE))
    middle = np.clip((max(lightness, 0.0) / 100) ** 2.4, 0.01, 0.97)
    logit = np.full(SIZE, np.log(middle / (1 - middle)))
    for _ in range(_ROUNDS):
        r = 1 / (1 + np.exp(-logit))
        vector, slope = away(r)
        jacobian = slope * (r * (1 - r))
        # least roughness of the whole curve subject to the linearised colour
        reach = jacobian @ inverse @ jacobian.T + 1e-6 * np.eye(3)
        wanted = inverse @ jacobian.T @ np.linalg.solve(reach, jacobian @ logit - vector)
        step = np.clip(wanted - logit, -1, 1)
        logit = np.clip(logit + step, -7, 7)
        if np.abs(step).max() < _SETTLED:
            break
    spectrum: Floats = 1 / (1 + np.exp(-logit))
    return spectrum
