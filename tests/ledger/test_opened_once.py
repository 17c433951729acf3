"""A command opens its record once, sees in it what others do meanwhile, and leaves it closed."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import NoteEntry, on_disk, open_ledger
from finishmatch.opened_once import opening_each_time, opening_once
from finishmatch.steps.backup.back_up import back_up
from finishmatch.steps.backup.put_back import put_back

Openings = list[Path]


@pytest.fixture
def openings(monkeypatch: pytest.MonkeyPatch) -> Openings:
    """The files that were opened as ledgers, one for each time."""
    seen: Openings = []
    up_to_date = on_disk.bring_up_to_date

    def counted(engine: object, path: Path) -> None:
        seen.append(path)
        up_to_date(engine, path)  # type: ignore[arg-type]

    monkeypatch.setattr(on_disk, "bring_up_to_date", counted)
    return seen


@pytest.fixture
def begun(home: Path) -> Path:
    """A home with a job in it."""
    with open_ledger() as ledger:
        ledger.new_job("Roof")
    return home


def note(text: str) -> None:
    """Record a note, as a step does."""
    with open_ledger(create=False) as ledger:
        ledger.record(ledger.find_job("J1"), NoteEntry(text))


def notes() -> list[str]:
    """Return the notes of the job, as a step reads them."""
    with open_ledger(create=False) as ledger:
        return [getattr(view.entry, "text", "") for view in ledger.entries(ledger.find_job("J1"))]


def test_what_several_steps_do_is_done_in_one_opening_that_is_closed_at_the_end(
    begun: Path, openings: Openings
) -> None:
    openings.clear()
    with opening_once():
        note("one")
        assert notes() == ["one"]
        note("two")
        assert notes() == ["one", "two"]
    assert openings == [begun / "ledger.db"]
    assert [path.name for path in begun.glob("ledger.db*")] == ["ledger.db"]  # no log is left: nobody has it open
    note("three")
    assert notes() == ["one", "two", "three"]
    assert len(openings) == 3


def test_it_is_closed_too_where_a_command_ends_in_an_error(begun: Path) -> None:
    with pytest.raises(InputError, match="J7"), opening_once(), open_ledger(create=False) as ledger:
        ledger.find_job("J7")
    assert [path.name for path in begun.glob("ledger.db*")] == ["ledger.db"]


def test_a_command_opens_the_record_once(begun: Path, cli: Callable[..., object], openings: Openings) -> None:
    openings.clear()
    cli("job", "spray", "J1", "40,-4,-20")
    assert openings == [begun / "ledger.db"]


def test_what_another_bay_records_meanwhile_is_seen(begun: Path) -> None:
    with opening_once():
        note("mine")
        assert notes() == ["mine"]
        with opening_each_time(), open_ledger(begun) as theirs:
            theirs.record(theirs.find_job("J1"), NoteEntry("theirs"))
        assert notes() == ["mine", "theirs"]


def test_another_file_in_its_place_is_opened_for_itself(begun: Path, tmp_path: Path) -> None:
    shutil.copy(begun / "ledger.db", tmp_path / "ledger.db")
    with opening_once():
        note("gone")
        (tmp_path / "ledger.db").replace(begun / "ledger.db")
        (begun / "ledger.db-wal").unlink(missing_ok=True)
        assert notes() == []


def test_a_record_that_is_put_back_is_read_anew_though_it_has_as_many_entries(begun: Path, tmp_path: Path) -> None:
    note("of the backup")
    back_up(tmp_path / "kept.zip")
    with open_ledger() as ledger:
        other = ledger.new_job("Door")
    with opening_once():
        note("later")
        assert notes() == ["of the backup", "later"]
        put_back(tmp_path / "kept.zip")
        note("after it")
        assert notes() == ["of the backup", "after it"]
        with open_ledger(create=False) as ledger, pytest.raises(InputError, match=other.ref):
            ledger.find_job(other.ref)


def test_where_nobody_says_a_command_begins_each_step_opens_it(begun: Path, openings: Openings) -> None:
    openings.clear()
    note("one")
    notes()
    with opening_once(), opening_each_time():
        note("two")
        notes()
    assert len(openings) == 4


def test_one_that_can_only_be_read_is_read_as_it_stands_each_time(
    begun: Path, openings: Openings, monkeypatch: pytest.MonkeyPatch
) -> None:
    note("one")
    monkeypatch.setattr("finishmatch.ledger.entrance.writable", lambda path: False)
    monkeypatch.setattr(on_disk, "writable", lambda path: False)
    openings.clear()
    with opening_once():
        assert notes() == notes() == ["one"]
        with pytest.raises(InputError, match="can't be written in"):
            note("two")
    assert len(openings) == 3
