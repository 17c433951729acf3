"""The columns of a table by the names asked for, whatever their case, signs and units: L*, Name, gram, 400nm."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.near_names import plain_key
from finishmatch.readings.band_names import LEAST_BANDS, band_number, is_wavelength

# other names of a column, as they are compared; a name without its unit is none of them («common practice»)
_OTHERS = {
    "grams": ("gram", "g", "gramm", "gramme", "grammes", "weightg", "weightgrams", "weightingrams"),
    "name": ("sample", "samplename", "sampleid", "id"),
    "tint": ("tints", "tinter", "toner", "colorant", "colourant"),
    "panel": ("panels", "panelname"),
    "L": ("lstar", "ciel", "labl", "cielabl"),
    "a": ("astar", "ciea", "laba", "cielaba"),
    "b": ("bstar", "cieb", "labb", "cielabb"),
    "light": ("illuminant", "lightsource"),
    "observer": ("observerdeg", "observerdegrees"),
    "build_um": ("buildµm", "buildμm", "thicknessum", "thicknessµm", "thicknessμm", "dftum", "dftµm", "dftμm"),
    "density_kg_l": ("densitykgl", "densitygml", "densitygcm3"),
    "gloss": ("gloss60", "glossgu", "gu", "gu60"),
}
_CORNERS = ("", "nm", "wavelength", "wavelengthnm", "wavelengths", "lambda", "λ", "λnm", "wl")


def house_names(header: Sequence[str], known: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """Return the columns of a header by the names that are known, and what was taken for which.

    Parameters
    ----------
    header : sequence of str
    known : sequence of str
        The names that are asked for; what is none of them, and no other writing of one, stays as it is.

    Returns
    -------
    names : list of str
    taken : dict of str to str
        What stood there, and the name it was taken for, where they differ.
    """
    names = list(header)
    free = [name for name in known if name not in header]
    for i, column in enumerate(header):
        if column in known:
            continue
        key = plain_key(column)
        meant = [name for name in free if key and (key == plain_key(name) or key in _OTHERS.get(name, ()))]
        if len(meant) == 1:
            names[i] = meant[0]
            free.remove(meant[0])
    bands = {i: number for i, column in enumerate(names) if (number := band_number(column)) and is_wavelength(number)}
    if len(bands) >= LEAST_BANDS:
        for i, number in bands.items():
            if not names[i].replace(".", "", 1).isdigit():
                names[i] = f"{number:g}"
    return names, {was: now for was, now in zip(header, names, strict=True) if was != now}


def lies_on_its_side(cells: Sequence[Sequence[str]], required: Sequence[str], known: Sequence[str]) -> bool:
    """Whether a table has its columns as rows: what is asked for stands in its first column, not in its first row.

    Parameters
    ----------
    cells : sequence of rows
        All of one length, the header first.
    required, known : sequence of str
        Columns that must be there, and all that may be.
    """
    across, down = list(cells[0]), [row[0] for row in cells]
    down[0] = corner_named(down[0], required)
    across_names, down_names = (house_names(names, known)[0] for names in (across, down))
    if len(across) < 2 or not set(required) <= set(down_names):
        return False
    return _asked_for(down_names, known) > _asked_for(across_names, known)


def _asked_for(names: Sequence[str], known: Sequence[str]) -> int:
    """Return how many names are asked for, bands among them where there are enough."""
    bands = [name for name in names if (number := band_number(name)) is not None and is_wavelength(number)]
    return len(set(names) & set(known)) + (len(bands) if len(bands) >= LEAST_BANDS else 0)


def corner_named(corner: str, required: Sequence[str]) -> str:
    """Return what the corner of a table on its side is called: the first column that must be there, or as it stands."""
    return required[0] if plain_key(corner) in _CORNERS and required else corner
