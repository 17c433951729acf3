"""Nothing is edited in place: what is replaced stays readable, and the database itself refuses to change a row."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import (
    BankTint,
    BatchEntry,
    JobView,
    Ledger,
    NoteEntry,
    StrikeEntry,
    TargetEntry,
    mark_exposure,
    open_ledger,
    remember_bank,
    remember_stock,
)
from finishmatch.ledger.rows import EntryOriginRow, JobOriginRow, SourceLeftRow
from tests.helpers.ledger_samples import BLUE, NOTE, TARGET, every_kind


def _begun(home: Path) -> tuple[JobView, list[int]]:
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        source = home / "a.csv"
        source.write_text("x")
        mark_exposure(ledger, ("air line", "2"), "suspect", "oil in the filter", job)
        remember_bank(ledger, job, "Lowmere bank", home / "bank", [BankTint("blue", "tint", "PB15:1", 1.0)])
        remember_stock(ledger, "Lowmere bank", {"white": 4000.0})
        numbers = ledger.record_all(job, every_kind(), sources=[source])
        ledger.record(job, StrikeEntry(numbers[0], "entered twice"))
        with ledger.writing() as session:
            session.add(EntryOriginRow(number=numbers[0], hashed_as=numbers[0]))
            session.add(JobOriginRow(job_id=job.id, hashed_as=job.id, bundle_sha256="", imported_at=ledger.stamp()))
            sha256 = ledger.entries(job)[0].sources[0][1]
            session.add(SourceLeftRow(sha256=sha256, left_sha256=sha256))
        return job, numbers


def test_a_replaced_entry_stays_in_the_history_with_the_reason(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Roof")
        first = ledger.record(job, NoteEntry("half dried"))
        between = ledger.record(job, NoteEntry("weather fair"))
        second = ledger.record(job, NoteEntry("dried through"), supersedes=first, reason="looked again")
        third = ledger.record(job, NoteEntry("dried to the bottom"), supersedes=second, reason="cut it open")
        old, _, middle, new = ledger.entries(job)
        assert (old.superseded_by, middle.supersedes, middle.superseded_by) == (second, first, third)
        assert (middle.reason, new.reason, old.entry) == ("looked again", "cut it open", NoteEntry("half dried"))
        assert [view.number for view in ledger.entries(job, current_only=True)] == [third, between]
        assert [view.place for view in (old, middle, new)] == [first, first, first]


def test_latest_is_the_last_of_its_kind_by_its_place_in_the_story(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Roof")
        first = ledger.record(job, BatchEntry((("white", 300.0),)))
        second = ledger.record(job, BatchEntry((("white", 306.0),)))
        ledger.record(job, BatchEntry((("white", 301.0),)), supersedes=first, reason="misread the scale")
        latest = ledger.latest(job, "batch")
        assert latest is not None
        assert latest.number == second
        assert ledger.latest(job, BatchEntry) == latest
        assert ledger.latest(job, TargetEntry) is None
        with pytest.raises(KeyError, match="no kind of entry is called 'tin'"):
            ledger.latest(job, "tin")


def _refusals(ledger: Ledger, job: JobView) -> None:
    note, target = ledger.record(job, NOTE), ledger.record(job, TARGET)
    other = ledger.record(ledger.new_job("Bonnet"), NOTE)
    with pytest.raises(InputError, match=f"#{note}: is to be replaced, but no reason is given"):
        ledger.record(job, NOTE, supersedes=note, reason="  ")
    with pytest.raises(InputError, match="no entry to replace"):
        ledger.record(job, NOTE, reason="typing error")
    with pytest.raises(InputError, match=f"#{target}: is a target and can't be replaced by a note"):
        ledger.record(job, NOTE, supersedes=target, reason="x")
    with pytest.raises(InputError, match=f"#{other}: belongs to job J2, not to J1"):
        ledger.record(job, NOTE, supersedes=other, reason="x")
    for number in (0, 99, 10**30):
        with pytest.raises(InputError, match="there is no such entry"):
            ledger.record(job, NOTE, supersedes=number, reason="x")
    later = ledger.record(job, NOTE, supersedes=note, reason="x")
    with pytest.raises(InputError, match=f"#{note}: has already been replaced by #{later}; replace #{later} instead"):
        ledger.record(job, NOTE, supersedes=note, reason="x")


def test_only_a_standing_entry_of_the_same_job_and_kind_can_be_replaced(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Roof")
        _refusals(ledger, job)
        assert len(ledger.entries(job)) == 3  # the two made first and the one replacement that was allowed


def test_the_database_refuses_to_change_remove_or_overwrite_any_row(tmp_path: Path) -> None:
    _begun(tmp_path)
    database = sqlite3.connect(tmp_path / "ledger.db")
    tables = {name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    tables.remove("alembic_version")
    assert len(tables) == 31
    for table in tables:
        assert database.execute(f"SELECT count(*) FROM {table}").fetchone()[0] > 0, table
        columns = [row[1] for row in database.execute(f"PRAGMA table_info({table})")]
        for statement in (
            f"DELETE FROM {table}",
            f"UPDATE {table} SET {columns[-1]} = {columns[-1]}",
            f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
        ):
            with pytest.raises(sqlite3.IntegrityError, match="the ledger is never edited in place"):
                database.execute(statement)
    database.close()


def test_the_database_itself_holds_replacements_to_the_same_job_and_kind_and_to_one(tmp_path: Path) -> None:
    job, numbers = _begun(tmp_path)
    with open_ledger(tmp_path) as ledger:
        ledger.new_job("Bonnet")
        ledger.record(job, NOTE, supersedes=numbers[-1], reason="x")
    database = sqlite3.connect(tmp_path / "ledger.db")
    database.execute("PRAGMA foreign_keys = ON")
    add = "INSERT INTO entry (job_id, kind, made_at, supersedes_id, reason) VALUES (?, ?, '', ?, 'x')"
    for job_id, kind, supersedes in ((2, "note", numbers[1]), (1, "note", numbers[0]), (1, "note", numbers[-1])):
        with pytest.raises(sqlite3.IntegrityError):
            database.execute(add, (job_id, kind, supersedes))
    database.execute(add, (1, "reading", numbers[0]))
    database.close()


def test_a_replaced_target_keeps_both_colours(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Roof")
        first = ledger.record(job, TARGET)
        better = TargetEntry("Saltmarsh Blue", (37.9, -4.0, -20.0), "D65", 10)
        ledger.record(job, better, supersedes=first, reason="a better sample")
        old, new = ledger.entries(job)
        assert (old.entry, new.entry) == (TARGET, better)
        assert old.entry.lab == BLUE
