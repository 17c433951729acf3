"""The nodes of an R*Tree are read as SQLite wrote them: every row is below the root, in a box that holds it."""

from __future__ import annotations

import sqlite3

import numpy as np
import pytest

from finishmatch.ledger.tree_nodes import ROOT, boxes_below, cells_of, depth_of


def _tree(points: np.ndarray) -> sqlite3.Connection:
    database = sqlite3.connect(":memory:")
    database.execute("CREATE VIRTUAL TABLE tree USING rtree (number, l0, l1, a0, a1, b0, b1, +what)")
    rows = ((k, *np.repeat(point, 2).tolist(), "x") for k, point in enumerate(points))
    database.executemany("INSERT INTO tree VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
    return database


def _node(database: sqlite3.Connection, number: int) -> bytes:
    return bytes(database.execute("SELECT data FROM tree_node WHERE nodeno = ?", (number,)).fetchone()[0])


@pytest.mark.parametrize(("count", "depth"), [(0, 0), (5, 0), (300, 1), (4000, 2)])
def test_all_that_was_put_into_a_tree_is_reached_from_its_root(count: int, depth: int) -> None:
    r = np.random.default_rng(count)
    points = r.normal(0, 40, (count, 3))
    database = _tree(points)
    database.executemany("DELETE FROM tree WHERE number = ?", [(k,) for k in range(0, count, 7)])
    assert depth_of(_node(database, ROOT)) == depth
    keys, outer = np.array([[ROOT, depth]]), (np.full((1, 3), -1e9), np.full((1, 3), 1e9))
    for _ in range(depth):
        nodes = [_node(database, number) for number in keys[:, 0].tolist()]
        below, inside = boxes_below(nodes, keys[:, 1]), cells_of(nodes).inside
        assert (below.low >= outer[0][inside]).all()
        assert (below.high <= outer[1][inside]).all()
        keys, outer = below.keys, (below.low, below.high)
    assert (keys[:, 1] == 0).all()
    found = dict[int, tuple[np.ndarray, np.ndarray]]()
    for number in keys[:, 0].tolist():
        cells = cells_of([_node(database, number)])
        found |= dict(zip(cells.keys.tolist(), zip(cells.low, cells.high, strict=True), strict=True))
    assert sorted(found) == [k for k in range(count) if k % 7]
    for k, (low, high) in found.items():
        assert (low <= points[k]).all()
        assert (high >= points[k]).all()
        assert high - low == pytest.approx(0, abs=1e-4)
    database.close()


@pytest.mark.parametrize("damage", [b"", b"\xff\xff\0\0", b"\0"])
def test_what_is_no_root_is_seen(damage: bytes) -> None:
    with pytest.raises(ValueError, match="no root"):
        depth_of(damage)


@pytest.mark.parametrize(
    ("nodes", "what"),
    [
        ([b"\0\0\0\x03" + bytes(40)], "fewer cells"),
        ([bytes(52), bytes(28)], "cut short"),
        ([b"\0"], "cut short"),
        ([], "cut short"),
    ],
    ids=["too few cells", "two lengths", "no head", "none"],
)
def test_a_node_that_is_cut_short_is_seen(nodes: list[bytes], what: str) -> None:
    with pytest.raises(ValueError, match=what):
        cells_of(nodes)
