"""Which of the colours of a record lie nearest to one, by an index that grows with the record.

What is written here holds for any database that keeps boxes; `nearest_colours.py` keeps the index in a file beside the
ledger, `colours_on_server.py` on the server where the ledger is.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any

import numpy as np
from sqlalchemy import func, select

from finishmatch.colour import Floats
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.boxes_searched import NearestSoFar
from finishmatch.ledger.colour_trees import Numbers, Tree, kind_of, known_as_lab, seen_in
from finishmatch.ledger.kept_colours import KeptColour, colours_kept, spectra_kept
from finishmatch.ledger.rows import EntryLinkRow, EntryRow

FORM = 3  # of the index; another one is made anew
_AT_ONCE = 50_000  # spectra held in memory while a tree is made

Rows = Sequence[tuple[Any, ...]]


class DamagedIndexError(Exception):
    """An index that was found damaged, and thrown away; the record doesn't need it."""


class ColourIndex(ABC):
    """An index that is open; get one from `colour_index`."""

    made_now = False  # whether it was made from the ledger just now
    note = ""  # what there is to say of where it is kept

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._known: set[Tree] | None = None

    @abstractmethod
    def close(self) -> None:
        """Let go of it."""

    @abstractmethod
    def _ask(self, query: str, values: Sequence[Any] = ()) -> Rows:
        """Run a query, and return its rows where it has some; a `?` stands for each value."""

    @abstractmethod
    def _insert(self, table: str, rows: Iterator[tuple[Any, ...]]) -> None:
        """Add rows to a table."""

    @abstractmethod
    def _remove(self, table: str, numbers: Sequence[int]) -> None:
        """Take entries out of a table."""

    @abstractmethod
    def _writing(self) -> AbstractContextManager[None]:
        """A transaction that no other bay can write beside."""

    @abstractmethod
    def _is_made(self) -> bool:
        """Whether there are tables."""

    @abstractmethod
    def _make_anew(self) -> None:
        """Make the tables, in the place of any that are there."""

    @abstractmethod
    def _make_tree(self, name: str) -> None:
        """Make the table of a tree."""

    @abstractmethod
    def _finish_tree(self, name: str) -> None:
        """Do what is left when the table of a tree was filled for the first time."""

    @abstractmethod
    def _put(self, tree: Tree, numbers: Numbers, jobs: Numbers, labs: Floats) -> None:
        """Put colours, shape (n, 3), into a tree."""

    @abstractmethod
    def _search(self, wanted: Mapping[Tree, Floats], nearest: NearestSoFar) -> None:
        """Have the colours of trees taken in that lie nearest to what is looked for, and perhaps others."""

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
            self._ask("DELETE FROM seen")
            self._ask("INSERT INTO seen VALUES (?, ?, ?)", (FORM, newest, link))

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
        there = {tree: lab for tree, lab in wanted.items() if tree in self._trees()}
        nearest = NearestSoFar(most, within, without)
        self._search(there, nearest)
        return nearest.nearest()

    def counts(self, without: int | None = None) -> dict[Tree, int]:
        """Return how many colours there are, by light; those with a spectrum under none ("")."""
        found: Counter[Tree] = Counter()
        for spectral, light, observer, count in self._ask("SELECT * FROM total WHERE count > 0"):
            found[Tree(bool(spectral), light, observer)] += count
        if without is not None:
            found.subtract(self._counted([without]))
        return {tree: count for tree, count in found.items() if count > 0}

    def _last_seen(self) -> int:
        """Return the number of the last entry seen; 0 where the index has to be made, whose tables are then empty."""
        seen = self._ask("SELECT form, number, link FROM seen") if self._is_made() else ()
        if seen and seen[0][0] == FORM:
            with self._ledger.reading() as session:
                link = session.scalar(select(EntryLinkRow.sha256).where(EntryLinkRow.number == seen[0][1]))
            if link is not None and link == seen[0][2]:
                return int(seen[0][1])
        self._known = None
        self._make_anew()
        self.made_now = True
        return 0

    def _take(self, colours: Sequence[KeptColour], jobs: Sequence[int]) -> None:
        """Take colours in, in place of all that the jobs had."""
        gone = self._counted(jobs)
        for job in jobs:
            gone_too = [number for (number,) in self._ask("SELECT number FROM colour WHERE job_id = ?", (job,))]
            for tree in self._trees():
                self._remove(tree.name, gone_too)
            self._ask("DELETE FROM colour WHERE job_id = ?", (job,))
        kinds = [kind_of(one) for one in colours]
        rows = zip(colours, kinds, strict=True)
        self._insert(
            "colour", ((one.number, one.job_id, int(kind.spectral), kind.light, kind.observer) for one, kind in rows)
        )
        total = Counter(kinds)
        for tree in {*gone, *total}:
            self._count(tree, total[tree] - gone.get(tree, 0))
        for tree in {kind for kind in kinds if not kind.spectral}:
            new = self._make(tree)
            self._put(tree, *known_as_lab([one for one in colours if kind_of(one) == tree]))
            if new:
                self._finish_tree(tree.name)
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
            standing = np.array(
                self._ask("SELECT number, job_id FROM colour WHERE spectral = 1 ORDER BY number"), np.int64
            )
            for numbers, spectra in spectra_kept(self._ledger, _AT_ONCE):
                at = np.searchsorted(standing[:, 0], numbers) if standing.size else np.zeros(len(numbers), int)
                at = np.minimum(at, max(len(standing) - 1, 0))
                here = standing[at, 0] == numbers if standing.size else np.zeros(len(numbers), bool)
                if here.any():
                    self._put(tree, numbers[here], standing[at[here], 1], seen_in(spectra[here], tree))
            self._finish_tree(tree.name)

    def _make(self, tree: Tree) -> bool:
        """Make the table of a tree; return whether there was none."""
        if tree in self._trees():
            return False
        self._known = None
        self._make_tree(tree.name)
        self._ask("INSERT INTO tree VALUES (?, ?, ?)", (int(tree.spectral), tree.light, tree.observer))
        return True

    def _trees(self) -> set[Tree]:
        if self._known is None:
            self._known = {Tree(bool(spectral), *seen) for spectral, *seen in self._ask("SELECT * FROM tree")}
        return self._known

    def _counted(self, jobs: Sequence[int]) -> Counter[Tree]:
        """Return how many colours some jobs have, by kind."""
        found: Counter[Tree] = Counter()
        wanted = "SELECT spectral, light, observer, COUNT(*) FROM colour WHERE job_id = ? GROUP BY 1, 2, 3"
        for job in jobs:
            for spectral, light, observer, count in self._ask(wanted, (job,)):
                found[Tree(bool(spectral), light, observer)] += count
        return found

    def _count(self, tree: Tree, more: int) -> None:
        kind = (int(tree.spectral), tree.light, tree.observer)
        where = "spectral = ? AND light = ? AND observer = ?"
        if self._ask(f"SELECT count FROM total WHERE {where}", kind):
            self._ask(f"UPDATE total SET count = count + ? WHERE {where}", (more, *kind))
        else:
            self._ask("INSERT INTO total VALUES (?, ?, ?, ?)", (*kind, more))
