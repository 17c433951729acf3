"""A job is read once while a ledger is open, and anew as soon as anything was added to it, by whomever."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, NoteEntry, StrikeEntry, open_ledger
from finishmatch.ledger import book as book_room


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[str | None]:
    """The kinds that rows were read of, None for all, one for each reading."""
    seen: list[str | None] = []
    whole_rows = book_room.whole_rows

    def counted(session: object, job_id: int, kind: str | None = None) -> object:
        seen.append(kind)
        return whole_rows(session, job_id, kind)  # type: ignore[arg-type]

    monkeypatch.setattr(book_room, "whole_rows", counted)
    return seen


def test_a_job_is_read_once_until_something_is_added(home: Path, reads: list[str | None]) -> None:
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        ledger.record_all(job, [NoteEntry("one"), BatchEntry([("white", 10.0)])])
        reads.clear()
        first = ledger.entries(job)
        assert ledger.entries(job) == first
        assert [view.number for view in ledger.entries(job, kind=NoteEntry)] == [first[0].number]
        assert reads == [None]
        first.clear()  # what is given out is the caller's own
        assert len(ledger.entries(job)) == 2
        ledger.record(job, NoteEntry("two"))
        assert [view.kind for view in ledger.entries(job)] == ["note", "batch", "note"]
        assert reads == [None, None]


def test_one_kind_is_read_once_too_and_never_taken_for_the_whole(home: Path, reads: list[str | None]) -> None:
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        ledger.record_all(job, [NoteEntry("one"), BatchEntry([("white", 10.0)])])
        reads.clear()
        assert len(ledger.entries(job, kind=BatchEntry)) == len(ledger.entries(job, kind="batch")) == 1
        assert reads == ["batch"]
        assert len(ledger.entries(job)) == 2
        assert reads == ["batch", None]


def test_what_another_hand_adds_or_strikes_is_seen(home: Path) -> None:
    with open_ledger(home) as mine:
        job = mine.new_job("Roof")
        number = mine.record(job, NoteEntry("one"))
        assert [view.stands for view in mine.entries(job)] == [True]
        with open_ledger(home) as theirs:
            theirs.record(job, StrikeEntry(number, "of another job"))
        assert [view.stands for view in mine.entries(job)] == [False, True]
        with open_ledger(home) as theirs:
            theirs.record(job, NoteEntry("two"))
        assert len(mine.entries(job, kind=NoteEntry)) == 2


def test_a_job_without_entries_is_read_each_time_it_may_have_got_one(home: Path) -> None:
    with open_ledger(home) as ledger:
        job, other = ledger.new_job("Roof"), ledger.new_job("Door")
        assert ledger.entries(job) == []
        ledger.record(other, NoteEntry("of the door"))
        assert ledger.entries(job) == []
        ledger.record(job, NoteEntry("of the roof"))
        assert len(ledger.entries(job)) == 1
