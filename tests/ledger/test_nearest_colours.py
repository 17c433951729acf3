"""By the index of a large record the same is found as by computing all, whatever was struck, replaced or put back."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import numpy as np
import pytest

from finishmatch.ledger import StrikeEntry, nearest_colours, open_ledger
from finishmatch.ledger.colour_trees import along_a_curve
from finishmatch.ledger.nearest_colours import FILE
from finishmatch.ledger.packed_cells import cells_of, edges_of
from finishmatch.steps.find import FindRequest, find
from tests.helpers import many_colours
from tests.helpers.colours_found import both_ways, colours_recorded, see_alike, see_same_found


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("recorded")
    with open_ledger(folder) as ledger:
        colours_recorded(ledger, np.random.default_rng(1), 8)
    return folder


@pytest.fixture
def record(recorded: Path, home: Path) -> Path:
    return Path(shutil.copytree(recorded, home, dirs_exist_ok=True))


def test_the_same_is_found_while_the_record_grows(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    r = np.random.default_rng(2)
    see_same_found(monkeypatch, r)
    assert (record / FILE).stat().st_mode & 0o777 == 0o600
    with open_ledger(record) as ledger:
        colours_recorded(ledger, r, 3)
        job = ledger.find_job("J1")
        standing = ledger.entries(job, current_only=True)
        ledger.record(job, StrikeEntry(standing[-1].number, "late"))
    see_same_found(monkeypatch, r)


def test_a_record_that_was_put_back_is_looked_through_anew(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The index has seen more than the record now holds, or other entries under the same numbers."""
    r = np.random.default_rng(3)
    shutil.copytree(record, record.with_name("kept"))
    with open_ledger(record) as ledger:
        colours_recorded(ledger, r, 2)
    both_ways(monkeypatch, "50,-4,-15", FindRequest())
    for file in record.glob("ledger.db*"):
        file.unlink()
    shutil.copy(record.with_name("kept") / "ledger.db", record)
    see_same_found(monkeypatch, r)
    with open_ledger(record) as ledger:
        colours_recorded(ledger, r, 3)
    see_same_found(monkeypatch, r)


@pytest.mark.parametrize("damage", [b"", b"no database at all", b"SQLite format 3\0" + bytes(4000)])
def test_an_index_that_is_damaged_is_made_anew(record: Path, monkeypatch: pytest.MonkeyPatch, damage: bytes) -> None:
    (record / FILE).write_bytes(damage)
    see_alike(*both_ways(monkeypatch, "50,-4,-15", FindRequest()))
    with sqlite3.connect(record / FILE) as database:
        assert database.execute("SELECT COUNT(*) FROM colour").fetchone()[0] > 0
    database.close()


def test_while_another_bay_makes_it_all_is_computed(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(nearest_colours, "_WAIT_S", 0.01)
    find("50,-4,-15", FindRequest())
    other = sqlite3.connect(record / FILE, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    found = both_ways(monkeypatch, "50,-4,-15", FindRequest())
    other.close()
    see_alike(*found)


def test_of_thousands_the_nearest_are_found(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_ledger(home) as ledger:
        many_colours.fill(ledger, monkeypatch)
        many_colours.see_the_nearest(ledger)


@pytest.mark.parametrize(
    "node",
    [
        b"", b"\0", b"\0\0\0\x09", b"\0\x01\0\x01" + bytes(1024), b"\xff\xff\0\x01" + bytes(1024),
        b"\0\x05\0\x01" + (1).to_bytes(8, "big") + b"\xc7\xc3\x50\x00\x47\xc3\x50\x00" * 3 + bytes(1024),
        b"\0\0\0\x01" + (10**9).to_bytes(8, "big") + b"\xc7\xc3\x50\x00\x47\xc3\x50\x00" * 3 + bytes(1024),
    ],
    ids=["empty", "cut short", "more cells than bytes", "of no node", "too deep", "its own child", "of no colour"],
)  # fmt: skip
def test_a_tree_that_is_damaged_is_made_anew(record: Path, monkeypatch: pytest.MonkeyPatch, node: bytes) -> None:
    both_ways(monkeypatch, "50,-4,-15", FindRequest())
    with sqlite3.connect(record / FILE) as database:
        changed = database.execute("UPDATE spectral_D65_10_node SET data = ? WHERE nodeno = 1", (node,)).rowcount
    database.close()
    assert changed == 1
    see_alike(*both_ways(monkeypatch, "50,-4,-15", FindRequest()))
    with sqlite3.connect(record / FILE) as database:
        kept = database.execute("SELECT data FROM spectral_D65_10_node WHERE nodeno = 1").fetchone()[0]
    database.close()
    assert bytes(kept) != node


def test_the_last_cells_hold_what_lies_beyond() -> None:
    r = np.random.default_rng(9)
    labs = np.concatenate([r.normal(0, 60, (200, 3)), r.normal(0, 3000, (200, 3)), [[1e5, -1e5, 999.9]]])
    low, high = edges_of(cells_of(labs))
    assert (low <= labs).all()
    assert (high >= labs).all()


def test_along_the_curve_the_next_colour_is_always_one_step_off() -> None:
    steps = np.stack(np.meshgrid(*[np.arange(16)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    place = along_a_curve(steps / 4.0 + np.array([0.1, -127.9, -127.9]))
    assert sorted(place.tolist()) == list(range(16**3))
    assert np.abs(np.diff(steps[np.argsort(place)], axis=0)).sum(axis=1).tolist() == [1] * (16**3 - 1)
