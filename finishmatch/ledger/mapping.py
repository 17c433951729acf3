"""From an entry to its row and back, and the views of a job's rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Select, bindparam, select
from sqlalchemy.orm import Session, selectinload, with_polymorphic

from finishmatch.ledger.entries import ENTRY_KINDS, CoatEntry, DefectEntry, Entry
from finishmatch.ledger.rows import ROW_KINDS, CoatMetRow, CoatRow, DefectRow, EntryRow, ExposureRow, JobRow, MetRow
from finishmatch.ledger.strikes import following
from finishmatch.ledger.views import EntryView, JobView

# fields whose column has another name: numbers of entries, and the defect's own kind beside the entry's
_COLUMNS = {
    "recipe": "recipe_number",
    "batch": "batch_number",
    "continues": "continues_number",
    "again": "again_number",
    "spray_out": "spray_out_number",
    "starts_from": "starts_from_number",
    "defect": "defect_number",
    "struck": "struck_number",
    "kind": "defect_kind",
}
_LAB = ("lab_l", "lab_a", "lab_b")


def row_of(entry: Entry, **common: Any) -> EntryRow:
    """Return the row of an entry; `common` holds the columns every entry has."""
    columns: dict[str, Any] = {}
    for field in fields(entry):
        value = getattr(entry, field.name)
        if field.name == "lab":
            columns.update(zip(_LAB, value, strict=True))
        elif field.name == "exposures":
            if entry.KIND == CoatEntry.KIND:
                continue  # these point into the table of what was ever met: see keep_met
            days = getattr(entry, "met_on", ()) or ("",) * len(value)
            pairs = zip(value, days, strict=True)
            columns["exposures"] = [_exposure(i, kind, which, day) for i, ((kind, which), day) in enumerate(pairs)]
        elif field.name == "met_on":
            continue  # a column of each exposure
        else:
            columns[_COLUMNS.get(field.name, field.name)] = value
    return ROW_KINDS[entry.KIND](**common, **columns)


def keep_met(session: Session, row: CoatRow, exposures: Sequence[tuple[str, str]]) -> None:
    """Point a coat's row at what it met, each exposure being written once in the whole ledger."""
    for position, (kind, value) in enumerate(exposures):
        met = session.scalar(select(MetRow).where(MetRow.kind == kind, MetRow.value == value))
        if met is None:
            met = MetRow(kind=kind, value=value, value_key=value.casefold())
            session.add(met)
        row.exposures.append(CoatMetRow(position=position, met=met))


def entry_of(row: EntryRow) -> Entry:
    """Return the entry kept in a row."""
    kind = ENTRY_KINDS[row.kind]
    values: dict[str, Any] = {}
    for field in fields(kind):
        if field.name == "lab":
            values["lab"] = tuple(getattr(row, column) for column in _LAB)
        elif isinstance(row, DefectRow) and field.name == "exposures":
            values["exposures"] = tuple((exposure.kind, exposure.value) for exposure in row.exposures)
        elif isinstance(row, DefectRow) and field.name == "met_on":
            days = tuple(exposure.met_on for exposure in row.exposures)
            values["met_on"] = days if any(days) else ()
        elif isinstance(row, CoatRow) and field.name == "exposures":
            values["exposures"] = tuple((item.met.kind, item.met.value) for item in row.exposures)
        else:
            values[field.name] = getattr(row, _COLUMNS.get(field.name, field.name))
    return kind(**values)


def views_of(rows: Sequence[EntryRow], struck: Mapping[int, int]) -> list[EntryView]:
    """Return the views of all of a job's rows (or all of one kind), oldest first.

    `struck` has the numbers of the job's struck entries, each with that of the strike.
    """
    newer = {row.supersedes_id: row.number for row in rows if row.supersedes_id is not None}
    older = {row.number: row.supersedes_id for row in rows}
    place: dict[int, int] = {}
    views = []
    for row in rows:
        datetime.fromisoformat(row.made_at)  # a time that is none is refused here, not where it is shown
        place[row.number] = row.number if row.supersedes_id is None else place[row.supersedes_id]
        entry = entry_of(row)
        views.append(
            EntryView(
                number=row.number,
                kind=row.kind,
                made_at=row.made_at,
                entry=entry,
                supersedes=_replaced(row, older, struck),
                superseded_by=following(row.number, newer, struck),
                reason=row.reason,
                sources=tuple((source.name, source.sha256) for source in row.sources),
                place=place[row.number],
                struck_by=struck.get(row.number),
                fell_with=next((number for name in entry.RESTS_ON if (number := getattr(entry, name)) in struck), None),
            )
        )
    return views


def _replaced(row: EntryRow, older: Mapping[int, int | None], struck: Mapping[int, int]) -> int | None:
    """Return the number of what a row replaces: what was struck in between left out."""
    number = row.supersedes_id
    while number is not None and number in struck and older.get(number) is not None:
        number = older[number]
    return number


def _exposure(position: int, kind: str, value: str, day: str) -> ExposureRow:
    """Return the row of an exposure, with the value as it is counted: two guns don't differ by capitals alone."""
    return ExposureRow(position=position, kind=kind, value=value, value_key=value.casefold(), met_on=day)


def job_view_of(row: JobRow) -> JobView:
    """Return the view of a job's row."""
    datetime.fromisoformat(row.made_at)
    return JobView(row.id, row.title, row.vehicle, row.colour_name, row.note, row.made_at)


def whole_rows(session: Session, job_id: int, kind: str | None = None) -> Sequence[EntryRow]:
    """Return the rows of a job's entries, or of one kind of them, in order, with all that belongs to them.

    The tables of the kinds that occur are joined in one query, and no others: damage elsewhere doesn't matter here.
    """
    if kind is not None:
        return session.scalars(_whole_of(kind), {"job_id": job_id}).all()
    kinds = frozenset(session.scalars(_kinds(), {"job_id": job_id}))
    return session.scalars(_whole(kinds), {"job_id": job_id}).all() if kinds else []


@lru_cache(maxsize=1)
def _kinds() -> Select[str]:
    """Return the query for the kinds of a job's entries."""
    return select(EntryRow.kind).where(EntryRow.job_id == bindparam("job_id")).distinct()


@lru_cache(maxsize=100)
def _whole_of(kind: str) -> Select[EntryRow]:
    """Return the query for a job's entries of one kind."""
    return _whole(frozenset([kind])).where(EntryRow.kind == kind)


@lru_cache(maxsize=100)
def _whole(kinds: frozenset[str]) -> Select[EntryRow]:
    """Return the query for a job's entries, which are of these kinds."""
    every = with_polymorphic(EntryRow, [row for kind, row in ROW_KINDS.items() if kind in kinds])
    options = [selectinload(every.sources)]
    if DefectEntry.KIND in kinds:
        options.append(selectinload(every.DefectRow.exposures))
    if CoatEntry.KIND in kinds:
        options.append(selectinload(every.CoatRow.exposures).joinedload(CoatMetRow.met))
    return select(every).where(every.job_id == bindparam("job_id")).order_by(every.number).options(*options)


def kind_name(kind: str | type[Entry]) -> str:
    """Return the name of a kind of entry, which may be given as its class."""
    name = kind if isinstance(kind, str) else kind.KIND
    if name not in ENTRY_KINDS:
        raise KeyError(f"no kind of entry is called {name!r}; there are {', '.join(ENTRY_KINDS)}")
    return name
