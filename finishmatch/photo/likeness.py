"""A photograph looked at for what knows a copy of it."""

from __future__ import annotations

import io
import math
import zlib
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from finishmatch.colour import Floats
from finishmatch.photo.open.picture import RAW, Picture
from finishmatch.readings.photograph_likeness import BLOCKS, LIGHT_STEP, NOT_FLAT, PARTS, STEP, Likeness

_EACH = 3  # of so many parts in a row one is kept
_ROWS, _COLUMNS = _EACH * PARTS[0], _EACH * PARTS[1]
_LEAST_PX = 2 * _ROWS
_FLATTEST, _AS_FLAT = 20, 1.6  # in 100 parts so many are flat, and so are those up to so many times as rough
_LUMA = np.array([0.299, 0.587, 0.114])  # ITU-R BT.601


def likeness_of(picture: Picture) -> Likeness | None:
    """Return by what a copy of a photograph is known; None of a raw file, which nobody copies so, and of a tiny one."""
    if picture.kind == RAW or min(picture.size) < _LEAST_PX:
        return None
    stands = picture.size[0] < picture.size[1]
    values = np.rot90(picture.values) if stands else picture.values
    parts = _means(values, _ROWS, _COLUMNS) @ (_LUMA * 255 / picture.full_scale)
    (high, wide), (rows, columns) = (_ROWS // BLOCKS[0], _COLUMNS // BLOCKS[1]), BLOCKS
    light = parts.reshape(rows, high, columns, wide).mean(axis=(1, 3))
    around = np.stack([parts[1 + y : _ROWS - 1 + y, 1 + x : _COLUMNS - 1 + x] for y in (-1, 0, 1) for x in (-1, 0, 1)])
    rough = around.std(axis=0)[::_EACH, ::_EACH]
    departs = ((9 * around[4] - around.sum(axis=0)) / 8)[::_EACH, ::_EACH]
    noise = np.clip(np.rint(departs / STEP), NOT_FLAT + 1, -NOT_FLAT - 1).astype(np.int8)
    noise[rough > _AS_FLAT * np.percentile(rough, _FLATTEST)] = NOT_FLAT
    return Likeness(_form(picture), stands, np.rint(light / LIGHT_STEP).astype(np.uint16), noise)


def _means(values: NDArray[Any], rows: int, columns: int) -> Floats:
    """Return the means of the parts of a picture, those of the pixels cut by a border too, shape (rows, columns, 3)."""
    down = np.stack([_rows(values, top, end) for top, end in pairwise(np.linspace(0, values.shape[0], rows + 1))])
    summed = np.concatenate([np.zeros((rows, 1, 3)), down.cumsum(axis=1)], axis=1)
    at = np.linspace(0, values.shape[1], columns + 1)
    first = np.minimum(at.astype(int), values.shape[1] - 1)
    before = summed[:, first] + (at - first)[:, None] * down[:, first]
    return np.asarray(np.diff(before, axis=1) / (at[1] * values.shape[0] / rows), dtype=np.float64)


def _rows(values: NDArray[Any], top: float, end: float) -> Floats:
    """Return the sum of the rows from a place to another, shape (columns, 3), of the first and last their part."""
    first, last = math.ceil(top - 1e-9), math.floor(end + 1e-9)
    whole: Floats = values[first:last].sum(axis=0, dtype=np.uint32).astype(np.float64)
    if first > top:
        whole = whole + (first - top) * values[first - 1]
    return whole + (end - last) * values[last] if end > last else whole


def _form(picture: Picture) -> str:
    """Return how large a picture is, whichever way it lies, and how its file is compressed."""
    tables = picture.kind.encode()
    if picture.file is not None:
        with Image.open(io.BytesIO(picture.file[0])) as image:
            tables = repr(sorted(getattr(image, "quantization", {}).items())).encode()
    return f"{max(picture.size)}x{min(picture.size)}-{zlib.crc32(tables):08x}"
