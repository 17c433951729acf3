"""By the index of a large record the same is found as by computing all, whatever was struck, replaced or put back."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from finishmatch.ledger import Ledger, SprayOutEntry, StrikeEntry, TargetEntry, nearest_colours, open_ledger
from finishmatch.ledger.nearest_colours import FILE
from finishmatch.steps.find import FindRequest, Found, find
from tests.helpers.ledger_samples import TARGET

LIGHTS = ("D65", "A", "F11")


def _entry(r: np.random.Generator) -> TargetEntry | SprayOutEntry:
    """A target or a card: its spectrum known, or only its colour in one light or another; some of them nearly alike."""
    lab = (float(r.uniform(20, 90)), *map(float, r.normal(0, 25, 2)))
    if r.uniform() < 0.3:
        lab = (50.0 + float(r.normal(0, 0.02)), -4.0, -15.0)
    if r.uniform() < 0.4:
        return replace(TARGET, name="typed", lab=lab, light=str(r.choice(LIGHTS)), observer=10, reflectance=None)
    level, slope = r.uniform(0.05, 0.7), r.normal(0, 0.3)
    spectrum = tuple(np.clip(level * (1 + slope * np.linspace(-1, 1, 31)), 0.01, 1).tolist())
    return SprayOutEntry(None, lab, spectrum, name="card")


def _record(ledger: Ledger, r: np.random.Generator, jobs: int) -> None:
    """Add jobs in which some entries are struck, struck and restored, or replaced."""
    for number in range(jobs):
        job = ledger.new_job(f"Job {number}")
        entries = [_entry(r) for _ in range(6)]
        numbers = ledger.record_all(job, entries)
        if r.uniform() < 0.5:
            struck = ledger.record(job, StrikeEntry(numbers[0], "another colour"))
            if r.uniform() < 0.5:
                ledger.record(job, StrikeEntry(struck, "it was right"))
        if r.uniform() < 0.5:
            again = replace(entries[1], name="anew")
            newer = ledger.record(job, again, supersedes=numbers[1], reason="read anew")
            if r.uniform() < 0.5:
                ledger.record(job, StrikeEntry(newer, "it was the first"))


def _both(monkeypatch: pytest.MonkeyPatch, *asked: object) -> tuple[Found, Found]:
    """What is found by the index, and by computing all."""
    found = []
    for least in (1, 10**9):
        monkeypatch.setattr(nearest_colours, "LEAST", least)
        found.append(find(*asked))  # type: ignore[arg-type]
    return found[0], found[1]


def _see_alike(one: Found, other: Found) -> None:
    assert (one.looked_through, one.not_compared) == (other.looked_through, other.not_compared)
    assert [(each.job.ref, each.colour) for each in one.found] == [(each.job.ref, each.colour) for each in other.found]
    for mine, theirs in zip(one.found, other.found, strict=True):
        assert mine.lights == pytest.approx(theirs.lights, abs=1e-9)
        assert (mine.formula, mine.came_within) == (theirs.formula, theirs.came_within)


def _see_same(monkeypatch: pytest.MonkeyPatch, r: np.random.Generator) -> None:
    _see_alike(*_both(monkeypatch, "50,-4,-15", FindRequest(most=10_000)))
    for colour in ("50,-4,-15", "J2", np.full(31, 0.3), f"{r.uniform(20, 90):.2f},{r.normal():.2f},3"):
        for request in (FindRequest(most=3), FindRequest(most=5, within=2.0), FindRequest(("A", "D65"), 2, most=20)):
            _see_alike(*_both(monkeypatch, colour, request))


@pytest.fixture
def record(home: Path) -> Path:
    with open_ledger(home) as ledger:
        _record(ledger, np.random.default_rng(1), 8)
    return home


def test_the_same_is_found_while_the_record_grows(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    r = np.random.default_rng(2)
    _see_same(monkeypatch, r)
    assert (record / FILE).stat().st_mode & 0o777 == 0o600
    with open_ledger(record) as ledger:
        _record(ledger, r, 3)
        job = ledger.find_job("J1")
        standing = ledger.entries(job, current_only=True)
        ledger.record(job, StrikeEntry(standing[-1].number, "late"))
    _see_same(monkeypatch, r)


def test_a_record_that_was_put_back_is_looked_through_anew(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The index has seen more than the record now holds, or other entries under the same numbers."""
    r = np.random.default_rng(3)
    shutil.copytree(record, record.with_name("kept"))
    with open_ledger(record) as ledger:
        _record(ledger, r, 2)
    _both(monkeypatch, "50,-4,-15", FindRequest())
    for file in record.glob("ledger.db*"):
        file.unlink()
    shutil.copy(record.with_name("kept") / "ledger.db", record)
    _see_same(monkeypatch, r)
    with open_ledger(record) as ledger:
        _record(ledger, r, 3)
    _see_same(monkeypatch, r)


@pytest.mark.parametrize("damage", [b"", b"no database at all", b"SQLite format 3\0" + bytes(4000)])
def test_an_index_that_is_damaged_is_made_anew(record: Path, monkeypatch: pytest.MonkeyPatch, damage: bytes) -> None:
    (record / FILE).write_bytes(damage)
    _see_alike(*_both(monkeypatch, "50,-4,-15", FindRequest()))
    with sqlite3.connect(record / FILE) as database:
        assert database.execute("SELECT COUNT(*) FROM colour").fetchone()[0] > 0
    database.close()


def test_while_another_bay_makes_it_all_is_computed(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nearest_colours, "_WAIT_S", 0.01)
    find("50,-4,-15", FindRequest())
    other = sqlite3.connect(record / FILE, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    found = _both(monkeypatch, "50,-4,-15", FindRequest())
    other.close()
    _see_alike(*found)
