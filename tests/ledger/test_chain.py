"""What was changed behind the ledger's back is told: an entry's value, its order, its file, its job."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import ReadingEntry, open_ledger, soundness_of
from tests.helpers.ledger_samples import NOTE, every_kind


def _begun(home: Path) -> Path:
    source = home / "card.csv"
    source.write_text("name,L,a,b\n")
    with open_ledger(home) as ledger:
        for title in ("Roof", "Bonnet"):
            ledger.record_all(ledger.new_job(title), every_kind(), sources=[source])
    return home / "ledger.db"


def _behind_its_back(path: Path, statement: str) -> None:
    database = sqlite3.connect(path)
    for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        database.execute(f"DROP TRIGGER {name}")
    assert database.execute(statement).rowcount > 0
    database.commit()
    database.close()


def test_every_kind_of_entry_is_as_it_was_written(tmp_path: Path) -> None:
    _begun(tmp_path)
    with open_ledger(tmp_path) as ledger:
        for job in ledger.jobs():
            assert len(ledger.entries(job)) == len(every_kind())
        found = soundness_of(ledger)
    assert (found.jobs, found.entries, found.files, found.damaged) == (2, 2 * len(every_kind()), 1, ())


CHANGES = {
    "a number": "UPDATE target SET lab_l = lab_l + 0.0001 WHERE number = (SELECT min(number) FROM target)",
    "grams": "UPDATE batch SET parts = replace(parts, '0', '1') WHERE number = (SELECT min(number) FROM batch)",
    "a text": "UPDATE note SET text = text || ' ' WHERE number = (SELECT min(number) FROM note)",
    "a time": "UPDATE entry SET made_at = '2001-01-01T00:00:00Z' WHERE number = 3",
    "an exposure": "UPDATE exposure SET value = 'other'",
    "what a coat met": "UPDATE met SET value = 'other ' || id",
    "the name of a file": "UPDATE entry_source SET name = 'other.csv' WHERE entry_number = 2",
    "a link": "UPDATE entry_link SET sha256 = lower(hex(randomblob(32))) WHERE number = 4",
    "a link that is lost": "DELETE FROM entry_link WHERE number = 4",
    "the job": "UPDATE job SET title = 'Door' WHERE id = 1",
}


@pytest.mark.parametrize("statement", CHANGES.values(), ids=CHANGES)
def test_what_was_changed_is_told_before_anything_is_shown_or_added(tmp_path: Path, statement: str) -> None:
    _behind_its_back(_begun(tmp_path), statement)
    with open_ledger(tmp_path) as ledger:
        refused = []
        for job in ledger.jobs():
            try:
                ledger.entries(job)
            except InputError as error:
                refused.append(str(error))
                with pytest.raises(InputError, match="not as it was written"):
                    ledger.record(job, NOTE)
            else:
                ledger.record(job, NOTE)
        damaged = soundness_of(ledger).damaged
    assert refused
    assert all("the ledger is damaged (entry #" in line and "put back a backup" in line for line in refused)
    assert any("is not as it was written" in one.what for one in damaged)


def test_a_kept_file_that_was_changed_is_told(tmp_path: Path) -> None:
    _behind_its_back(_begun(tmp_path), "UPDATE source_file SET content = X'00'")
    with open_ledger(tmp_path) as ledger:
        (damage,) = soundness_of(ledger).damaged
    assert "the file kept under" in damage.what


def test_the_hash_of_an_entry_stays_what_it_is(tmp_path: Path) -> None:
    """A ledger that stands must not be told as damaged: another way of hashing needs a form of its own."""
    with open_ledger(tmp_path, now=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as ledger:
        ledger.record_all(ledger.new_job("Roof"), every_kind())
        with ledger.reading() as session:
            rows = session.connection().exec_driver_sql("SELECT sha256 FROM entry_link ORDER BY number")
            newest = list(rows.scalars())[-1]
    assert newest == "6a03133a0beccfccbe08f0b4ca8e204fb521c4a3f415a7256af0f1b7da976665"


def test_a_zero_with_a_sign_is_no_change(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Roof")
        ledger.record(job, ReadingEntry("panel", "grey", (50.0, -0.0, 0.0), "D65", 10, u95=-0.0))
        assert [view.entry.lab for view in ledger.entries(job)] == [(50.0, 0.0, 0.0)]
        assert soundness_of(ledger).damaged == ()
