"""The colours of a table on a server, once more by cells of CIELAB: those of a cell in one row, for one reading.

Cells lie in groups, and what cells a group has stands in its row: boxes inside boxes, as the nodes of a tree are. The
edges of a box are those of its colours, not of its place: a colour that is looked for in vain is so by few boxes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.ledger.boxes_searched import Boxes, Colours, Keys
from finishmatch.ledger.colour_trees import Numbers
from finishmatch.ledger.index_of_colours import Rows

CELLS, GROUPS = 0, 1  # levels of boxes
_CELL, _LAST_CELL = 2.0, 500  # of CIELAB, and from which cell on all lie in one
_GROUP = 4  # cells along each axis
_FAR = 1e6  # beyond any colour
_EDGES = ("l0", "a0", "b0", "l1", "a1", "b1")
# a colour and a box as they are sent, one after the other
_COLOUR = np.dtype([("number", ">i8"), ("job_id", ">i8"), ("lab", ">f8", (3,))])
_BOX = np.dtype([("place", ">i4", (3,)), ("edges", ">f8", (2, 3))])
_SENT_BOX = " || ".join([f"int4send({axis})" for axis in "lab"] + [f"float8send({edge})" for edge in _EDGES])
SENT_COLOUR = "int8send(number) || int8send(job_id) || float8send(l) || float8send(a) || float8send(b)"
# what is asked for: places, and cells with their own edges
_PLACES = "unnest(?::int[], ?::int[], ?::int[]) AS place(cl, ca, cb)"
_IS_PLACE = "level = ? AND l = cl AND a = ca AND b = cb"
_IN_GROUP = " AND ".join(f"{axis} BETWEEN {_GROUP} * c{axis} AND {_GROUP} * c{axis} + {_GROUP - 1}" for axis in "lab")
_CELLS_ASKED = f"unnest(?::int[], ?::int[], ?::int[]{', ?::float8[]' * 6}) AS place(cl, ca, cb, {', '.join(_EDGES)})"
_IN_CELL = "point <@ cube(ARRAY[l0, a0, b0], ARRAY[l1, a1, b1])"


class PackedCells:
    """The boxes of a table that has the columns number, job_id, l, a, b and point.

    Parameters
    ----------
    ask : callable
        Runs a query, and returns its rows; a `?` stands for each value.
    table : str
    """

    def __init__(self, ask: Callable[[str, Sequence[Any]], Rows], table: str) -> None:
        self._ask = ask
        self._table, self._boxes = f'"{table}"', f'"{table}_box"'

    def make(self) -> None:
        """Make the table of the boxes."""
        edges = ", ".join(f"{edge} float8" for edge in _EDGES)
        place = "level int, l int, a int, b int, PRIMARY KEY (level, l, a, b)"
        self._ask(f"CREATE UNLOGGED TABLE {self._boxes} ({edges}, packed bytea, {place})", ())

    def gather_all(self) -> None:
        """Put all colours of the table into boxes; there were none."""
        own = ", ".join(f"{_cell_of(axis)} AS c{axis}" for axis in "lab")
        self._put_cells(f"SELECT *, {own} FROM {self._table}", ())
        cells = self._ask(f"SELECT l, a, b FROM {self._boxes}", ())
        self._put_groups(np.array(cells, np.int64).reshape(-1, 3))

    def gather(self, cells: Numbers) -> None:
        """Put the colours of cells, shape (n, 3), into boxes anew."""
        self._clear(CELLS, cells)
        own = " AND ".join(f"{_cell_of(f'one.{axis}')} = c{axis}" for axis in "lab")
        held = f"SELECT one.*, cl, ca, cb FROM {_CELLS_ASKED} JOIN {self._table} AS one ON {_IN_CELL} AND {own}"
        edges = (edge for corner in edges_of(cells) for edge in corner.T.tolist())
        self._put_cells(held, (*cells.T.tolist(), *edges))
        self._put_groups(cells)

    def groups(self) -> Boxes:
        """Return the boxes of all groups."""
        found = self._ask(f"SELECT string_agg({_SENT_BOX}, '') FROM {self._boxes} WHERE level = {GROUPS}", ())
        return _boxes(GROUPS, bytes(found[0][0] or b""))

    def inside(self, keys: Keys) -> tuple[Boxes, Colours]:
        """Return the cells of groups and the colours of cells, which are told by level and place, shape (n, 4)."""
        packed = {level: self._packed(level, keys[keys[:, 0] == level, 1:]) for level in (GROUPS, CELLS)}
        return _boxes(CELLS, packed[GROUPS]), unpacked(packed[CELLS])

    def _packed(self, level: int, places: Numbers) -> bytes:
        if not len(places):
            return b""
        what = f"SELECT packed FROM {_PLACES} JOIN {self._boxes} ON {_IS_PLACE}"
        return b"".join(bytes(packed) for (packed,) in self._ask(what, (*places.T.tolist(), level)))

    def _clear(self, level: int, places: Numbers) -> None:
        self._ask(f"DELETE FROM {self._boxes} USING {_PLACES} WHERE {_IS_PLACE}", (*places.T.tolist(), level))

    def _put_cells(self, held: str, values: Sequence[Any]) -> None:
        edges = ", ".join(f"{most}({axis})" for most in ("min", "max") for axis in "lab")
        what = f"SELECT {edges}, string_agg({SENT_COLOUR}, ''), {CELLS}, cl, ca, cb FROM ({held}) AS held"
        self._ask(f"INSERT INTO {self._boxes} {what} GROUP BY cl, ca, cb", values)

    def _put_groups(self, cells: Numbers) -> None:
        """Put the groups in which cells lie together anew."""
        groups = np.unique(cells // _GROUP, axis=0)
        self._clear(GROUPS, groups)
        edges = ", ".join(f"{'min' if edge.endswith('0') else 'max'}({edge})" for edge in _EDGES)
        what = f"SELECT {edges}, string_agg({_SENT_BOX}, ''), {GROUPS}, cl, ca, cb FROM {_PLACES}"
        below = f"JOIN {self._boxes} ON level = {CELLS} AND {_IN_GROUP}"
        self._ask(f"INSERT INTO {self._boxes} {what} {below} GROUP BY cl, ca, cb", groups.T.tolist())


def unpacked(sent: bytes) -> Colours:
    """Return colours as the server sends them."""
    rows = np.frombuffer(sent, _COLOUR)
    return Colours(rows["number"].astype(np.int64), rows["job_id"].astype(np.int64), rows["lab"].astype(np.float64))


def _boxes(level: int, sent: bytes) -> Boxes:
    """Return boxes that are opened by their level and place."""
    rows = np.frombuffer(sent, _BOX)
    edges = rows["edges"].astype(np.float64)
    return Boxes(np.insert(rows["place"].astype(np.int64), 0, level, axis=1), edges[:, 0], edges[:, 1])


def _cell_of(axis: str) -> str:
    """Return, in SQL, what `cells_of` does."""
    return f"greatest(least(floor({axis} / {_CELL}), {_LAST_CELL}), -{_LAST_CELL})::int"


def cells_of(labs: Floats) -> Numbers:
    """Return the cell of CIELAB that each colour lies in, shape (n, 3); the last of each axis hold all beyond."""
    return np.clip(np.floor(labs / _CELL), -_LAST_CELL, _LAST_CELL).astype(np.int64)


def edges_of(cells: Numbers) -> tuple[Floats, Floats]:
    """Return the corners of cells, shape (n, 3)."""
    low = np.where(cells > -_LAST_CELL, cells * _CELL, -_FAR)
    return low, np.where(cells < _LAST_CELL, (cells + 1) * _CELL, _FAR)
