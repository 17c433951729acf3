"""The shop's record, over all jobs: its coats, what they met, and how decisions about defects came out."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import Any

import numpy as np
from sqlalchemy import Connection, not_, or_, select
from sqlalchemy.orm import Session, aliased

from finishmatch.defects.shop_record import ShopRecord, Whole
from finishmatch.errors import InputError
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.clean_values import LARGEST_WHOLE
from finishmatch.ledger.plain_errors import readable
from finishmatch.ledger.rows import CoatRow, DecisionRow, DefectRow, EntryRow
from finishmatch.ledger.strikes import standing_again, struck_in

LAST_DAY = "9999-12-31"
_PACK = 1 << 24  # more exposures than a shop will ever write
_NOT_REPLACED = "NOT EXISTS (SELECT 1 FROM entry AS later WHERE later.supersedes_id = entry.number)"
_COATS = """SELECT entry.number, entry.job_id, coat.panel, coat.sprayed_on
    FROM coat JOIN entry ON entry.number = coat.number WHERE {stands} ORDER BY coat.sprayed_on, entry.number"""
_DEFECTS = """SELECT entry.number, entry.job_id, defect.panel, defect.defect_kind, defect.seen_on, entry.made_at
    FROM defect JOIN entry ON entry.number = defect.number WHERE {stands} ORDER BY entry.number"""
_BY_DEFECT = "SELECT entry_number, kind, value, value_key FROM exposure"


def read_shop(
    ledger: Ledger, kinds: Collection[str] | None = None, since: str = "", until: str = LAST_DAY
) -> ShopRecord:
    """Return the shop's coats, what they met and which of them came out with a defect.

    Parameters
    ----------
    ledger : Ledger
    kinds : collection of str or None
        The trade names of the defects that count; None is any.
    since, until : str
        First and last day of the coats, YYYY-MM-DD.

    Returns
    -------
    ShopRecord

    Notes
    -----
    A defect is laid to the last coat of its panel sprayed on or before the day it was seen. Where no such coat was
    recorded, the defect with its own exposures stands for one; a defect seen twice on one day is one coat.
    """
    with ledger.reading() as session:
        stands = _stands(session)
        connection = session.connection()
        with readable(ledger.path):
            return _shop(connection, stands, kinds, since, until)


def coat_numbered(ledger: Ledger, number: int | None) -> tuple[str, tuple[tuple[str, str], ...]]:
    """Return the layer of a coat, "" where it wasn't said, and what it met; of whatever job.

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
        row = session.scalar(wanted.where(CoatRow.number.not_in(struck_in(session))))
        if row is None:
            where = "`like` last" if number is None else f"`like` {number}"
            raise InputError(where, "there is no such coat", "see the numbers with: finishmatch job show JOB")
        return row.layer, tuple((item.met.kind, item.met.value) for item in row.exposures)


@dataclass(frozen=True)
class RecordedOutcome:
    """A decision whose result is known: what was chosen, how it came out, and the defect it was about."""

    chosen: str
    result: str
    defect_kind: str
    seen: tuple[str, ...]


def recorded_outcomes(ledger: Ledger) -> list[RecordedOutcome]:
    """Return every decision that stands and whose result is known, oldest first; those about no defect are left out."""
    later = aliased(EntryRow)
    decision, defect = DecisionRow.__table__, DefectRow.__table__
    replaced = select(later.supersedes_id).where(later.supersedes_id.is_not(None))
    wanted = (
        select(decision.c.chosen, decision.c.result, defect.c.defect_kind, defect.c.seen)
        .join(defect, defect.c.number == decision.c.defect_number)
        .where(decision.c.result != "")
        .order_by(decision.c.number)
    )
    with ledger.reading() as session, readable(ledger.path):
        struck = struck_in(session)
        stands = or_(decision.c.number.not_in(replaced), decision.c.number.in_(standing_again(session, struck)))
        gone = (decision.c.number.in_(struck), defect.c.number.in_(struck))
        rows = session.execute(wanted.where(stands, *(not_(one) for one in gone)))
        return [RecordedOutcome(chosen, result, kind, tuple(seen)) for chosen, result, kind, seen in rows]


def _stands(session: Session) -> str:
    """Return the condition, in SQL, that an entry counts: neither replaced nor struck."""
    struck = struck_in(session)
    if not struck:
        return _NOT_REPLACED
    again, gone = (",".join(map(str, sorted(numbers))) for numbers in (standing_again(session, struck), struck))
    return f"({_NOT_REPLACED} OR entry.number IN ({again})) AND entry.number NOT IN ({gone})"


