"""The colour of a JPEG's blocks more finely than whole numbers: a decoder rounds colour twice, alike all over a sample.

A sample that is even has the same chroma in all of its blocks. A decoder rounds it to a whole number, and once more
what red, green and blue have of it: by up to a step each, which no mean over pixels takes out again. Decoded by tables
three times as coarse as those it was written with, chroma comes out three times as far from grey, and so three times as
fine; of blocks alone, which takes a part of the time.

References
----------
ITU-T T.81 (1992), B.2.4.1 (tables), A.3.3 (the mean of a block); ITU-T T.871 (2011), 7 (red, green and blue).
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from finishmatch.colour import Floats

BLOCK = 8  # pixels a side
TIMES = 3  # odd, so that halves, where the decoder's rounding turns, aren't rounded themselves
# what red, green and blue have of blue-yellow and red-green chroma, ITU-T T.871
OF_CHROMA = np.array([[0.0, 1.402], [-0.344136, -0.714136], [1.772, 0.0]])
_LIGHT = np.array([0.299, 0.587, 0.114])
_FROM_LIGHT = np.array([1.772, 1.402])  # blue and red less lightness, over their chroma
GREY = 128
# chosen on rendered pictures, these three and the 0.3 of `_left_open`
_INSIDE = 0.8  # of a block's pixels lie in the sample, where the block has a say
_ALIKE = 1.5  # steps by which its pixels are off its chroma at most
_ENOUGH = 0.3  # of a sample's pixels lie in such blocks, or nothing is made of them
_ENDS = (1, 254)  # beyond them it is cut off
_TABLES, _SCAN, _END = 0xDB, 0xDA, b"\xff\xd9"
_MOST = 255  # in a table of 8 bits


@dataclass(frozen=True)
class FinerChroma:
    """The chroma of a JPEG's blocks.

    Parameters
    ----------
    blocks : ndarray of uint8, shape (rows, columns, 2)
        As decoded by coarser tables, in the file's own rows.
    orientation : int
        EXIF's, 1 to 8.
    size : tuple of (int, int)
        Width and height of the picture as it is seen upright, pixels.
    step : float
        In which the file itself keeps the chroma of a block.
    """

    blocks: NDArray[np.uint8]
    orientation: int
    size: tuple[int, int]
    step: float

    def blocks_of(self, x: NDArray[np.int64], y: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
        """Return in which of some blocks each pixel lies, shape (n,), and what those hold, shape (m, 2)."""
        column, row = self._in_file(x, y)
        place = (row // BLOCK) * self.blocks.shape[1] + column // BLOCK
        first = int(place.min())
        place -= first
        some = np.flatnonzero(np.bincount(place))
        order = np.zeros(int(some[-1]) + 1, np.int64)
        order[some] = np.arange(len(some))
        return order[place], self.blocks.reshape(-1, 2)[some + first]

    def _in_file(self, x: NDArray[np.int64], y: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return where pixels of the upright picture lie in the file's rows (CIPA DC-008)."""
        width, height = self.size
        right, below = width - 1 - x, height - 1 - y
        return {
            2: (right, y), 3: (right, below), 4: (x, below), 5: (y, x), 6: (y, right), 7: (below, right), 8: (below, x)
        }.get(self.orientation, (x, y))  # fmt: skip


