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
    """What some nodes hold: numbers, shape (n,), and edges of boxes, shape (n, 3), rounded outwards."""

    keys: Numbers
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


def cells_of(node: bytes) -> Cells:
    """Return what a node holds.

    Raises
    ------
    ValueError
        It is shorter than it says.
    """
    cells = np.frombuffer(node, _CELL, int.from_bytes(node[2:_HEAD], "big"), _HEAD)
    edges = cells["edges"].astype(np.float64)
    return Cells(cells["key"].astype(np.int64), edges[..., 0], edges[..., 1])


def together(some: Sequence[Cells]) -> Cells:
    """Return what several nodes hold."""
    keys, low, high = zip(*some, strict=True)
    return Cells(np.concatenate(keys), np.concatenate(low), np.concatenate(high))


def boxes_below(nodes: Sequence[Cells], levels: Sequence[int]) -> Boxes:
    """Return the boxes of the nodes below some, which lie so many levels above the leaves; keys of number and level."""
    if not nodes:
        return Boxes(np.zeros((0, 2), np.int64), np.zeros((0, 3)), np.zeros((0, 3)))
    cells = together(nodes)
    below = np.repeat(np.array(levels) - 1, [len(node.keys) for node in nodes])
    return Boxes(np.column_stack([cells.keys, below]), cells.low, cells.high)
