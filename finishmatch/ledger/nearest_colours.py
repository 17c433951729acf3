"""Where the colours of a large record lie, so that the nearest are found without all: the index that `find` asks.

It lies beside the ledger, in R*Trees of a file, or with a ledger on a server there. It is made from the ledger and can
be deleted at any time: `find` makes it anew. The record doesn't need it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import func, select

from finishmatch.colour import Floats
from finishmatch.colour.least_difference import least_de00
from finishmatch.errors import InputError
from finishmatch.files import write_new_file
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.boxes_searched import Boxes, Colours, Keys, NearestSoFar, search_boxes
from finishmatch.ledger.colour_trees import Numbers, Tree, along_a_curve
from finishmatch.ledger.colours_on_server import NoIndexThereError, opened_there
from finishmatch.ledger.home import ledger_home
from finishmatch.ledger.index_of_colours import ColourIndex, DamagedIndexError, Rows
from finishmatch.ledger.plain_errors import plain_errors
from finishmatch.ledger.rows import EntryRow
from finishmatch.ledger.tree_nodes import ROOT, Cells, boxes_below, cells_of, depth_of

FILE = "find.db"
LEAST = 5_000  # entries of a record; of fewer all colours are computed as soon
_WAIT_S = 5.0
_COLUMNS = "number, l0, l1, a0, a1, b0, b1, +lab, +job_id"
_LOOKED_UP = 16  # colours at once


@contextmanager
def colour_index(ledger: Ledger, *, least: int | None = None) -> Iterator[ColourIndex | None]:
    """Yield the index of a ledger as it stands now; None where the record is small, or none can be kept beside it.

    Parameters
    ----------
    ledger : Ledger
    least : int or None
        Entries of a record that is worth one; None is `LEAST`.

    Notes
    -----
    A colour counts by the job it is in: where a job has new entries all its colours are taken anew, so that what was
    struck or replaced since is out, and what stands again is in. The index knows the hash of the last entry that it
    saw: where the ledger has another there, it was put back or is another one, and the index is made anew.
    """
    with ledger.reading() as session:
        entries = session.scalar(select(func.max(EntryRow.number))) or 0
    if ledger.read_only or entries < (LEAST if least is None else least):
        yield None
        return
    index = _in_file(ledger, ledger.path.parent) if isinstance(ledger.path, Path) else _on_server(ledger)
    try:
        with plain_errors(ledger.path):
            yield index
    finally:
        if index is not None:
            index.close()


def _on_server(ledger: Ledger) -> ColourIndex | None:
    """Return the index that all bays share; where the server can keep none, that of this bay alone."""
    try:
        return opened_there(ledger, _WAIT_S)
    except NoIndexThereError as error:
        index = _in_file(ledger, ledger_home())
        if index is not None and index.made_now:
            index.note = f"{error}: this bay keeps an index of the colours of its own"
        return index


def _in_file(ledger: Ledger, home: Path) -> ColourIndex | None:
    """Return the index up to date; one that is damaged is made anew, once."""
    path = home / FILE
    if not home.is_dir():
        return None
    for _ in range(2):
        index = None
        try:
            if not path.exists():
                write_new_file(path, b"", private=True)
            index = FileIndex(ledger, path)
            index.bring_up_to_date()
        except sqlite3.OperationalError:  # another bay is making it, the disk is full, no R*Tree
            if index is not None:
                index.close()
            return None
        except (sqlite3.DatabaseError, ValueError):
            if index is not None:
                index.close()
            _throw_away(path)
        except (InputError, OSError):
            return None
        else:
            return index
    return None


def _throw_away(path: Path) -> None:
    for ending in ("", "-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


class FileIndex(ColourIndex):
    """An index in a file beside the ledger."""

    def __init__(self, ledger: Ledger, path: Path) -> None:
        super().__init__(ledger)
        self._path = path
        self._database = sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None)
        self._database.execute("PRAGMA journal_mode = WAL")
        self._database.execute("PRAGMA synchronous = NORMAL")

    def close(self) -> None:
        """Close its file."""
        with suppress(sqlite3.Error):
            self._database.close()

    def _ask(self, query: str, values: Sequence[Any] = ()) -> Rows:
        return self._database.execute(query, values).fetchall()

    def _insert(self, table: str, rows: Iterator[tuple[Any, ...]]) -> None:
        first = next(rows, None)
        if first is not None:
            places = ", ".join("?" * len(first))
            self._database.executemany(f'INSERT INTO "{table}" VALUES ({places})', chain([first], rows))

    def _remove(self, table: str, numbers: Sequence[int]) -> None:
        self._database.executemany(f'DELETE FROM "{table}" WHERE number = ?', ((number,) for number in numbers))

    @contextmanager
    def _writing(self) -> Iterator[None]:
        self._database.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            with suppress(sqlite3.Error):
                self._database.execute("ROLLBACK")
            raise
        self._database.execute("COMMIT")

    def _is_made(self) -> bool:
        return bool(self._ask("SELECT name FROM sqlite_master WHERE type = 'table' AND name = 'seen'"))

    def _make_anew(self) -> None:
        for (name,) in self._ask(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE '%\\_node' ESCAPE '\\' AND "
            "name NOT LIKE '%\\_parent' ESCAPE '\\' AND name NOT LIKE '%\\_rowid' ESCAPE '\\'"
        ):
            self._ask(f'DROP TABLE "{name}"')
        self._ask("CREATE TABLE seen (form INTEGER, number INTEGER, link TEXT)")
        self._ask(
            "CREATE TABLE colour (number INTEGER PRIMARY KEY, job_id INTEGER, spectral INTEGER, light TEXT, "
            "observer INTEGER)"
        )
        self._ask("CREATE INDEX colour_of_job ON colour (job_id)")
        self._ask("CREATE TABLE total (spectral INTEGER, light TEXT, observer INTEGER, count INTEGER)")
        self._ask("CREATE TABLE tree (spectral INTEGER, light TEXT, observer INTEGER)")

    def _make_tree(self, name: str) -> None:
        self._ask(f'CREATE VIRTUAL TABLE "{name}" USING rtree ({_COLUMNS})')

    def _finish_tree(self, name: str) -> None:
        """Nothing is left to do."""

    def _put(self, tree: Tree, numbers: Numbers, jobs: Numbers, labs: Floats) -> None:
        """Put colours into a tree; near ones one after the other, so that it is found by few pages."""
        order = np.argsort(along_a_curve(labs), kind="stable")
        rows = zip(numbers[order].tolist(), jobs[order].tolist(), labs[order], strict=True)
        self._insert(
            tree.name, ((number, *np.repeat(lab, 2).tolist(), lab.tobytes(), job) for number, job, lab in rows)
        )

    def nearest(
        self, wanted: Mapping[Tree, Floats], most: int, within: float | None, without: int | None = None
    ) -> dict[int, int]:
        """Return the nearest, as any index does; one that is damaged is thrown away.

        Raises
        ------
        DamagedIndexError
        """
        try:
            return super().nearest(wanted, most, within, without)
        except sqlite3.OperationalError:  # busy, no room: nothing is wrong with it
            raise
        except (sqlite3.DatabaseError, ValueError, TypeError) as error:
            self.close()
            _throw_away(self._path)
            raise DamagedIndexError from error

    def _search(self, wanted: Mapping[Tree, Floats], nearest: NearestSoFar) -> None:
        opened = {tree: set[int]() for tree in wanted}

        def open_boxes(tree: Tree, keys: Keys) -> Boxes:
            numbers = keys[:, 0].tolist()
            if not opened[tree].isdisjoint(numbers):
                raise ValueError("a node lies below another twice")
            opened[tree].update(numbers)
            nodes, levels = self._nodes(tree, numbers), keys[:, 1]
            leaves = [node for node, level in zip(nodes, levels, strict=True) if level == 0]
            if leaves:
                self._take_near(tree, cells_of(leaves), wanted[tree], nearest)
            above = [node for node, level in zip(nodes, levels, strict=True) if level > 0]
            return boxes_below(above, levels[levels > 0])

        self._ask("BEGIN")  # what another bay does meanwhile isn't seen
        try:
            roots = {
                tree: Boxes(np.array([[ROOT, depth_of(self._nodes(tree, [ROOT])[0])]]), lab[None], lab[None])
                for tree, lab in wanted.items()
            }
            search_boxes(wanted, roots, open_boxes, nearest)
        finally:
            with suppress(sqlite3.Error):
                self._ask("COMMIT")

    def _nodes(self, tree: Tree, numbers: Sequence[int]) -> list[bytes]:
        return [
            bytes(data) for (data,) in self._found(f'SELECT nodeno, data FROM "{tree.name}_node" WHERE nodeno', numbers)
        ]

    def _take_near(self, tree: Tree, cells: Cells, lab: Floats, nearest: NearestSoFar) -> None:
        """Take in the colours of nodes that may be near enough, the nearest first; the nodes hold rounded ones."""
        least = least_de00(lab, cells.low, cells.high)
        order = np.argsort(least, kind="stable")
        for first in range(0, len(order), _LOOKED_UP):
            some = order[first : first + _LOOKED_UP]
            some = some[least[some] <= nearest.reach]
            if not len(some):
                return
            nearest.take(lab, self._looked_up(tree, cells.keys[some]))

    def _looked_up(self, tree: Tree, numbers: Numbers) -> Colours:
        asked = numbers.tolist()
        found = self._found(f'SELECT rowid, a0, a1 FROM "{tree.name}_rowid" WHERE rowid', asked)
        labs, jobs = zip(*found, strict=True)
        return Colours(numbers, np.array(jobs, np.int64), np.frombuffer(b"".join(labs), np.float64).reshape(-1, 3))

    def _found(self, query: str, numbers: Sequence[int]) -> Rows:
        """Return the rows of some numbers, in their order, without the number; the tree's own tables hold them."""
        found = {row[0]: row[1:] for row in self._ask(f"{query} IN ({', '.join(map(str, numbers))})")}
        if len(found) < len(numbers):
            raise ValueError("a number of a node is nowhere")
        return [found[number] for number in numbers]