def finer_chroma(data: bytes, size: tuple[int, int], orientation: int) -> FinerChroma | None:
    """Return the chroma of a JPEG's blocks, or None where its form has none that can be had so.

    Parameters
    ----------
    data : bytes
        That can be decoded.
    size : tuple of (int, int)
        Of the upright picture.
    orientation : int
    """
    coarser = _by_coarser_tables(data)
    if coarser is None:
        return None
    written, first = coarser
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what is odd in the file was told when it was opened
        try:
            with Image.open(io.BytesIO(written), formats=["JPEG"]) as image:
                if image.mode != "RGB" or image.info.get("adobe_transform", 1) == 0:
                    return None
                image.draft("YCbCr", (max(image.size[0] // BLOCK, 1), max(image.size[1] // BLOCK, 1)))
                blocks = np.asarray(image)[..., 1:]
                mode = image.mode
        except Exception:  # a decoder raises anything
            return None
    wide, high = size if orientation < 5 else size[::-1]
    if mode != "YCbCr" or blocks.shape[:2] != (-(-high // BLOCK), -(-wide // BLOCK)):
        return None
    return FinerChroma(blocks, orientation, size, first / BLOCK)


def _by_coarser_tables(data: bytes) -> tuple[bytes, int] | None:
    """Return a JPEG whose tables are coarser, and the first entry of the last of them, that of chroma."""
    written, at, first = bytearray(data[:2]), 2, 0
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker, length = data[at + 1], max(int.from_bytes(data[at + 2 : at + 4], "big"), 2)
        segment = bytearray(data[at : at + 2 + length])
        if marker == _TABLES:
            if len(segment) != 2 + length or not (found := _coarser(segment)):
                return None
            first = found
        written += segment
        at += 2 + length
        if marker == _SCAN:
            end = data.find(_END, at)
            later = data.find(bytes([0xFF, _TABLES]), at, end if end >= 0 else len(data))
            return None if later >= 0 or not first else (bytes(written) + data[at:], first)
    return None


def _coarser(segment: bytearray) -> int:
    """Make the tables of a segment coarser; return the first entry of the last, 0 where they can't be."""
    at, first = 4, 0
    while at < len(segment):
        if segment[at] >> 4 or at + 65 > len(segment) or segment[at + 1] * TIMES > _MOST:
            return 0
        first = segment[at + 1]
        segment[at + 1 : at + 65] = bytes(min(entry * TIMES, _MOST) for entry in segment[at + 1 : at + 65])
        at += 65
    return first


@dataclass(frozen=True)
class ChromaRounding:
    """What the decoder's rounding did to the mean of some pixels.

    Parameters
    ----------
    shift : ndarray, shape (3,)
        What their mean red, green and blue are to be changed by, in file values.
    covariance : ndarray, shape (3, 3)
        Of what is still open of the mean.
    """

    shift: Floats
    covariance: Floats


def chroma_rounding(
    chroma: FinerChroma,
    x: NDArray[np.int64],
    y: NDArray[np.int64],
    channels: NDArray[np.uint8] | NDArray[np.uint16],
    apart: int,
) -> ChromaRounding:
    """Return what rounding did to the mean of the pixels of an even sample.

    Parameters
    ----------
    chroma : FinerChroma
    x, y : ndarray of int, shape (n,)
        Where they lie in the upright picture.
    channels : ndarray, shape (3, n)
        Their red, green and blue.
    apart : int
        By how many pixels they lie apart.

    Notes
    -----
    Lightness is that of the pixels, which noise makes finer than whole numbers; red, green and blue have the chroma of
    their blocks. Blocks that lie only partly in the sample, or have another chroma than its pixels in them, hold
    something else too, and have no say.
    """
    which, held = chroma.blocks_of(x, y)
    fine = (held.astype(float) - GREY) / TIMES
    counts = np.bincount(which)
    means = np.stack([np.bincount(which, channel) for channel in channels], axis=1) / counts[:, None]
    decoded = (means[:, [2, 0]] - (means @ _LIGHT)[:, None]) / _FROM_LIGHT
    taken = (counts >= _INSIDE * (BLOCK / apart) ** 2) & (np.abs(decoded - fine) <= _ALIKE).all(axis=1)
    taken &= ((held >= _ENDS[0]) & (held <= _ENDS[1])).all(axis=1)
    if not taken.any() or counts[taken].sum() <= _ENOUGH * counts.sum():
        left = OF_CHROMA * (_left_open(1.0, decoded.std(axis=0)) / np.sqrt(12))
        return ChromaRounding(np.zeros(3), left @ left.T)
    left = OF_CHROMA * (_left_open(float(np.hypot(1 / TIMES, chroma.step)), fine[taken].std(axis=0)) / np.sqrt(12))
    weights = counts[taken] / counts[taken].sum()
    meant = weights @ fine[taken] @ OF_CHROMA.T
    # in an even block red, green and blue are lightness, a whole number, and the rounded share of its rounded chroma
    shares = np.rint(OF_CHROMA @ np.rint(fine).T).astype(np.int32)
    over = [channel - share[which] for channel, share in zip(channels, shares, strict=True)]
    even = (over[0] == over[1]) & (over[1] == over[2]) & taken[which]
    evenly, lightness = np.bincount(which, even), np.bincount(which, over[0] * even)
    lightness += (counts - evenly) * (means @ _LIGHT)
    return ChromaRounding(lightness[taken].sum() / counts[taken].sum() + meant - weights @ means[taken], left @ left.T)


def _left_open(step: float, spread: Floats) -> Floats:
    """Return what of rounding to steps is left in the mean of values that spread so, shape (2,): it averages out."""
    return np.asarray(step / (1 + (spread / (0.3 * step)) ** 2))
