"""What a DNG asks to be multiplied into its values: how much light the lens lost on the way to each place."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

MOST_OPCODES, MOST_MAPS, MOST_POINTS = 64, 8, 1_000_000
KNOWN_OPCODES = range(1, 15)  # those of version 1.7
GAINS = 9
LEAST, MOST = 0.02, 64.0  # of a gain that makes sense
_HEAD = struct.Struct(">10I4dI")

Gains = NDArray[np.float32]


@dataclass(frozen=True)
class GainMap:
    """Gains on a lattice over the picture.

    Parameters
    ----------
    area : tuple of int
        Top, left, bottom, right in pixels of the sensor's area.
    plane, planes : int
        The first colour they are for, and how many.
    pitch : tuple of int
        Every how many rows and columns they are for.
    spacing, origin : tuple of float
        Of the lattice, down and across, in shares of the picture.
    points : ndarray, shape (down, across, planes)
    """

    area: tuple[int, int, int, int]
    plane: int
    planes: int
    pitch: tuple[int, int]
    spacing: tuple[float, float]
    origin: tuple[float, float]
    points: Gains

    def moved(self, off: tuple[int, int]) -> GainMap:
        """Return the same for a picture whose first rows and columns are left out, as many as `off` says."""
        top, left = (
            at - by if at >= by else (at - by) % pitch
            for at, by, pitch in zip(self.area[:2], off, self.pitch, strict=True)
        )
        return replace(self, area=(top, left, self.area[2] - off[0], self.area[3] - off[1]))

    def multiply(self, rows: Gains, first: int, size: tuple[int, int]) -> None:
        """Multiply the gains into some rows of a picture.

        Parameters
        ----------
        rows : ndarray, shape (n, width) or (n, width, 3)
            Changed in place.
        first : int
            The number of the first of them.
        size : tuple of int
            Height and width of the whole picture.
        """
        top, left, bottom, right = self.area
        down = np.arange(top, min(bottom, size[0]), self.pitch[0])
        down = down[(down >= first) & (down < first + len(rows))]
        across = np.arange(left, min(right, size[1]), self.pitch[1])
        if not len(down) or not len(across):
            return
        part = np.s_[down[0] - first : down[-1] - first + 1 : self.pitch[0], left : across[-1] + 1 : self.pitch[1]]
        gains = self._at((down + 0.5) / size[0], (across + 0.5) / size[1])
        if rows.ndim == 2:
            rows[part] *= gains[..., 0]
            return
        for colour in range(self.plane, min(self.plane + self.planes, 3)):
            rows[(*part, colour)] *= gains[..., min(colour - self.plane, gains.shape[2] - 1)]

    def _at(self, down: NDArray[np.float64], across: NDArray[np.float64]) -> Gains:
        """Return the gains at places, evenly from one point to the next; beyond the outermost they stay."""
        high, low_share = _steps(down, self.origin[0], self.spacing[0], self.points.shape[0])
        side, side_share = _steps(across, self.origin[1], self.spacing[1], self.points.shape[1])
        upper, lower = self.points[high], self.points[np.minimum(high + 1, len(self.points) - 1)]
        column = upper + (lower - upper) * low_share[:, None, None]
        after = column[:, np.minimum(side + 1, column.shape[1] - 1)]
        return np.asarray(column[:, side] + (after - column[:, side]) * side_share[None, :, None], np.float32)


def _steps(at: NDArray[np.float64], origin: float, spacing: float, many: int) -> tuple[NDArray[np.intp], Gains]:
    place = np.clip((at - origin) / spacing if many > 1 else np.zeros_like(at), 0, many - 1)
    low = np.minimum(place.astype(np.intp), max(many - 2, 0))
    return low, (place - low).astype(np.float32)


def opcodes(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield the number and the body of each thing a DNG asks to be done to its values.

    Raises
    ------
    ValueError, struct.error
        They are damaged.

    References
    ----------
    Digital Negative (DNG) specification 1.4, chapter 7 (from memory).
    """
    (count,) = struct.unpack_from(">I", data)
    if count > MOST_OPCODES:
        raise ValueError("too many opcodes")
    at = 4
    for _ in range(count):
        number, _, _, size = struct.unpack_from(">IIII", data, at)
        if at + 16 + size > len(data):
            raise ValueError("an opcode is cut short")
        yield number, data[at + 16 : at + 16 + size]
        at += 16 + size


def gain_maps(data: bytes) -> list[GainMap]:
    """Return the gains among what a DNG asks to be done.

    Raises
    ------
    ValueError, struct.error
        They are damaged, or make no sense.
    """
    found = [_gain_map(body) for number, body in opcodes(data) if number == GAINS]
    if len(found) > MOST_MAPS:
        raise ValueError("too many gains")
    return found


def _gain_map(body: bytes) -> GainMap:
    (top, left, bottom, right, plane, planes, by_row, by_column, down, across, *floats, deep) = _HEAD.unpack_from(body)
    many = down * across * deep
    if not 0 < many <= MOST_POINTS or not 0 < deep <= 4 or min(by_row, by_column) < 1 or plane + planes > 4:
        raise ValueError("gains that make no sense")
    points = np.frombuffer(body, ">f4", many, _HEAD.size).reshape(down, across, deep).astype(np.float32)
    spacing, origin = (floats[0], floats[1]), (floats[2], floats[3])
    sound = np.isfinite(floats).all() and (down == 1 or spacing[0] > 1e-6) and (across == 1 or spacing[1] > 1e-6)
    if not sound or not ((points >= LEAST) & (points <= MOST)).all():
        raise ValueError("gains that make no sense")
    area = (top, left, min(bottom, 1 << 20), min(right, 1 << 20))
    return GainMap(area, plane, planes, (by_row, by_column), spacing, origin, points)
