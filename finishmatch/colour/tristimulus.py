"""Tristimulus values of a reflectance by the weighting method of ASTM E308."""

from __future__ import annotations

from functools import cache
from importlib import resources

import numpy as np

from finishmatch.colour.grid import SIZE, Floats
from finishmatch.errors import InputError

LIGHTS = ("D65", "D50", "A", "F2", "F11", "LED-B3")
OBSERVERS = (2, 10)


@cache
def _table() -> dict[str, Floats]:
    """Read the weights file once: "light/observer" to weights, shape (31, 3)."""
    text = resources.files("finishmatch.colour").joinpath("data/weights_e308_10nm.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")]
    values = np.array(rows[1:], dtype=float)[:, 1:]
    names = rows[0][1::3]
    table = {name.rsplit("/", 1)[0]: values[:, 3 * i : 3 * i + 3].copy() for i, name in enumerate(names)}
    for weights in table.values():
        weights.setflags(write=False)
    return table


def light_name(light: str) -> str:
    """Return the CIE name of a light whatever its case, or raise `InputError` that lists the known ones."""
    for known in LIGHTS:
        if light.strip().upper() == known:
            return known
    raise InputError(f"light {light!r}", "not a light known here", "use one of " + ", ".join(LIGHTS))


def weights(light: str = "D65", observer: int = 10) -> Floats:
    """Return the tristimulus weights of a light and observer.

    Parameters
    ----------
    light : str
        CIE name: D65, D50, A, F2, F11 or LED-B3 (F2 and F11 are CIE FL2 and FL11).
    observer : int
        2 or 10 (degrees).

    Returns
    -------
    ndarray, shape (31, 3)
        Weights for X, Y, Z at 400 to 700 nm by 10 nm; each column sums to the white point (Y = 100).

    Raises
    ------
    InputError
        For an unknown light or observer.

    References
    ----------
    ASTM E308 (weights for readings cut at 400 and 700 nm); ASTM E2022; CIE 15:2018.
    """
    if observer not in OBSERVERS:
        raise InputError(f"observer {observer!r}", "not a CIE standard observer", "use 2 or 10")
    return _table()[f"{light_name(light)}/{observer}"]


def white_point(light: str = "D65", observer: int = 10) -> Floats:
    """Return XYZ of the perfect diffuser, shape (3,), Y = 100."""
    white: Floats = weights(light, observer).sum(axis=0)
    return white


def reflectance_to_xyz(reflectance: Floats, light: str = "D65", observer: int = 10) -> Floats:
    """Return tristimulus values of reflectance factors, Y = 100 for the perfect diffuser.

    Parameters
    ----------
    reflectance : array_like, shape (..., 31)
        Reflectance factor 0 to 1 at 400 to 700 nm by 10 nm.
    light, observer
        As in `weights`.

    Returns
    -------
    ndarray, shape (..., 3)

    Raises
    ------
    ValueError
        When the last axis isn't the house grid.
    """
    values = np.asarray(reflectance, dtype=float)
    if values.shape[-1:] != (SIZE,):
        raise ValueError(f"a spectrum has {SIZE} values on its last axis, not shape {values.shape}")
    xyz: Floats = values @ weights(light, observer)
    return xyz
