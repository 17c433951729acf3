"""The index of colours on the server where the ledger is, one for all bays: PostgreSQL's `cube` under GiST.

It has a schema of its own, so that whoever looks after the server can drop it, or leave it out of a dump; `find` makes
it anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from typing import Any

import numpy as np
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from finishmatch.colour import Floats
from finishmatch.colour.reach import de00_reach
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.boxes_searched import Boxes, Colours, Keys, NearestSoFar, cut, search_boxes
from finishmatch.ledger.colour_trees import Numbers, Tree, along_a_curve
from finishmatch.ledger.index_of_colours import ColourIndex, Rows
from finishmatch.ledger.server import LOCK, copied_in

LOCK_OF_INDEX = LOCK + 1  # an advisory lock beside that of the ledger: who records doesn't wait for the index
SCHEMA = "finishmatch_find"  # with the name of the ledger's own, where that isn't the usual one
_USUAL = "public"
_EXTENSION = "cube"
_CANDIDATES = 100  # colours that are looked at first, to find how far off the nearest may lie
_NEAR, _MANY_NEAR = 3.0, 4_000  # ΔE00 up to which all of one box are looked at, where they are no more than that
_MANY = 400  # colours of a box that are all taken
_SMALLEST = 0.02  # of CIELAB: the colours of a box so small are all taken, however many
_CELL, _LAST_CELL = 2.0, 500  # of CIELAB, and from which cell on all lie in one
_FAR = 1e6  # beyond any colour
# boxes are sent as six lists of edges
_BOXES = f"unnest({', '.join(['?::float8[]'] * 6)}) WITH ORDINALITY AS box(l0, a0, b0, l1, a1, b1, place)"
_IN_BOX = "point <@ cube(ARRAY[l0, a0, b0], ARRAY[l1, a1, b1])"
_BUSY = ("55", "40")  # classes of SQLSTATE
_REASONS = {
    "0A000": "the server lacks the extension cube",
    "58P01": "the server lacks the extension cube",
    "42501": "the user of the ledger may make no index on the server",
    "25006": "the ledger can only be read",
}
# what each row of a tree is sent as, one after the other; `_ROW` reads it
_NUMBERS, _LAB = "int8send(number) || int8send(job_id)", "float8send(l) || float8send(a) || float8send(b)"
_PACKED = f"coalesce(string_agg({_NUMBERS} || {_LAB}, ''), '')"
_ROW = np.dtype([("number", ">i8"), ("job_id", ">i8"), ("lab", ">f8", (3,))])


class NoIndexThereError(Exception):
    """No index can be kept on the server; its text says why."""


def opened_there(ledger: Ledger, wait_s: float) -> ColourIndex | None:
    """Return the index on the server of a ledger, up to date; None while another bay is making it.

    Parameters
    ----------
    ledger : Ledger
        On a server.
    wait_s : float
        For another bay.

    Raises
    ------
    NoIndexThereError
        The server lacks `cube`, or the user may not keep an index.
    """
    index = None
    try:
        index = ServerIndex(ledger, wait_s)
        index.bring_up_to_date()
    except DBAPIError as error:
        if index is not None:
            index.close()
        state = str(getattr(error.orig, "sqlstate", None) or "")
        if state[:2] in _BUSY:
            return None
        raise NoIndexThereError(_REASONS.get(state, "the server can keep no index")) from error
    return index


class ServerIndex(ColourIndex):
    """An index on the server, over a connection of its own."""

    def __init__(self, ledger: Ledger, wait_s: float) -> None:
        super().__init__(ledger)
        self._cells = dict[Tree, Boxes]()
        with ledger.reading() as session:
            engine = session.get_bind().engine
        self._connection: Connection = engine.connect().execution_options(isolation_level="AUTOCOMMIT")
        self._connection.detach()  # its settings are of no use to others
        try:
            self._set_up(wait_s)
        except BaseException:
            self.close()
            raise

    def _set_up(self, wait_s: float) -> None:
        self._ask(f"SET lock_timeout = {round(1000 * wait_s)}")
        quoted = self._connection.dialect.identifier_preparer.quote
        of_ledger = self._ask("SELECT current_schema()")[0][0]
        own = SCHEMA if of_ledger == _USUAL else f"{SCHEMA}_{of_ledger}"[:63]
        self._schema = quoted(own)
        if len(self._places(own)) < 2:
            with self._writing():  # one bay makes them
                if not self._ask("SELECT 1 FROM pg_namespace WHERE nspname = ?", (own,)):
                    self._ask(f"CREATE SCHEMA {self._schema}")
                self._ask(f"CREATE EXTENSION IF NOT EXISTS {_EXTENSION}")
        self._ask(f"SET search_path TO {', '.join(map(quoted, self._places(own)))}")
        # a box holds few of many: that is what the index is for, whatever is known of the tables so far
        self._ask("SET enable_seqscan = off")
        self._ask("SET jit = off")

    def _places(self, own: str) -> list[str]:
        """Return the schemas of the index and of `cube`, as far as they are there."""
        own_place = self._ask("SELECT nspname FROM pg_namespace WHERE nspname = ?", (own,))
        of_cube = self._ask(
            "SELECT nspname FROM pg_extension JOIN pg_namespace s ON s.oid = extnamespace WHERE extname = ?",
            (_EXTENSION,),
        )
        return [name for (name,) in (*own_place, *of_cube)]

    def close(self) -> None:
        """Close its connection."""
        with suppress(DBAPIError):
            self._connection.close()

    def _ask(self, query: str, values: Sequence[Any] = ()) -> Rows:
        found = self._connection.exec_driver_sql(query.replace("?", "%s"), tuple(values))
        return [tuple(row) for row in found] if found.returns_rows else ()

    def _insert(self, table: str, rows: Iterator[tuple[Any, ...]]) -> None:
        own = ("spectral", "light", "observer") if table == "colour" else ("l", "a", "b")
        with copied_in(self._connection, table, ("number", "job_id", *own)) as take:
            for row in rows:
                take(row)

    def _remove(self, table: str, numbers: Sequence[int]) -> None:
        self._ask(f'DELETE FROM "{table}" WHERE number = ANY(?)', (list(numbers),))

    @contextmanager
    def _writing(self) -> Iterator[None]:
        self._ask("BEGIN")
        try:
            self._ask("SELECT pg_advisory_xact_lock(?)", (LOCK_OF_INDEX,))
            yield
        except BaseException:
            with suppress(DBAPIError):
                self._ask("ROLLBACK")
            raise
        self._ask("COMMIT")

    def _is_made(self) -> bool:
        return self._ask("SELECT to_regclass(?)", (f"{self._schema}.seen",))[0][0] is not None

    def _make_anew(self) -> None:
        for (name,) in self._ask("SELECT tablename FROM pg_tables WHERE schemaname = current_schema()"):
            self._ask(f'DROP TABLE "{name}"')
        # not logged: faster, and empty after the server broke down, when the index is made anew
        make = "CREATE UNLOGGED TABLE"
        kind = "spectral bigint, light text, observer bigint"
        self._ask(f"{make} seen (form bigint, number bigint, link text)")
        self._ask(f"{make} colour (number bigint PRIMARY KEY, job_id bigint, {kind})")
        self._ask("CREATE INDEX colour_of_job ON colour (job_id)")
        self._ask(f"{make} total ({kind}, count bigint)")
        self._ask(f"{make} tree ({kind})")

    def _make_tree(self, name: str) -> None:
        lab = "l float8, a float8, b float8"
        point = "point cube GENERATED ALWAYS AS (cube(ARRAY[l, a, b])) STORED"
        self._ask(f'CREATE UNLOGGED TABLE "{name}" (number bigint PRIMARY KEY, job_id bigint, {lab}, {point})')
        self._ask(f'CREATE UNLOGGED TABLE "{name}_cell" (l int, a int, b int, PRIMARY KEY (l, a, b))')

    def _finish_tree(self, name: str) -> None:
        """Make the index over what is in the table: sooner made than one that grew with it."""
        self._ask(f'CREATE INDEX ON "{name}" USING gist (point)')

    def _put(self, tree: Tree, numbers: Numbers, jobs: Numbers, labs: Floats) -> None:
        """Put colours into a tree; near ones one after the other, so that they lie on few pages."""
        order = np.argsort(along_a_curve(labs), kind="stable")
        rows = zip(numbers[order].tolist(), jobs[order].tolist(), labs[order].tolist(), strict=True)
        self._insert(tree.name, ((number, job, *lab) for number, job, lab in rows))
        self._cells.pop(tree, None)
        cells = np.unique(cells_of(labs), axis=0)
        edges = "unnest(?::int[], ?::int[], ?::int[])"
        self._ask(f'INSERT INTO "{tree.name}_cell" SELECT * FROM {edges} ON CONFLICT DO NOTHING', cells.T.tolist())

    def _search(self, wanted: Mapping[Tree, Floats], nearest: NearestSoFar) -> None:
        def open_boxes(tree: Tree, keys: Keys) -> Boxes:
            small = (keys[:, 3:] - keys[:, :3]).max(axis=1) <= _SMALLEST
            nearest.take(wanted[tree], self._held_in(tree, keys[small])[0])
            colours, held = self._held_in(tree, keys[~small], _MANY)
            nearest.take(wanted[tree], colours)
            more = keys[~small][held == _MANY]
            return _boxes(*cut(more[:, :3], more[:, 3:], (2, 2, 2)))

        for tree, lab in wanted.items():
            nearest.take(lab, self._near_in_lab(tree, lab))
        roots = {}
        for tree, lab in wanted.items():
            if nearest.reach <= _NEAR:
                colours, held = self._held_in(tree, np.concatenate(de00_reach(lab, nearest.reach))[None], _MANY_NEAR)
                if held[0] < _MANY_NEAR:
                    nearest.take(lab, colours)
                    continue
            roots[tree] = self._cells_of(tree)
        search_boxes(wanted, roots, open_boxes, nearest)

    def _cells_of(self, tree: Tree) -> Boxes:
        """Return the cells of CIELAB in which a tree has colours, or had some."""
        if tree not in self._cells:
            self._cells[tree] = cell_boxes(np.array(self._ask(f'SELECT l, a, b FROM "{tree.name}_cell"'), int))
        return self._cells[tree]

    def _near_in_lab(self, tree: Tree, lab: Floats) -> Colours:
        """Return colours that are near in CIELAB: the nearest by ΔE00 lie hardly further off."""
        near = f'(SELECT * FROM "{tree.name}" ORDER BY point <-> cube(?::float8[]) LIMIT {_CANDIDATES}) AS near'
        return _unpacked(self._ask(f"SELECT {_PACKED} FROM {near}", (lab.tolist(),))[0][0])

    def _held_in(self, tree: Tree, boxes: Keys, most: int | None = None) -> tuple[Colours, Numbers]:
        """Return colours of boxes, of each no more than `most` where that is given, and how many they are of each."""
        limit = "" if most is None else f"LIMIT {most}"
        inside = f'(SELECT * FROM "{tree.name}" WHERE {_IN_BOX} {limit}) AS inside'
        held = f"LATERAL (SELECT count(*) AS count, {_PACKED} AS packed FROM {inside}) AS held"
        rows = self._ask(f"SELECT held.count, packed FROM {_BOXES}, {held} ORDER BY place", boxes.T.tolist())
        return _unpacked(b"".join(bytes(packed) for _, packed in rows)), np.array([held for held, _ in rows], np.int64)


def _unpacked(packed: bytes) -> Colours:
    rows = np.frombuffer(bytes(packed), _ROW)
    return Colours(rows["number"].astype(np.int64), rows["job_id"].astype(np.int64), rows["lab"].astype(np.float64))


def cells_of(labs: Floats) -> Numbers:
    """Return the cell of CIELAB that each colour lies in, shape (n, 3)."""
    return np.clip(np.floor(labs / _CELL), -_LAST_CELL, _LAST_CELL).astype(np.int64)


def cell_boxes(cells: Numbers) -> Boxes:
    """Return the boxes of cells, shape (n, 3); the last of each axis holds all that lies beyond."""
    place = cells.reshape(-1, 3)
    low = np.where(place > -_LAST_CELL, place * _CELL, -_FAR)
    high = np.where(place < _LAST_CELL, (place + 1) * _CELL, _FAR)
    return _boxes(low, high)


def _boxes(low: Floats, high: Floats) -> Boxes:
    """Return boxes that are opened by their own corners."""
    return Boxes(np.hstack([low, high]), low, high)