def _shop(connection: Connection, stands: str, kinds: Collection[str] | None, since: str, until: str) -> ShopRecord:
    coats = _rows(connection, _COATS.format(stands=stands))
    defects = _rows(connection, _DEFECTS.format(stands=stands))
    days: list[str] = [row[3] for row in coats]
    names: dict[tuple[str, str], int] = {}
    shown: list[tuple[str, str]] = []
    numbers = np.array([row[0] for row in coats], dtype=np.int64)
    coat, met = _pairs_of_coats(connection, numbers, names, shown)
    of_defect: dict[int, list[int]] = {}
    for number, kind, value, key in _rows(connection, _BY_DEFECT):
        of_defect.setdefault(number, []).append(_number(names, shown, kind, key, value))
    hurt = {row[1] for row in defects}  # jobs: of no other need the coats be looked up
    on_panel: dict[tuple[int, str], list[int]] = {}  # job and panel: places of its coats, by day
    for place, (_, job, panel, _) in enumerate(coats):
        if job in hurt:
            on_panel.setdefault((job, panel.casefold()), []).append(place)
    bad: list[int] = []
    more: list[tuple[int, int]] = []
    alone: dict[tuple[int, str, str], int] = {}
    for number, job, panel, kind, seen_on, made_at in defects:
        seen = seen_on if _is_day(seen_on) else made_at[:10]
        before = [place for place in on_panel.get((job, panel.casefold()), ()) if days[place] <= seen]
        if before:
            place = before[-1]
        else:
            place = alone.setdefault((job, panel.casefold(), seen), len(days))
            if place == len(days):
                days.append(seen)
        if kinds is None or kind in kinds:
            bad.append(place)
        more += [(place, exposure) for exposure in of_defect.get(number, ())]
    if more:  # an exposure noted with the coat and again with the defect counts once
        noted = np.array(more, dtype=np.int64)
        once = np.unique(np.concatenate([coat, noted[:, 0]]) * len(shown) + np.concatenate([met, noted[:, 1]]))
        coat, met = np.divmod(once, len(shown))
    is_bad = np.zeros(len(days), dtype=bool)
    is_bad[bad] = True
    whole = ShopRecord(_ordinals(days), is_bad, coat, met, shown)
    return whole if not since and until >= LAST_DAY else _between(whole, since, until)


def _between(record: ShopRecord, since: str, until: str) -> ShopRecord:
    first = date.fromisoformat(since).toordinal() if since else 0
    kept = (record.day >= first) & (record.day <= date.fromisoformat(until).toordinal())
    place = np.cumsum(kept) - 1
    inside = kept[record.coat]
    return ShopRecord(
        record.day[kept], record.bad[kept], place[record.coat[inside]], record.met[inside], record.exposures
    )


def _pairs_of_coats(
    connection: Connection, numbers: Whole, names: dict[tuple[str, str], int], shown: list[tuple[str, str]]
) -> tuple[Whole, Whole]:
    """Return which coat met which exposure, both counted from 0; two spellings of one value are one exposure."""
    by_id = {}
    for number, kind, value, key in _rows(connection, "SELECT id, kind, value, value_key FROM met ORDER BY id"):
        by_id[number] = _number(names, shown, kind, key, value)
    raw: Any = connection.connection.driver_connection
    # one number a row: a million tuples of two take twice as long to make as all the rest
    packed = raw.execute(f"SELECT coat_number * CAST({_PACK} AS BIGINT) + met_id FROM coat_met")
    coat_number, met_id = np.divmod(np.fromiter(chain.from_iterable(packed), dtype=np.int64), _PACK)
    places = np.full(int(max(coat_number.max(initial=0), numbers.max(initial=0))) + 1, -1, dtype=np.int64)
    places[numbers] = np.arange(len(numbers))
    exposures = np.full(max(by_id, default=0) + 1, -1, dtype=np.int64)
    exposures[list(by_id)] = list(by_id.values())
    coat, met = places[coat_number], exposures[met_id]
    stands = coat >= 0  # pairs of coats that were replaced have none
    if stands.all():
        return coat, met
    return coat[stands], met[stands]


def _rows(connection: Connection, query: str) -> list[Any]:
    raw: Any = connection.connection.driver_connection
    found: list[Any] = raw.execute(query).fetchall()
    return found


def _number(names: dict[tuple[str, str], int], shown: list[tuple[str, str]], kind: str, key: str, value: str) -> int:
    number = names.setdefault((kind, key), len(shown))
    if number == len(shown):
        shown.append((kind, value))
    return number


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _ordinals(days: Sequence[str]) -> Whole:
    known = {day: date.fromisoformat(day).toordinal() for day in set(days)}
    return np.array([known[day] for day in days], dtype=np.int64)
