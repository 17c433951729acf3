"""What a coat met: each exposure is written once in the whole ledger, and a coat points at it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.clean_values import LARGEST_WHOLE
from finishmatch.ledger.rows import CoatMetRow, CoatRow, MetRow

if TYPE_CHECKING:
    from finishmatch.ledger.book import Ledger


def keep_met(session: Session, row: CoatRow, exposures: Sequence[tuple[str, str]]) -> None:
    """Point a coat's row at what it met, each exposure being written once in the whole ledger."""
    for position, (kind, value) in enumerate(exposures):
        met = session.scalar(select(MetRow).where(MetRow.kind == kind, MetRow.value == value))
        if met is None:
            met = MetRow(kind=kind, value=value, value_key=value.casefold())
            session.add(met)
        row.exposures.append(CoatMetRow(position=position, met=met))


def coat_numbered(ledger: Ledger, number: int | None) -> tuple[tuple[str, str], ...]:
    """Return what a coat met, of whatever job.

    Parameters
    ----------
    ledger : Ledger
    number : int or None
        Its number; None is the last one recorded.

    Raises
    ------
    InputError
        No coat of this number, or none at all.
    """
    wanted = select(CoatRow).order_by(CoatRow.number.desc()).limit(1)
    if number is not None:
        wanted = wanted.where(CoatRow.number == min(number, LARGEST_WHOLE))
    with ledger.reading() as session:
        row = session.scalar(wanted)
        if row is None:
            where = "--like last" if number is None else f"--like {number}"
            raise InputError(where, "there is no such coat", "see the numbers with: finishmatch job show JOB")
        return tuple((item.met.kind, item.met.value) for item in row.exposures)
