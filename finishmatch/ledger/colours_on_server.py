"""The index of colours on the server where the ledger is, one for all bays: PostgreSQL's `cube` under GiST.

By that the colours nearest in CIELAB are found first; whether others are nearer by ΔE00 is seen by the cells of
`packed_cells.py`. It has a schema of its own, so that whoever looks after the server can drop it, or leave it out of a
dump; `find` makes it anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from typing import Any

import numpy as np
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from finishmatch.colour import Floats
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.boxes_searched import Boxes, Colours, Keys, NearestSoFar, search_boxes
from finishmatch.ledger.colour_trees import Numbers, Tree, along_a_curve
from finishmatch.ledger.index_of_colours import ColourIndex, Rows
from finishmatch.ledger.packed_cells import SENT_COLOUR, PackedCells, cells_of, unpacked
from finishmatch.ledger.server import LOCK, copied_in

LOCK_OF_INDEX = LOCK + 1  # an advisory lock beside that of the ledger: who records doesn't wait for the index
SCHEMA = "finishmatch_find"  # with the name of the ledger's own, where that isn't the usual one
_USUAL = "public"
_EXTENSION = "cube"
_CANDIDATES = 20  # colours that are looked at first, to find how far off the nearest may lie
_BUSY = ("55", "40")  # classes of SQLSTATE
_REASONS = {
    "0A000": "the server lacks the extension cube",
    "58P01": "the server lacks the extension cube",
    "42501": "the user of the ledger may make no index on the server",
    "25006": "the ledger can only be read",
}


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
        self._roots = dict[Tree, Boxes]()
        self._changed = dict[str, Numbers | None]()
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
        gone = self._ask(f'DELETE FROM "{table}" WHERE number = ANY(?) RETURNING l, a, b', (list(numbers),))
        self._note_changed(table, np.array(gone, float).reshape(-1, 3))

    @contextmanager
    def _writing(self) -> Iterator[None]:
        self._changed.clear()
        self._roots.clear()
        self._ask("BEGIN")
        try:
            self._ask("SELECT pg_advisory_xact_lock(?)", (LOCK_OF_INDEX,))
            yield
            for name, cells in self._changed.items():
                packed = PackedCells(self._ask, name)
                if cells is None:
                    packed.gather_all()
                elif len(cells):
                    packed.gather(cells)
        except BaseException:
            with suppress(DBAPIError):
                self._ask("ROLLBACK")
            raise
        self._ask("COMMIT")

    def _note_changed(self, name: str, labs: Floats) -> None:
        """Note in which cells of a table colours came or went; one that is new is gathered whole."""
        before = self._changed.get(name, np.zeros((0, 3), np.int64))
        if before is not None:
            self._changed[name] = np.unique(np.concatenate([before, cells_of(labs)]), axis=0)

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
        PackedCells(self._ask, name).make()
        self._changed[name] = None

    def _finish_tree(self, name: str) -> None:
        """Make the index over what is in the table: sooner made than one that grew with it."""
        self._ask(f'CREATE INDEX ON "{name}" USING gist (point)')

    def _put(self, tree: Tree, numbers: Numbers, jobs: Numbers, labs: Floats) -> None:
        """Put colours into a tree; near ones one after the other, so that they lie on few pages."""
        order = np.argsort(along_a_curve(labs), kind="stable")
        rows = zip(numbers[order].tolist(), jobs[order].tolist(), labs[order].tolist(), strict=True)
        self._insert(tree.name, ((number, job, *lab) for number, job, lab in rows))
        self._note_changed(tree.name, labs)

    def _search(self, wanted: Mapping[Tree, Floats], nearest: NearestSoFar) -> None:
        packed = {tree: PackedCells(self._ask, tree.name) for tree in wanted}

        def open_boxes(tree: Tree, keys: Keys) -> Boxes:
            boxes, colours = packed[tree].inside(keys)
            nearest.take(wanted[tree], colours)
            return boxes

        for tree, lab in wanted.items():
            nearest.take(lab, self._near_in_lab(tree, lab))
            if tree not in self._roots:
                self._roots[tree] = packed[tree].groups()
        search_boxes(wanted, {tree: self._roots[tree] for tree in wanted}, open_boxes, nearest)

    def _near_in_lab(self, tree: Tree, lab: Floats) -> Colours:
        """Return colours that are near in CIELAB: the nearest by ΔE00 lie hardly further off."""
        near = f'(SELECT * FROM "{tree.name}" ORDER BY point <-> cube(?::float8[]) LIMIT {_CANDIDATES}) AS near'
        found = self._ask(f"SELECT string_agg({SENT_COLOUR}, '') FROM {near}", (lab.tolist(),))
        return unpacked(bytes(found[0][0] or b""))
