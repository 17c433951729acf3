"""A target as a file: a readings file with what is known of it, so that mixing knows how near it must come."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.errors import InputError
from finishmatch.optics.camera_look import CameraSaw
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.look_form import saw_cell
from finishmatch.readings.reading import TargetFacts
from finishmatch.readings.table_file import Row

COVARIANCE = ("cov_LL", "cov_La", "cov_Lb", "cov_aa", "cov_ab", "cov_bb")
_NUMBERS = ("tolerance", "u95", "u95_own", *COVARIANCE)
PICTURE = "picture"
TARGET_COLUMNS = (*_NUMBERS, PICTURE)
MARK = "# a target weighed from evidence"  # begins the files written here, which may be written anew
LARGEST = 100.0  # ΔE00
LARGEST_COVARIANCE = 1e4


def target_facts(rows: Sequence[Row]) -> TargetFacts | None:
    """Return what the rows of one name say of it as a target, or None.

    Raises
    ------
    InputError
        A figure that can't be, rows that differ, half a covariance, a covariance that is none, a part of the u95 that
        is more than it or is shared with no picture.
    """
    known: dict[str, float] = {}
    for column in _NUMBERS:
        for row in rows:
            if not row.cells.get(column):
                continue
            if column in COVARIANCE:
                value = row.number(column, -LARGEST_COVARIANCE, LARGEST_COVARIANCE)
            else:
                value = row.number(column, high=LARGEST, above=0.0 if column == "tolerance" else -1e-12)
            if known.setdefault(column, value) != value:
                raise InputError(row.where(column), "the rows of one name differ", "write the same in each, or once")
    pictures = pictures_of(rows)
    if not known and not pictures:
        return None
    covariance = None
    if any(column in known for column in COVARIANCE):
        lacking = next((column for column in COVARIANCE if column not in known), None)
        if lacking is not None:
            raise InputError(rows[0].where(lacking), "is empty beside the rest of the covariance", "fill in all six")
        LL, La, Lb, aa, ab, bb = (known[column] for column in COVARIANCE)
        covariance = np.array([[LL, La, Lb], [La, aa, ab], [Lb, ab, bb]])
        if np.linalg.eigvalsh(covariance)[0] < -1e-6 * max(1.0, LL + aa + bb):
            raise InputError(rows[0].where("cov_LL"), "they are not a covariance", "write them as evidence weigh did")
    u95, own = known.get("u95"), known.get("u95_own")
    check_own(rows, u95, own, pictures)
    return TargetFacts(known.get("tolerance"), u95, covariance, own, pictures)


def pictures_of(rows: Sequence[Row]) -> tuple[str, ...]:
    """Return the photographs that the rows of one name were read from, each once; several in a cell stand between ;."""
    cells = (" ".join(part.split()) for row in rows for part in row.cells.get(PICTURE, "").split(";"))
    return tuple(dict.fromkeys(name for name in cells if name))


def check_own(rows: Sequence[Row], u95: float | None, own: float | None, pictures: Sequence[str]) -> None:
    """See that the part of a doubt that is a sample's own can be.

    Raises
    ------
    InputError
        It is more than the whole, or nothing is named that the rest is shared with.
    """
    if own is None:
        return
    where = rows[0].where("u95_own")
    if not pictures:
        raise InputError(where, "is given, but no picture is named", "name it, or leave this out")
    if u95 is None or own > u95:
        raise InputError(where, "is more than u95, of which it is a part", "write the whole in u95")


def target_text(
    name: str,
    lab: Floats,
    reflectance: Floats | None,
    facts: TargetFacts,
    viewing: tuple[str, int],
    comment: str,
    geometry: str = "",
    camera_saw: Sequence[CameraSaw] = (),
) -> str:
    """Return a target as the text of a readings file.

    Parameters
    ----------
    name : str
    lab : ndarray, shape (3,)
        Under the light and observer of `viewing`; written where there is no spectrum.
    reflectance : ndarray, shape (31,), or None
    facts : TargetFacts
    viewing : (light, observer)
    comment : str
        What it rests on, for the first lines.
    geometry : str
        How its samples were read, when all were read alike; else "".
    camera_saw : sequence of CameraSaw
        What cameras saw of its samples besides.
    """
    columns, cells = ["name"], [_cell(name)]
    if geometry:
        columns.append("geometry")
        cells.append(geometry)
    for column, value in (("tolerance", facts.tolerance), ("u95", facts.u95)):
        if value is not None:
            columns.append(column)
            cells.append(f"{value:.4f}".rstrip("0"))
    if facts.covariance is not None:
        columns += COVARIANCE
        cells += [f"{value:.6f}" for value in upper_triangle(facts.covariance)]
    if reflectance is not None:
        columns += [f"{nm:g}" for nm in WAVELENGTHS_NM]
        cells += [f"{value:.6f}" for value in reflectance]
    else:
        columns += ["L", "a", "b", "light", "observer"]
        cells += [*(f"{value:.4f}" for value in lab), viewing[0], str(viewing[1])]
        if camera_saw:
            columns.append("camera_saw")
            cells.append(_quoted(saw_cell(lab, camera_saw)))
    lines = [f"# {' '.join(line.split())}" for line in comment.splitlines()]
    return "\n".join([MARK, *lines, ",".join(columns), ",".join(cells)]) + "\n"


def upper_triangle(covariance: Floats) -> list[float]:
    """Return LL, La, Lb, aa, ab, bb of a covariance, to the six decimals it is written with."""
    return [round(float(covariance[i, j]), 6) for i, j in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))]


def _cell(text: str) -> str:
    """Return a text as one cell of a CSV line."""
    text = guarded(" ".join(text.split()))
    return _quoted(text) if any(letter in text for letter in ',"#') else text


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
