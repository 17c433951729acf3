"""What is recorded comes back as it was, in order, with its files; and all of it or nothing."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import ENTRY_KINDS, BatchEntry, NoteEntry, Nth, ReadingEntry, StrikeEntry, open_ledger
from tests.helpers.ledger_samples import BLUE, DEFECT, FILM, NOTE, PARTS, RECIPE, SPECTRUM, every_kind, spray_out


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


def test_an_entry_of_every_kind_comes_back_as_it_was(home: Path) -> None:
    entries = [*every_kind(), StrikeEntry(Nth(0), "entered twice")]
    assert {entry.KIND for entry in entries} == set(ENTRY_KINDS)
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        numbers = ledger.record_all(job, entries)
    with open_ledger(home) as ledger:
        views = ledger.entries(job)
    assert [view.number for view in views] == numbers
    assert [view.kind for view in views] == [entry.KIND for entry in entries]
    for view, entry in zip(views, entries, strict=True):
        pointing = {name: at for name in entry.REFERS if (at := getattr(entry, name)) is not None}
        expected = {name: numbers[at] for name, at in pointing.items()}
        assert view.entry == type(entry)(**{**vars(entry), **expected})


def test_arrays_and_lists_are_kept_as_plain_values(home: Path) -> None:
    entry = ReadingEntry("tin", "a", np.array(BLUE), "D65", 10, reflectance=list(SPECTRUM), repeats=np.int64(2))
    assert entry == ReadingEntry("tin", "a", BLUE, "D65", 10, reflectance=SPECTRUM, repeats=2)
    assert all(type(value) is float for value in entry.lab)


def test_a_job_is_found_by_ref_or_title_whatever_the_capitals(home: Path) -> None:
    with open_ledger(home) as ledger:
        first = ledger.new_job("  Tarnbeck Six,  Saltmarsh Blue ", vehicle="drophead", colour_name="Saltmarsh Blue")
        second = ledger.new_job("Coupé")
        assert first.title == "Tarnbeck Six, Saltmarsh Blue"
        assert ledger.find_job("j1") == ledger.find_job("TARNBECK six, saltmarsh blue") == first
        assert ledger.find_job("COUPÉ") == second  # a letter and its accent apart is the same letter
        assert ledger.jobs() == [first, second]
        with pytest.raises(InputError, match="did you mean J1 'Tarnbeck Six, Saltmarsh Blue'"):
            ledger.find_job("Tarnbek Six, Saltmarsh")
        with pytest.raises(InputError, match="did you mean J1 'Tarnbeck"):
            ledger.find_job("saltmarsh")
        with pytest.raises(InputError, match="no such job"):
            ledger.find_job("J" + "9" * 40)


def test_two_jobs_of_one_title_are_told_apart_by_ref(home: Path) -> None:
    with open_ledger(home) as ledger:
        ledger.new_job("Roof")
        other = ledger.new_job("roof")
        with pytest.raises(InputError, match=r"2 jobs have this title \(J1, J2\); name the job by its ref"):
            ledger.find_job("ROOF")
        assert ledger.find_job("J2") == other


@pytest.mark.parametrize("title", ["", "   ", "J7", "j12", "a\x00b", "x" * 201, "a\udcffb"])
def test_a_title_that_could_not_be_found_again_is_refused(home: Path, title: str) -> None:
    with open_ledger(home) as ledger:
        with pytest.raises(InputError, match="title"):
            ledger.new_job(title)
        assert ledger.jobs() == []


def test_times_are_utc_by_the_clock_handed_in(home: Path) -> None:
    noon = datetime(2026, 3, 1, 12, 0, tzinfo=timezone(timedelta(hours=1)))
    with open_ledger(home, now=lambda: noon) as ledger:
        job = ledger.new_job("Roof")
        ledger.record(job, NOTE)
        assert (job.made_at, ledger.entries(job)[0].made_at) == ("2026-03-01T11:00:00Z", "2026-03-01T11:00:00Z")
        assert ledger.activity() == {job.id: (1, "2026-03-01T11:00:00Z")}
    with open_ledger(home) as ledger:
        number = ledger.record(job, NOTE)
        made_at = next(view.made_at for view in ledger.entries(job) if view.number == number)
        assert abs(datetime.fromisoformat(made_at) - datetime.now(UTC)) < timedelta(minutes=5)


def test_a_source_file_is_kept_whole_and_once(home: Path, tmp_path: Path) -> None:
    one, same, other = tmp_path / "a.csv", tmp_path / "b.csv", tmp_path / "c.bin"
    one.write_bytes(b"name,L,a,b\n")
    same.write_bytes(one.read_bytes())
    other.write_bytes(bytes(range(256)) * 40)
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        ledger.record(job, NOTE, sources=[one, other, one])
        ledger.record_all(job, [NOTE, NOTE], sources={1: [same]})
        first, second, third = ledger.entries(job)
        assert [name for name, _ in first.sources] == ["a.csv", "c.bin"]
        assert second.sources == ()
        assert third.sources == (("b.csv", first.sources[0][1]),)
        one.unlink()
        assert ledger.source_bytes(first.sources[0][1]) == b"name,L,a,b\n"
        assert ledger.source_bytes(first.sources[1][1]) == other.read_bytes()
        with pytest.raises(InputError, match="no file is kept under 0000"):
            ledger.source_bytes("0" * 64)
    database = sqlite3.connect(home / "ledger.db")
    assert database.execute("SELECT count(*) FROM source_file").fetchone() == (2,)
    database.close()


def test_entries_recorded_together_are_all_kept_or_none(home: Path, tmp_path: Path) -> None:
    source = tmp_path / "a.csv"
    source.write_text("x")
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        number = ledger.record(job, NOTE)
        for bad in ([RECIPE, BatchEntry(PARTS, recipe=number)], [RECIPE, BatchEntry(PARTS, recipe=99)]):
            with pytest.raises(InputError):
                ledger.record_all(job, bad, sources=[source])
        with pytest.raises(InputError, match=r"missing\.csv: there is no such file"):
            ledger.record_all(job, [RECIPE, NOTE], sources={1: [tmp_path / "missing.csv"]})
        assert [view.number for view in ledger.entries(job)] == [number]
        assert ledger.record_all(job, [RECIPE, BatchEntry(PARTS, recipe=Nth(0))]) == [number + 1, number + 2]
    database = sqlite3.connect(home / "ledger.db")
    assert database.execute("SELECT count(*) FROM source_file").fetchone() == (0,)
    database.close()


def test_an_entry_refers_only_to_its_own_job_and_the_right_kind(home: Path) -> None:
    with open_ledger(home) as ledger:
        one, other = ledger.new_job("Roof"), ledger.new_job("Bonnet")
        recipe, elsewhere = ledger.record(one, RECIPE), ledger.record(other, RECIPE)
        with pytest.raises(InputError, match=f"#{elsewhere}: belongs to job J2, not to J1"):
            ledger.record(one, BatchEntry(PARTS, recipe=elsewhere))
        with pytest.raises(InputError, match=f"#{recipe}: is a recipe, not a batch"):
            ledger.record(one, spray_out(recipe))


def test_what_makes_no_sense_is_refused_before_it_is_recorded() -> None:
    with pytest.raises(InputError, match="reading, lab: must be 3 numbers"):
        ReadingEntry("tin", "a", (1.0, 2.0), "D65", 10)
    with pytest.raises(InputError, match="reading, reflectance: must be 31 numbers"):
        ReadingEntry("tin", "a", BLUE, "D65", 10, reflectance=(0.1,))
    with pytest.raises(InputError, match="nan is not a number"):
        ReadingEntry("tin", "a", (1.0, 2.0, float("nan")), "D65", 10)
    with pytest.raises(InputError, match="white weighs -1 g"):
        BatchEntry((("white", -1.0),))
    with pytest.raises(InputError, match="no build reading"):
        type(FILM)("roof", 1, "primer", ())
    with pytest.raises(InputError, match="1 places for 2 readings"):
        type(FILM)("roof", 1, "primer", (60.0, 62.0), ("left",))
    with pytest.raises(InputError, match="size mm: is -1"):
        type(DEFECT)("crater", "roof", size_mm=-1)
    with pytest.raises(InputError, match="note, text: is empty"):
        NoteEntry("  ")
    with pytest.raises(InputError, match="can't be printed"):
        NoteEntry("\x1b[31mred")


def test_exposures_that_differ_only_in_spelling_are_counted_together(home: Path) -> None:
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        for kind, value in (("Air line", "2"), ("air  line", " 2"), ("gun", "HVLP 1"), ("gun", "hvlp 1")):
            ledger.record(job, type(DEFECT)("crater", "roof", exposures=((kind, value),)))
        assert ledger.entries(job)[2].entry.exposures == (("gun", "HVLP 1"),)
    database = sqlite3.connect(home / "ledger.db")
    asked = "SELECT kind, value_key, count(*) FROM exposure GROUP BY kind, value_key"
    assert database.execute(asked).fetchall() == [("air line", "2", 2), ("gun", "hvlp 1", 2)]
    plan = database.execute(f"EXPLAIN QUERY PLAN {asked}").fetchall()
    assert "USING COVERING INDEX" in plan[0][-1]  # a trace goes over a million of them
    database.close()
