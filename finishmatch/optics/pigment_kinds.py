"""What tins of a kind of pigment are likely to be, by their absorption bands: K and S before a panel is read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.optics.priors import smooth_precision
from finishmatch.toml_reader import packaged_toml

WHITE = "white"
BLACKS = ("black", "iron or bone black")
LENGTH_NM = 150.0  # over which a tin is off from its kind alike: mostly its strength
# the same where cameras' looks show what the bands of a tin are («measured on rendered pictures» of real pigments,
# benchmarks/test_photographed_bank.py: stiffer, and what is stated of mixtures held 55 to 78 times in 100)
FINE_LENGTH_NM = 60.0
LIKE = "like "  # before the name of a kind: a tint without a name that looks like it, which is less sure
LIKE_SD = 1.5  # times as far from its kind as a tint of that name («common practice»)
FLOOR_SD = 1.2  # of the logarithm of what a pigment absorbs where it absorbs least («common practice»)
_MIDDLE_NM = 550.0
_NAME = re.compile(r"\b(P(?:Bk|Br|[WYRBGVO]))\s?(\d+)(?::\d+)?\b", re.IGNORECASE)


@dataclass(frozen=True)
class PigmentKind:
    """A kind of pigment, relative to the S of a white.

    Parameters
    ----------
    log_k : ndarray, shape (31,)
        Of the film of a tin.
    precision : ndarray, shape (31, 31)
        Of how far a tin's log K is off it, two diagonals on each side.
    log_s : float and its standard deviation
        The level of log S.
    s_shape : ndarray, shape (31,)
        Of log S about its level.
    """

    name: str
    log_k: Floats
    precision: Floats
    log_s: tuple[float, float]
    s_shape: Floats


@cache
def pigment_kinds(fine: bool = False) -> Mapping[str, PigmentKind]:
    """Return the kinds by name, and tints that look like them; `fine` where tins are off them from band to band."""
    falls, length_nm = float(_table()[WHITE]["falls"]), FINE_LENGTH_NM if fine else LENGTH_NM
    named = {name: _kind(name, row, falls, length_nm) for name, row in _table().items()}
    like = {
        f"{LIKE}{name}": replace(kind, name=f"{LIKE}{name}", precision=kind.precision / LIKE_SD**2)
        for name, kind in named.items()
    }
    return named | like


def kind_of(colour_index: str) -> str:
    """Return the kind of pigment of a Colour Index name such as PB15:3; "": of none that is known, or of several."""
    names = _names()
    found = {names.get(f"{letters}{number}".upper(), "") for letters, number in _NAME.findall(colour_index)}
    return found.pop() if len(found) == 1 else ""


@cache
def _table() -> Mapping[str, Any]:
    kinds: Mapping[str, Any] = packaged_toml("optics", "pigment_kinds.toml")["kind"]
    return kinds


@cache
def _names() -> Mapping[str, str]:
    return {name.upper(): kind for kind, row in _table().items() for name in row["names"]}


def _kind(name: str, row: Mapping[str, Any], falls_of_white: float, length_nm: float) -> PigmentKind:
    """Return a kind from its bands; where they differ by some nm, log K is as unsure as it is steep there."""
    ratio = np.log(WAVELENGTHS_NM / _MIDDLE_NM)
    floor = float(row["floor"]) * np.exp(-float(row.get("slope", 0)) * ratio)
    absorbed = floor.copy()
    for height, centre, width in row.get("bands", ()):
        absorbed += height * np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2)
    if "edge" in row:
        height, centre, width = row["edge"]
        absorbed += height / (1 + np.exp((WAVELENGTHS_NM - centre) / width))
    # reduced by what the white itself scatters less there
    log_k: Floats = np.log(absorbed) + falls_of_white * ratio
    steep = np.gradient(log_k, WAVELENGTHS_NM)
    of_floor = FLOOR_SD * floor / absorbed if "bands" in row or "edge" in row else np.zeros_like(floor)
    sd = np.sqrt(float(row["strong"]) ** 2 + (float(row["shift_nm"]) * steep) ** 2 + of_floor**2)
    level, level_sd = map(float, row["scatter"])
    shape = -(float(row["falls"]) - falls_of_white) * ratio
    return PigmentKind(name, log_k, smooth_precision(length_nm, 1.0) / np.outer(sd, sd), (level, level_sd), shape)
