"""Measure what an archive of many readings needs: fill a ledger with them, and do what a shop does every day.

Run: python -m tools.measure_scale 100000 [FOLDER] [ADDRESS]. The readings are invented, each with its spectrum, in
jobs of a hundred. FOLDER keeps the ledger (else a scratch folder does), ADDRESS is an empty database of PostgreSQL to
move it to.
The figures of docs/scale.md come from it.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import insert
from sqlalchemy.orm import Session

from finishmatch.ledger import Ledger, NoteEntry, ReadingEntry, open_ledger
from finishmatch.ledger.chain import columns_hash, head_of, link_of
from finishmatch.ledger.mapping import row_of
from finishmatch.ledger.rows import EntryLinkRow, EntryRow, JobRow, ReadingRow, RowLinkRow
from finishmatch.steps.backup.back_up import back_up
from finishmatch.steps.backup.move_record import move_record
from finishmatch.steps.backup.put_back import put_back

IN_A_JOB = 100
AT_ONCE = 10_000
WHEN = "2024-05-02T10:15:00Z"


def reading(dice: random.Random, number: int) -> ReadingEntry:
    """Return an invented reading."""
    lab = (round(dice.uniform(5, 95), 3), round(dice.uniform(-60, 60), 3), round(dice.uniform(-60, 60), 3))
    spectrum = tuple(round(dice.uniform(0.02, 0.95), 5) for _ in range(31))
    return ReadingEntry("panel", f"card {number}", lab, "D65", 10, "45/0", spectrum, 3, 0.12, 0.4)


def rows_of(first_job: int, readings: int) -> Iterator[tuple[type[Any], dict[str, Any]]]:
    """Yield the rows of so many readings, each chained to the one before in its job."""
    dice, previous, job_id = random.Random(1934), "", first_job - 1
    for number in range(1, readings + 1):
        if (number - 1) % IN_A_JOB == 0:
            job_id += 1
            job = JobRow(id=job_id, title=f"Car {job_id}", vehicle="", colour_name="", note="", made_at=WHEN)
            yield JobRow, columns(job)
            previous = head_of(job)
            link = columns_hash("job", job)
            yield RowLinkRow, {"kept_in": "job", "about": str(job_id), "row_id": job_id, "sha256": link}
        row = row_of(reading(dice, number), job_id=job_id, kind="reading", made_at=WHEN, supersedes_id=None, reason="")
        row.number = number
        previous = link_of(previous, row)
        whole = columns(row)
        entry = {one.name: whole.pop(one.name) for one in EntryRow.__table__.columns if one.name != "number"}
        yield EntryRow, {"number": number, **entry}
        yield ReadingRow, whole
        yield EntryLinkRow, {"number": number, "sha256": previous}


def columns(row: JobRow | EntryRow) -> dict[str, Any]:
    """Return the columns of a row by name."""
    return {one.key: getattr(row, one.key) for one in row.__mapper__.column_attrs}


def fill(ledger: Ledger, readings: int) -> None:
    """Put readings in an empty ledger, as they would stand in it had they been recorded one after the other."""
    with ledger.writing() as session:
        waiting: dict[type[Any], list[dict[str, Any]]] = {
            table: [] for table in (JobRow, RowLinkRow, EntryRow, ReadingRow, EntryLinkRow)
        }
        for table, row in rows_of(1, readings):
            waiting[table].append(row)
            if len(waiting[EntryLinkRow]) >= AT_ONCE:
                put(session, waiting)
        put(session, waiting)


def put(session: Session, waiting: dict[type[Any], list[dict[str, Any]]]) -> None:
    """Insert what waits, and let nothing wait."""
    for table, rows in waiting.items():
        if rows:
            session.connection().execute(insert(table.__table__), rows)
            rows.clear()


def timed(what: str, act: Callable[[], Any], times: int = 1) -> Any:
    """Do something, print how long it took at best, and how much memory was used at most so far."""
    best, found = float("inf"), None
    for _ in range(times):
        began = time.perf_counter()
        found = act()
        best = min(best, time.perf_counter() - began)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what:44} {best:10.3f} s {most:8.0f} MB", flush=True)
    return found


def _opened(place: Path | None, act: Callable[[Ledger], Any]) -> Any:
    with open_ledger(place, create=False) as ledger:
        return act(ledger)


def main(words: Sequence[str]) -> None:
    """Measure with the number of readings, the folder and the address that were typed."""
    readings = int(words[0])
    with tempfile.TemporaryDirectory() as scratch:
        home = Path(words[1] if len(words) > 1 else scratch) / "home"
        with open_ledger(home) as ledger:
            timed(f"{readings} readings put in", lambda: fill(ledger, readings))
        size = (home / "ledger.db").stat().st_size
        print(f"{'ledger.db':44} {size / 1e6:10.0f} MB, {size / readings:.0f} bytes a reading")
        timed("opened", lambda: _opened(home, lambda ledger: None), 5)
        timed("all jobs listed", lambda: _opened(home, lambda ledger: (ledger.jobs(), ledger.activity())), 3)
        timed("a job of 100 shown", lambda: _opened(home, lambda ledger: ledger.story(ledger.find_job("J7"))), 5)
        timed("a note recorded", lambda: _opened(home, lambda one: one.record(one.find_job("J7"), NoteEntry("x"))), 5)
        file = Path(scratch) / "record.zip"
        timed("backup, all of it verified", lambda: back_up(file, home=home))
        print(f"{'record.zip':44} {file.stat().st_size / 1e6:10.0f} MB")
        timed("restore on another machine, all verified", lambda: put_back(file, home=Path(scratch) / "other"))
        if len(words) > 2:
            moved = timed("ledger move to PostgreSQL, verified", lambda: move_record(str(home), words[2]))
            print(f"{'':44} {moved.rows('entry')} entries, {moved.target}")


if __name__ == "__main__":
    main(sys.argv[1:])
