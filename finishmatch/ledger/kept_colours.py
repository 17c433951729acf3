"""Every colour of the record that stands, over all jobs: targets, recipes and cards, to be looked through at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from finishmatch.colour import Floats
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.plain_errors import readable
from finishmatch.ledger.rows import EntryRow, RecipeRow, SprayOutRow, TargetRow
from finishmatch.ledger.strikes import following, struck_in

_JOBS_AT_ONCE = 500
_NAMED = ((TargetRow, TargetRow.name), (RecipeRow, RecipeRow.bank), (SprayOutRow, SprayOutRow.name))


@dataclass(frozen=True)
class KeptColour:
    """A colour of the record.

    Parameters
    ----------
    job_id, number : int
        The job and the entry.
    kind : str
        "target", "recipe" or "spray-out".
    name : str
        Of the target or the card; of a recipe its bank.
    lab : tuple of three float
        CIELAB under `light` and `observer`.
    reflectance : tuple of float or None
        31 factors, where the spectrum is known.
    """

    job_id: int
    number: int
    kind: str
    name: str
    lab: tuple[float, float, float]
    light: str
    observer: int
    reflectance: tuple[float, ...] | None


def colours_kept(ledger: Ledger, jobs: Sequence[int] | None = None) -> list[KeptColour]:
    """Return every target, recipe and card that stands, in the order recorded; of some jobs, where they are named."""
    found: list[KeptColour] = []
    with ledger.reading() as session, readable(ledger.path):
        for some in [None] if jobs is None else _in_turn(jobs):
            found += _of_jobs(session, some)
    return sorted(found, key=lambda one: one.number)


def _in_turn(jobs: Sequence[int]) -> Iterator[Sequence[int]]:
    for at in range(0, len(jobs), _JOBS_AT_ONCE):
        yield jobs[at : at + _JOBS_AT_ONCE]


def _of_jobs(session: Session, jobs: Sequence[int] | None) -> Iterator[KeptColour]:
    """Yield what stands of some jobs, or of all."""
    pairs = select(EntryRow.supersedes_id, EntryRow.number).where(EntryRow.supersedes_id.is_not(None))
    if jobs is None:
        struck = struck_in(session)
    else:
        struck = {number: by for job in jobs for number, by in struck_in(session, job).items()}
        pairs = pairs.where(EntryRow.job_id.in_(jobs))
    newer = {int(older): int(number) for older, number in session.execute(pairs) if older is not None}
    for table, name in _NAMED:
        columns = (table.number, table.job_id, table.kind, name, table.lab_l, table.lab_a, table.lab_b)
        wanted = select(*columns, table.light, table.observer, table.reflectance).order_by(table.number)
        if jobs is not None:
            wanted = wanted.where(table.job_id.in_(jobs))
        for number, job_id, kind, called, *lab, light, observer, reflectance in session.execute(wanted):
            if number in struck or following(number, newer, struck) is not None:
                continue
            spectrum = None if reflectance is None else tuple(reflectance)
            lightness, red, yellow = lab
            yield KeptColour(job_id, number, kind, called, (lightness, red, yellow), light, observer, spectrum)


def spectra_kept(ledger: Ledger, at_once: int) -> Iterator[tuple[NDArray[np.int64], Floats]]:
    """Yield the spectra of all targets, recipes and cards, whether they stand or not, some at a time.

    Yields
    ------
    numbers : ndarray, shape (n,)
    spectra : ndarray, shape (n, 31)
    """
    with ledger.reading() as session, readable(ledger.path):
        for table, _ in _NAMED:
            wanted = select(table.number, table.reflectance).order_by(table.number)
            for rows in session.execute(wanted, execution_options={"yield_per": at_once}).partitions(at_once):
                known = [(number, spectrum) for number, spectrum in rows if spectrum is not None]
                if known:
                    yield (
                        np.array([number for number, _ in known], np.int64),
                        np.array([one for _, one in known], float),
                    )
