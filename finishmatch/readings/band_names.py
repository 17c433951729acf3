"""What the columns of a spectrum are called, in an instrument's text or a spreadsheet: 400, 400nm, R400, SPEC_400, …"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError

# 400, 400nm, nm400, R400, R%400, SPECTRAL_NM400, SPECTRAL_400, SPECTRAL_PCT_400, SPEC_400 … («common practice»)
_BAND = re.compile(
    r"(?:SPECTRAL[_ ]?|SPEC[_ ]?)?(?:NM|REFLECTANCE|REFL|R|WL|LAMBDA|λ|DEC|PCT)?%?[_ ]?\(?(\d{1,4}(?:\.\d{1,6})?)[_ ]?"
    r"(?:NM)?\)?%?",
    re.IGNORECASE | re.ASCII,
)
_NUMBERED = re.compile(r"(\D*)(\d{1,4}(?:\.\d{1,6})?)(\D*)", re.ASCII)
LOWEST_NM, HIGHEST_NM = 200.0, 2600.0  # what instruments for paint write
LEAST_BANDS = 6  # fewer columns of one name and rising numbers may be anything
ROUNDED_TO_NM = 0.51  # names are rounded to whole nm where the bands lie between


@lru_cache(maxsize=4096)
def band_number(name: str) -> float | None:
    """Return the number in the name of a band, its wavelength in nm or its place in the row; None when it is no band.

    References
    ----------
    ISO 28178 (SPECTRAL_NM…); the others «common practice».
    """
    found = _BAND.fullmatch(name.strip())
    return float(found[1]) if found else None


def is_wavelength(nm: float) -> bool:
    """Whether a number can be a wavelength of an instrument, nm."""
    return LOWEST_NM <= nm <= HIGHEST_NM


def look_like_bands(names: Sequence[str]) -> list[str]:
    """Return the names that look like those of bands: one text, and numbers that rise as wavelengths do."""
    by_text: dict[tuple[str, str], list[tuple[str, float]]] = {}
    for name in names:
        if found := _NUMBERED.fullmatch(name):
            by_text.setdefault((found[1].upper(), found[3].upper()), []).append((name, float(found[2])))
    for many in by_text.values():
        numbers = np.array([number for _, number in many])
        if len(many) >= LEAST_BANDS and is_wavelength(numbers[0]) and (np.diff(numbers) > 0).all():
            return [name for name, _ in many]
    return []


def announced_bands(where: str, announced: tuple[float, float, float], numbers: Sequence[float]) -> Floats:
    """Return the wavelengths, nm, that a file announces by the count of its bands, the first and the last.

    Parameters
    ----------
    where : str
        For the message.
    announced : (count, first nm, last nm)
    numbers : sequence of float
        In the names of the columns: wavelengths, rounded perhaps, or 1, 2, 3, …

    Raises
    ------
    InputError
        Another count of columns than announced, or columns that name other wavelengths.
    """
    count, first, last = announced
    if count != len(numbers):
        raise InputError(
            where, f"{count:g} bands are announced and {len(numbers)} columns are there", "export it again"
        )
    nm = np.linspace(first, last, len(numbers))
    if is_wavelength(numbers[0]) and (off := np.abs(nm - numbers) > ROUNDED_TO_NM).any():
        i = int(np.argmax(off))
        what = f"the bands are announced as {first:g} to {last:g} nm, and column {i + 1} says {numbers[i]:g}"
        raise InputError(where, what, "export it again")
    return nm
