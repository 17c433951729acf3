"""What stands beside the entries is chained as they are: jobs, their banks, tints, stock counts, marks on exposures.

Each of these tables holds one chain for each thing its rows are about (a job, a bank), so that reading what is known of
one verifies that, and a row that is lost is missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Select, bindparam, select
from sqlalchemy.orm import Session

from finishmatch.ledger.chain import columns_hash
from finishmatch.ledger.plain_errors import damaged, readable
from finishmatch.ledger.rows import BankTintRow, JobBankRow, JobRow, QuarantineRow, RowLinkRow, StockCountRow

SideRow = JobRow | JobBankRow | BankTintRow | StockCountRow | QuarantineRow
Row = TypeVar("Row", JobRow, JobBankRow, BankTintRow, StockCountRow, QuarantineRow)
WHAT: dict[type[SideRow], str] = {
    JobRow: "a job",
    JobBankRow: "which bank a job was mixed from",
    BankTintRow: "what the tints of a bank are",
    StockCountRow: "a stock count",
    QuarantineRow: "a mark on an exposure",
}


def about(row: SideRow) -> str:
    """Return what a row is about: the chain it belongs to in its table."""
    if isinstance(row, QuarantineRow):
        return ""
    if isinstance(row, JobRow):
        return str(row.id)
    return str(row.job_id) if isinstance(row, JobBankRow) else row.bank


def keep_row(session: Session, row: SideRow) -> None:
    """Add a row, chained to the one before it that is about the same."""
    session.add(row)
    session.flush()
    table = row.__tablename__
    previous = session.scalar(_newest_link(), {"kept_in": table, "about": about(row)}) or table
    link = RowLinkRow(kept_in=table, about=about(row), row_id=row.id, sha256=columns_hash(previous, row))
    session.add(link)
    session.flush()


def kept_rows(session: Session, kind: type[Row], of: str, where: Path | str) -> list[Row]:
    """Return the rows of a table that are about one thing, oldest first, and see that they are as they were written.

    Parameters
    ----------
    session : Session
    kind : class
        JobRow, JobBankRow, BankTintRow, StockCountRow or QuarantineRow.
    of : str
        What they are about: the number of a job, the name of a bank, "" for marks.
    where : Path or str
        The ledger, for messages.

    Raises
    ------
    InputError
        One isn't, or is lost.
    """
    meant = int(of) if kind in (JobRow, JobBankRow) else of
    with readable(where):
        rows = list(session.scalars(_about_one(kind), {} if kind is QuarantineRow else {"of": meant}))
        changed = _changed(session, kind.__tablename__, of, rows)
    if changed:
        raise damaged(where, f"{WHAT[kind]} is not as it was written")
    return rows


# what is asked at every reading is put together once


@lru_cache(maxsize=len(WHAT))
def _about_one(kind: type[Row]) -> Select[Row]:
    """Return the question after the rows that are about one thing, `of`; marks are about no other."""
    wanted = select(kind).order_by(kind.id)
    if kind is JobRow:
        return wanted.where(JobRow.id == bindparam("of"))
    if kind is JobBankRow:
        return wanted.where(JobBankRow.job_id == bindparam("of"))
    if kind is QuarantineRow:
        return wanted
    return wanted.where((BankTintRow if kind is BankTintRow else StockCountRow).bank == bindparam("of"))


@lru_cache(maxsize=1)
def _newest_link() -> Select[str]:
    of_one = (RowLinkRow.kept_in == bindparam("kept_in"), RowLinkRow.about == bindparam("about"))
    return select(RowLinkRow.sha256).where(*of_one).order_by(RowLinkRow.row_id.desc()).limit(1)


@lru_cache(maxsize=1)
def _links() -> Select[int, str]:
    of_one = (RowLinkRow.kept_in == bindparam("kept_in"), RowLinkRow.about == bindparam("about"))
    return select(RowLinkRow.row_id, RowLinkRow.sha256).where(*of_one)


def rows_changed(session: Session, kind: type[Row]) -> list[str]:
    """Return what the rows of a whole table are about of which one isn't as it was written, or is lost."""
    by_thing: dict[str, list[SideRow]] = {}
    for row in session.scalars(select(kind).order_by(kind.id)):
        by_thing.setdefault(about(row), []).append(row)
    linked = select(RowLinkRow.about).where(RowLinkRow.kept_in == kind.__tablename__).distinct()
    every: dict[str, None] = dict.fromkeys(by_thing)
    every |= dict.fromkeys(str(of) for of in session.scalars(linked))
    return [of for of in every if _changed(session, kind.__tablename__, of, by_thing.get(of, []))]


def link_rows(session: Session) -> None:
    """Chain what stands beside the entries in a ledger of a form that had no hashes of it yet, as it stands."""
    rows: list[SideRow] = []
    for kind in WHAT:
        rows += session.scalars(select(kind).order_by(kind.id))
    for row in rows:
        keep_row(session, row)


def _changed(session: Session, table: str, of: str, rows: Sequence[SideRow]) -> bool:
    links = {one.row_id: one.sha256 for one in session.execute(_links(), {"kept_in": table, "about": of})}
    previous = table
    for row in rows:
        if links.pop(row.id, None) != (link := columns_hash(previous, row)):
            return True
        previous = link
    return bool(links)
