"""The nodes of an R*Tree as SQLite keeps them, so that the nearest can be sought: its own queries know boxes only.

A node is a blob: its first two bytes are the depth of the tree (in the root, node 1), the next two the number of its
cells; a cell is the number of a row or of a node, eight bytes, and the edges of its box, each 32 bits, big-endian.
References: the source of SQLite's rtree extension, whose files have kept this form since version 3.5.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from finishmatch.colour import Floats
from finishmatch.ledger.boxes_searched import Boxes
from finishmatch.ledger.colour_trees import Numbers

ROOT = 1
_HEAD = 4  # bytes
_CELL = np.dtype([("key", ">i8"), ("edges", ">f4", (3, 2))])
_DEEPEST = 40


class Cells(NamedTuple):
    """What some nodes hold: numbers and in which of them each is, shape (n,), and edges of boxes, shape (n, 3).

    Edges are rounded outwards.
    """

    keys: Numbers
    inside: Numbers
    low: Floats
    high: Floats


def depth_of(root: bytes) -> int:
    """Return how many levels lie below the root.

    Raises
    ------
    ValueError
        It is none.
    """
    depth = int.from_bytes(root[:2], "big")
    if len(root) < _HEAD or depth > _DEEPEST:
        raise ValueError("no root of an R*Tree")
    return depth


def cells_of(nodes: Sequence[bytes]) -> Cells:
    """Return what nodes hold, one after the other.

    Raises
    ------
    ValueError
        One is shorter than it says, or than the others.
    """
    size = max(map(len, nodes), default=0)
    room = max(size - _HEAD, 0) // _CELL.itemsize
    if any(len(node) != size for node in nodes) or size < _HEAD:
        raise ValueError("a node of an R*Tree is cut short")
    every = np.frombuffer(b"".join(nodes), np.uint8).reshape(len(nodes), size)
    counts = np.ascontiguousarray(every[:, 2:_HEAD]).view(">u2").astype(np.int64)
    if (counts > room).any():
        raise ValueError("a node of an R*Tree holds fewer cells than it says")
    places = np.ascontiguousarray(every[:, _HEAD : _HEAD + room * _CELL.itemsize]).view(_CELL)
    inside, place = np.nonzero(np.arange(room) < counts)
    cells = places[inside, place]
    edges = cells["edges"].astype(np.float64)
    return Cells(cells["key"].astype(np.int64), inside, edges[..., 0], edges[..., 1])


def boxes_below(nodes: Sequence[bytes], levels: Numbers) -> Boxes:
    """Return the boxes of the nodes below some, which lie so many levels above the leaves; keys of number and level."""
    if not nodes:
        return Boxes(np.zeros((0, 2), np.int64), np.zeros((0, 3)), np.zeros((0, 3)))
    cells = cells_of(nodes)
    return Boxes(np.column_stack([cells.keys, levels[cells.inside] - 1]), cells.low, cells.high)
