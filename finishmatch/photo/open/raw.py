"""A camera's raw file: the sensor's own values, linear, unpacked in a process of its own and developed with nothing on.

A file is hostile until it is read: the library that unpacks it runs apart, with bounds on its memory and time.
"""

from __future__ import annotations

import json
import math
import os
import struct
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from finishmatch.errors import InputError
from finishmatch.photo.open import unpack_raw
from finishmatch.photo.open.demosaic import Values, from_colours, from_mosaic
from finishmatch.photo.open.dng_tags import (
    ACTIVE_AREA,
    BLACK,
    BLACK_BY_COLUMN,
    BLACK_BY_ROW,
    COMPRESSION,
    CROP_ORIGIN,
    CROP_SIZE,
    GAINS_OF_COLOURS,
    GAINS_OF_MOSAIC,
    HEIGHT,
    ORIENTATION,
    WIDTH,
    Dng,
    is_dng,
    read_dng,
)
from finishmatch.photo.open.form import check_form
from finishmatch.photo.open.gain_map import GainMap, gain_maps

LONGEST_S = 60.0  # by the clock, on a busy machine; of the processor's time it has less
UNPACKED = (1, 7)  # compressions that are read: none, lossless JPEG
OTHERWISE = {52546: "as JPEG XL, which isn't read", 34892: "with loss, so its values aren't the sensor's own any more"}
# EXIF's orientations, by how a raw file is to be turned: its bits mirror left to right, top to bottom, transpose
ORIENTATIONS = {0: 1, 1: 2, 3: 3, 2: 4, 4: 5, 6: 6, 7: 7, 5: 8}
NO_RAW_FILE = "Input/output error"  # what the library says of a file that is none, which would lead astray
WIDEST_BALANCE = 20.0  # of one colour over another


@dataclass(frozen=True)
class RawValues:
    """What a raw file holds.

    Parameters
    ----------
    values : ndarray of uint16, shape (height, width, 3)
        Linear; 65535 is where the sensor could count no more.
    orientation : int
        1 to 8, as EXIF has it: they aren't turned yet.
    balance : tuple of float
        By what red, green and blue are multiplied so that white looks white: only to look at.
    """

    values: Values
    orientation: int
    balance: tuple[float, float, float]


def raw_values(path: Path, data: bytes, kinds: str) -> RawValues:
    """Return the linear values of a camera's raw file.

    Parameters
    ----------
    path : Path
    data : bytes
        What it holds.
    kinds : str
        What else can be given, for the message.

    Raises
    ------
    InputError
        It is no raw file, damaged, packed in a way that isn't read, or too large.
    """
    dng = _checked(path, data, kinds) if is_dng(data) else None
    told, found = _unpacked(path, kinds)
    check_form(path, *told["pixels"])
    try:
        return _developed(told, found, dng)
    except (ValueError, KeyError, TypeError, struct.error, OverflowError) as error:
        raise _damaged(path, error) from None


def _checked(path: Path, data: bytes, kinds: str) -> Dng:
    """See from the tags alone that a DNG is whole and can be unpacked."""
    try:
        dng = read_dng(data)
        pieces = dng.sensor.pieces()
        packed = dng.sensor.whole(COMPRESSION, 1)
    except (ValueError, KeyError, struct.error) as error:
        raise _damaged(path, error) from None
    if packed in OTHERWISE:
        mend = "set the camera's raw files to JPEG lossless or to uncompressed"
        raise InputError(str(path), f"is a raw file packed {OTHERWISE[packed]}", mend)
    if packed not in UNPACKED:
        raise InputError(str(path), f"is a raw file packed in a way that isn't read ({packed})", f"give {kinds}")
    if not pieces or any(end > len(data) for _, end in pieces):
        raise InputError(str(path), "is damaged or cut short: some of the sensor's values are missing", "copy it again")
    return dng


def _damaged(path: Path, error: Exception) -> InputError:
    why = _reason(error) if type(error) is ValueError else "its tags make no sense"
    return InputError(str(path), f"is a raw file that is damaged ({why})", "copy it again from the camera")


def _reason(error: object) -> str:
    return " ".join(str(error).split())[:80] or type(error).__name__


