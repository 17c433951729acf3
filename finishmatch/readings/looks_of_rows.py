"""What cameras saw of a sample, as the rows of a table hold it beside its colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.errors import InputError
from finishmatch.optics.camera_look import CameraSaw
from finishmatch.readings.look_form import saw_in_cell
from finishmatch.readings.reading import Reading
from finishmatch.readings.table_file import Row

CAMERA_SAW = "camera_saw"


def camera_saw(reading: Reading, rows: Sequence[Row]) -> Reading:
    """Return a reading with what its rows say the camera saw; of one whose colour was changed since, a note.

    Raises
    ------
    InputError
        A cell isn't as it was written.
    """
    every, changed = list[CameraSaw](), False
    for row in rows:
        cell = row.cells.get(CAMERA_SAW)
        if not cell:
            continue
        found = saw_in_cell(cell, np.array([row.number(axis) for axis in "Lab"]))
        if found is None:
            mend = "empty the cell, or read the photograph again"
            raise InputError(row.where(CAMERA_SAW), "isn't as photo read wrote it", mend)
        changed = changed or not found
        every += found
    if changed:
        said = f"{reading.name}: its colour was changed since it was read; what the camera saw of it is left out"
        return replace(reading, warnings=(*reading.warnings, said))
    if not every or reading.is_spectral:
        return reading
    if len(rows) == 1:
        return replace(reading, camera_saw=tuple(every))
    looks = tuple(look for one in every for look in one.looks)  # of one sample, in several photographs
    return replace(reading, camera_saw=(CameraSaw(reading.repeats.mean(axis=0), looks),))
