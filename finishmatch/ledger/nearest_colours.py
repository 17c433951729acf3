"""Where the colours of a large record lie, in R*Trees beside the ledger, so that the nearest are found without all.

It is made from the ledger and can be deleted at any time: `find` makes it anew. The record doesn't need it.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
from sqlalchemy import func, select

from finishmatch.colour import Floats, de00
from finishmatch.colour.reach import de00_reach
from finishmatch.errors import InputError
from finishmatch.files import write_new_file
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.colour_trees import Numbers, Tree, along_a_curve, kind_of, known_as_lab, seen_in
from finishmatch.ledger.home import ledger_home
from finishmatch.ledger.kept_colours import KeptColour, colours_kept, spectra_kept
from finishmatch.ledger.rows import EntryLinkRow, EntryRow

FILE = "find.db"
LEAST = 5_000  # entries of a record; of fewer all colours are computed as soon
_FORM = 1  # of the index; another one is made anew
_WAIT_S = 5.0
_FIRST, _STEP = 0.15, 1.3  # ΔE00 that is looked through first, and by how much more while too few are found
_HAIR = 1e-9  # ΔE00 that floats may lose
_EVERYWHERE = 1e30  # beyond any colour, within what a tree can hold
_AT_ONCE = 50_000  # spectra held in memory while a tree is made
_COLUMNS = "number, l0, l1, a0, a1, b0, b1, +lab, +job_id"
_INSIDE = "l1 >= ? AND l0 <= ? AND a1 >= ? AND a0 <= ? AND b1 >= ? AND b0 <= ?"


Rows = list[tuple[object, ...]]


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
    home = ledger.path.parent if isinstance(ledger.path, Path) else ledger_home()  # of a server, each bay keeps its own
    with ledger.reading() as session:
        entries = session.scalar(select(func.max(EntryRow.number))) or 0
    if ledger.read_only or not home.is_dir() or entries < (LEAST if least is None else least):
        yield None
        return
    index = _opened(ledger, home / FILE)
    try:
        yield index
    finally:
        if index is not None:
            index.close()


def _opened(ledger: Ledger, path: Path) -> ColourIndex | None:
    """Return the index up to date; one that is damaged is made anew, once."""
    for _ in range(2):
        index = None
        try:
            if not path.exists():
                write_new_file(path, b"", private=True)
            index = ColourIndex(ledger, path)
            index.bring_up_to_date()
        except sqlite3.OperationalError:  # another bay is making it, the disk is full, no R*Tree
            if index is not None:
                index.close()
            return None
        except (sqlite3.DatabaseError, ValueError):
            if index is not None:
                index.close()
            for ending in ("", "-wal", "-shm"):
                path.with_name(path.name + ending).unlink(missing_ok=True)
        except (InputError, OSError):
            return None
        else:
            return index
    return None


class ColourIndex:
    """An index that is open; get one from `colour_index`."""

    def __init__(self, ledger: Ledger, path: Path) -> None:
        self._ledger = ledger
        self._database = sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None)
        self._database.execute("PRAGMA journal_mode = WAL")
        self._database.execute("PRAGMA synchronous = NORMAL")

    def close(self) -> None:
        """Close its file."""
        with suppress(sqlite3.Error):
            self._database.close()

    def bring_up_to_date(self) -> None:
        """Take in what was recorded since."""
        with self._writing():
            last = self._last_seen()
            with self._ledger.reading() as session:
                newest = session.scalar(select(func.max(EntryRow.number))) or 0
                if newest == last:
                    return
                changed = select(EntryRow.job_id).where(EntryRow.number > last).distinct()
                jobs = [] if last == 0 else list(session.scalars(changed))
                link = session.scalar(select(EntryLinkRow.sha256).where(EntryLinkRow.number == newest)) or ""
            self._take(colours_kept(self._ledger, jobs if last else None), jobs)
            self._database.execute("DELETE FROM seen")
            self._database.execute("INSERT INTO seen VALUES (?, ?, ?)", (_FORM, newest, link))

    def nearest(
        self, wanted: Mapping[Tree, Floats], most: int, within: float | None, without: int | None = None
    ) -> dict[int, int]:
        """Return the numbers of the nearest entries, each with its job: all that can be among the `most` nearest.

        Parameters
        ----------
        wanted : mapping of Tree to ndarray, shape (3,)
            What is looked for, in the light of each tree that is looked through.
        most : int
        within : float or None
            ΔE00 beyond which nothing is asked for.
        without : int or None
            A job whose colours are left out.
        """
        for tree in wanted:
            self._see_made(tree)
        reach = _FIRST
        while True:
            reach = reach if within is None else min(reach, within)
            near = dict[int, tuple[float, int]]()
            bounded = False
            for tree, lab in wanted.items():
                low, high = de00_reach(lab, reach)
                if np.isfinite([low, high]).all():
                    bounded = True
                else:
                    low, high = np.full(3, -np.inf), np.full(3, np.inf)
                numbers, jobs, labs = self._inside(tree, low, high)
                kept = jobs != without
                away = de00(lab, labs[kept]) if kept.any() else np.zeros(0)
                found = zip(away.tolist(), jobs[kept].tolist(), strict=True)
                near |= dict(zip(numbers[kept].tolist(), found, strict=True))
            nearest = sorted(away for away, _ in near.values())[:most]
            # what lies in the boxes bounds the last of the nearest: none beyond that can be among them
            last = nearest[-1] if len(nearest) == most else np.inf
            if last <= reach or reach == within or not bounded:
                furthest = max(min(last, np.inf if within is None else within), 0.0) + _HAIR
                return {number: job for number, (away, job) in near.items() if away <= furthest}
            reach = last + _HAIR if np.isfinite(last) else _STEP * reach

    def counts(self, without: int | None = None) -> dict[Tree, int]:
        """Return how many colours there are, by light; those with a spectrum under none ("")."""
        found: Counter[Tree] = Counter()
        for spectral, light, observer, count in self._database.execute("SELECT * FROM total WHERE count > 0"):
            found[Tree(bool(spectral), light, observer)] += count
        if without is not None:
            found.subtract(self._counted([without]))
        return {tree: count for tree, count in found.items() if count > 0}

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

    def _last_seen(self) -> int:
        """Return the number of the last entry seen; 0 where the index has to be made, whose tables are then empty."""
        tables = {name for (name,) in self._database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        row = self._database.execute("SELECT form, number, link FROM seen").fetchone() if "seen" in tables else None
        if row is not None and row[0] == _FORM:
            with self._ledger.reading() as session:
                link = session.scalar(select(EntryLinkRow.sha256).where(EntryLinkRow.number == row[1]))
            if link is not None and link == row[2]:
                return int(row[1])
        for (name,) in self._database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE '%\\_node' ESCAPE '\\' AND "
            "name NOT LIKE '%\\_parent' ESCAPE '\\' AND name NOT LIKE '%\\_rowid' ESCAPE '\\'"
        ).fetchall():
            self._database.execute(f'DROP TABLE "{name}"')
        self._database.execute("CREATE TABLE seen (form INTEGER, number INTEGER, link TEXT)")
        self._database.execute(
            "CREATE TABLE colour (number INTEGER PRIMARY KEY, job_id INTEGER, spectral INTEGER, light TEXT, "
            "observer INTEGER)"
        )
        self._database.execute("CREATE INDEX colour_of_job ON colour (job_id)")
        self._database.execute("CREATE TABLE total (spectral INTEGER, light TEXT, observer INTEGER, count INTEGER)")
        self._database.execute("CREATE TABLE tree (spectral INTEGER, light TEXT, observer INTEGER)")
        return 0

    def _take(self, colours: Sequence[KeptColour], jobs: Sequence[int]) -> None:
        """Take colours in, in place of all that the jobs had."""
        gone = self._counted(jobs)
        for job in jobs:
            gone_too = self._database.execute("SELECT number FROM colour WHERE job_id = ?", (job,)).fetchall()
            for tree in self._trees():
                self._database.executemany(f'DELETE FROM "{tree.name}" WHERE number = ?', gone_too)
            self._database.execute("DELETE FROM colour WHERE job_id = ?", (job,))
        kinds = [kind_of(one) for one in colours]
        self._database.executemany(
            "INSERT INTO colour VALUES (?, ?, ?, ?, ?)",
            (
                (one.number, one.job_id, kind.spectral, kind.light, kind.observer)
                for one, kind in zip(colours, kinds, strict=True)
            ),
        )
        total = Counter(kinds)
        for tree in {*gone, *total}:
            self._count(tree, total[tree] - gone.get(tree, 0))
        for tree in {kind for kind in kinds if not kind.spectral}:
            self._make(tree)
            self._put(tree, *known_as_lab([one for one in colours if kind_of(one) == tree]))
        spectral = [one for one in colours if one.reflectance is not None]
        for tree in self._trees():
            if tree.spectral and spectral:
                numbers, job_ids, _ = known_as_lab(spectral)
                self._put(tree, numbers, job_ids, seen_in(np.array([one.reflectance for one in spectral]), tree))

    def _see_made(self, tree: Tree) -> None:
        """Make a tree of spectra that no one asked for yet, from the ledger."""
        if tree in self._trees() or not tree.spectral:
            return
        with self._writing():
            if not self._make(tree):
                return
            standing = np.array(self._database.execute("SELECT number, job_id FROM colour WHERE spectral").fetchall())
            for numbers, spectra in spectra_kept(self._ledger, _AT_ONCE):
                at = np.searchsorted(standing[:, 0], numbers) if standing.size else np.zeros(len(numbers), int)
                at = np.minimum(at, max(len(standing) - 1, 0))
                here = standing[at, 0] == numbers if standing.size else np.zeros(len(numbers), bool)
                if here.any():
                    self._put(tree, numbers[here], standing[at[here], 1], seen_in(spectra[here], tree))

    def _make(self, tree: Tree) -> bool:
        """Make the table of a tree; return whether there was none."""
        if tree in self._trees():
            return False
        self._database.execute(f'CREATE VIRTUAL TABLE "{tree.name}" USING rtree ({_COLUMNS})')
        self._database.execute("INSERT INTO tree VALUES (?, ?, ?)", (tree.spectral, tree.light, tree.observer))
        return True

    def _trees(self) -> set[Tree]:
        return {Tree(bool(spectral), *seen) for spectral, *seen in self._database.execute("SELECT * FROM tree")}

    def _put(self, tree: Tree, numbers: Numbers, jobs: Numbers, labs: Floats) -> None:
        """Put colours into a tree; near ones one after the other, so that it is found by few pages."""
        order = np.argsort(along_a_curve(labs), kind="stable")
        rows = zip(numbers[order].tolist(), jobs[order].tolist(), labs[order], strict=True)
        self._database.executemany(
            f'INSERT INTO "{tree.name}" VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)',
            ((number, *np.repeat(lab, 2).tolist(), lab.tobytes(), job) for number, job, lab in rows),
        )

    def _inside(self, tree: Tree, low: Floats, high: Floats) -> tuple[Numbers, Numbers, Floats]:
        """Return numbers, jobs and CIELAB, shape (n, 3), of the colours in a box, and perhaps some at its edge."""
        if tree not in self._trees():
            return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 3))
        edges = np.clip(np.stack([low, high], axis=1), -_EVERYWHERE, _EVERYWHERE).ravel().tolist()
        rows = self._database.execute(
            f'SELECT number, job_id, lab FROM "{tree.name}" WHERE {_INSIDE}', edges
        ).fetchall()
        numbers, jobs, labs = zip(*rows, strict=True) if rows else ((), (), ())
        return (
            np.array(numbers, np.int64),
            np.array(jobs, np.int64),
            np.frombuffer(b"".join(labs), np.float64).reshape(-1, 3),
        )

    def _counted(self, jobs: Sequence[int]) -> Counter[Tree]:
        """Return how many colours some jobs have, by kind."""
        found: Counter[Tree] = Counter()
        wanted = "SELECT spectral, light, observer, COUNT(*) FROM colour WHERE job_id = ? GROUP BY 1, 2, 3"
        for job in jobs:
            for spectral, light, observer, count in self._database.execute(wanted, (job,)):
                found[Tree(bool(spectral), light, observer)] += count
        return found

    def _count(self, tree: Tree, more: int) -> None:
        kind = (tree.spectral, tree.light, tree.observer)
        where = "spectral = ? AND light = ? AND observer = ?"
        changed = self._database.execute(f"UPDATE total SET count = count + ? WHERE {where}", (more, *kind))
        if not changed.rowcount:
            self._database.execute("INSERT INTO total VALUES (?, ?, ?, ?)", (*kind, more))