def _unpacked(path: Path, kinds: str) -> tuple[dict[str, Any], NDArray[Any]]:
    """Return what the unpacking program tells of a file, and the values it gave."""
    own = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    with tempfile.TemporaryFile() as out:
        try:
            ended = subprocess.run(
                [sys.executable, "-P", unpack_raw.__file__, str(path.absolute())],
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.DEVNULL,
                timeout=LONGEST_S,
                env={**os.environ, **own},
                check=False,
            ).returncode
        except (subprocess.TimeoutExpired, OSError):  # it hangs, or the system lets no process begin
            ended = 1
        out.seek(0)
        told = _first_line(out)
        if "why" in told:
            why = _reason(told["why"])
            of_what = "" if why == NO_RAW_FILE else f" ({why})"
            raise InputError(str(path), f"is not camera raw that can be read{of_what}", f"give {kinds}")
        if "too_many" in told:
            wide, high = told["too_many"]
            most = unpack_raw.MOST_PIXELS // 1_000_000
            raise InputError(str(path), f"has {wide} × {high} pixels", f"take it with up to {most} megapixels")
        values = np.fromfile(out, np.uint16) if told else np.empty(0, np.uint16)
    shape = told.get("shape", [0])
    if ended or not told or values.size != math.prod(shape):
        raise InputError(str(path), "is not camera raw that can be read: unpacking it fails", f"give {kinds}")
    return told, values.reshape(shape)


def _first_line(out: IO[bytes]) -> dict[str, Any]:
    try:
        told = json.loads(out.readline(10_000))
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}


def _developed(told: dict[str, Any], raw: NDArray[Any], dng: Dng | None) -> RawValues:
    gains = [] if dng is None else _gains(dng, told)
    if dng is not None and not _same_size(dng, told["pixels"]):
        raise ValueError("what was unpacked isn't what its tags tell of")
    if told["kind"] == unpack_raw.MOSAIC:
        black = told["black"] if dng is None else _black(dng, told)
        values = from_mosaic(raw, told["pattern"], black, told["white"], gains)
    elif told["kind"] == unpack_raw.COLOURS:
        values = from_colours(raw, told["black"], told["white"], gains)
    else:
        values = np.asarray(raw, np.uint16)
    orientation = ORIENTATIONS.get(told["flip"], 1)
    if dng is not None:
        values = _cropped(values, dng, _off(dng, told))
        orientation = dng.first.whole(ORIENTATION, 1)
    return RawValues(values, orientation, _balance(told["balance"]))


def _same_size(dng: Dng, pixels: list[int]) -> bool:
    """Whether no preview was unpacked: the sensor's table is as large, or a little larger by its covered rim."""
    wide, high = dng.sensor.whole(WIDTH, 0), dng.sensor.whole(HEIGHT, 0)
    return 0.8 * wide <= pixels[0] <= wide and 0.8 * high <= pixels[1] <= high


def _gains(dng: Dng, told: dict[str, Any]) -> list[GainMap]:
    """Return the gains of the lens: a mosaic's come before its colours are worked out, others after."""
    codes = (GAINS_OF_MOSAIC,) if told["kind"] == unpack_raw.MOSAIC else (GAINS_OF_MOSAIC, GAINS_OF_COLOURS)
    found = [one for code in codes if code in dng.sensor.tags for one in gain_maps(dng.sensor.tags[code].data)]
    return [one.moved(_off(dng, told)) for one in found]


def _off(dng: Dng, told: dict[str, Any]) -> tuple[int, int]:
    """Return how many rows and columns of a DNG's area unpacking left out, which may begin at an even place alone."""
    top, left = (*dng.sensor.numbers(ACTIVE_AREA), 0.0, 0.0)[:2]
    return told["margins"][0] - int(top), told["margins"][1] - int(left)


def _black(dng: Dng, told: dict[str, Any]) -> list[list[float]]:
    """Return the blacks at the first two by two places: as the tags have them, to a part of a count, where they can."""
    blacks = dng.sensor.numbers(BLACK)
    if len(blacks) not in (1, 4) or BLACK_BY_ROW in dng.sensor.tags or BLACK_BY_COLUMN in dng.sensor.tags:
        return [[float(one) for one in row] for row in told["black"]]
    down, across = _off(dng, told)
    each = [2 * ((row + down) % 2) + (column + across) % 2 for row in (0, 1) for column in (0, 1)]
    found = [float(blacks[one % len(blacks)]) for one in each]
    return [found[:2], found[2:]]


def _cropped(values: Values, dng: Dng, off: tuple[int, int]) -> Values:
    """Return what of the values is the picture, where a DNG says so; the rim serves the neighbours of its edge."""
    left, top, wide, high = (
        round(one) for code in (CROP_ORIGIN, CROP_SIZE) for one in (*dng.sensor.numbers(code), 0.0, 0.0)[:2]
    )
    left, top = left - off[1], top - off[0]
    inside = left >= 0 and top >= 0 and left + wide <= values.shape[1] and top + high <= values.shape[0]
    if not inside or wide < 0.5 * values.shape[1] or high < 0.5 * values.shape[0]:
        return values
    return values[top : top + high, left : left + wide]


def _balance(told: list[float]) -> tuple[float, float, float]:
    red, green, blue = told
    sound = all(math.isfinite(one) and one > 0 for one in told) and max(told) <= WIDEST_BALANCE * min(told)
    return (red / green, 1.0, blue / green) if sound else (1.0, 1.0, 1.0)
