"""A ledger with a damaged byte tells what it told before, or says what is lost; one cut off at any write is sound."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import (
    BankTint,
    NoteEntry,
    bank_of_job,
    mark_exposure,
    marks_made,
    open_ledger,
    poured_since_count,
    remember_bank,
    remember_stock,
    soundness_of,
    tints_of_bank,
)
from finishmatch.ledger.book import Ledger
from tests.helpers.ledger_samples import every_kind

COPIES = int(os.environ.get("FINISHMATCH_DAMAGED", "40"))
BANK = "Lowmere bank"
TINTS = (
    BankTint("white", "tint", "PW6", 1.4, "L 1", ("dust",), "the data sheet"),
    BankTint("blue", "tint", "PB15:3", 1.1),
)
STOCK = {"white": 4000.0, "blue": 812.5}


def _begun(home: Path) -> Path:
    source = home / "card.csv"
    source.write_text("name,L,a,b\n")
    with open_ledger(home, now=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as ledger:
        job = ledger.new_job("Tarnbeck Six, roof")
        remember_bank(ledger, job, BANK, Path("/shop/bank"), TINTS)
        remember_stock(ledger, BANK, STOCK)
        ledger.record_all(job, every_kind(), sources=[source])
        mark_exposure(ledger, ("air line", "2"), "suspect", "oil in the filter", job)
        mark_exposure(ledger, ("air line", "2"), "cleared", "new filter")
        ledger.new_job("Bonnet, nothing yet")
    return home / "ledger.db"


def _told(ledger: Ledger) -> list[Any]:
    """What a ledger tells, part by part; what it says is lost stands for itself."""
    jobs = ledger.jobs()
    asked = [lambda job=job: (job, ledger.entries(job), bank_of_job(ledger, job)) for job in jobs]
    asked += [
        lambda: tints_of_bank(ledger, BANK),
        lambda: poured_since_count(ledger, BANK, STOCK),
        lambda: marks_made(ledger),
    ]
    told: list[Any] = [len(jobs)]
    for ask in asked:
        try:
            told.append(ask())
        except InputError:
            told.append(None)
    return told


CHANGES = {
    "the bank of a job": "UPDATE job_bank SET bank = 'Another bank'",
    "where a bank lies": "UPDATE job_bank SET folder = '/elsewhere'",
    "a stock count": "UPDATE stock_count SET stock_g = stock_g * 2 WHERE tint = 'white'",
    "a count that is lost": "DELETE FROM stock_count WHERE tint = 'white'",
    "what harms in a tint": "UPDATE bank_tint SET hazards = '[]' WHERE tint = 'white'",
    "a mark": "UPDATE quarantine SET state = 'suspect'",
    "a mark that is lost": "DELETE FROM quarantine WHERE id = 2",
    "the hash of a row": "UPDATE row_link SET sha256 = lower(hex(randomblob(32))) WHERE kept_in = 'bank_tint'",
    "a job with nothing in it": "UPDATE job SET title = 'Door' WHERE id = 2",
}


@pytest.mark.parametrize("statement", CHANGES.values(), ids=CHANGES)
def test_what_stands_beside_the_entries_is_told_when_it_was_changed(tmp_path: Path, statement: str) -> None:
    path = _begun(tmp_path)
    with open_ledger(tmp_path) as ledger:
        right = _told(ledger)
        assert None not in right
        assert soundness_of(ledger).damaged == ()
    database = sqlite3.connect(path)
    for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        database.execute(f"DROP TRIGGER {name}")
    assert database.execute(statement).rowcount > 0
    database.commit()
    database.close()
    with open_ledger(tmp_path) as ledger:
        told = _told(ledger)
        assert None in told
        assert all(now in (None, before) for now, before in zip(told, right, strict=True))
        assert soundness_of(ledger).damaged


@pytest.mark.slow
def test_a_ledger_with_a_damaged_byte_tells_the_same_or_says_what_is_lost(tmp_path: Path) -> None:
    path = _begun(tmp_path)
    with open_ledger(tmp_path) as ledger:
        right = _told(ledger)
    whole, dice = path.read_bytes(), random.Random(1934)
    used = [at for at in range(100, len(whole)) if whole[at]]  # most of a small ledger is empty pages
    opened = lost = 0
    for _ in range(COPIES):
        at = dice.choice(used)
        path.write_bytes(whole[:at] + bytes([whole[at] ^ (1 << dice.randrange(8))]) + whole[at + 1 :])
        try:
            with open_ledger(tmp_path, create=False) as ledger:
                told = _told(ledger)
                damaged = soundness_of(ledger).damaged
        except InputError:
            continue
        opened += 1
        lost += None in told
        assert len(told) == len(right), at
        assert all(now in (None, before) for now, before in zip(told, right, strict=True)), at
        assert damaged or told == right, at
    assert opened > COPIES // 4
    assert lost > 0


def test_a_ledger_cut_off_at_any_write_is_sound_and_holds_what_was_acknowledged(tmp_path: Path) -> None:
    home, cut_off = tmp_path / "home", tmp_path / "cut"
    cut_off.mkdir()
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
    base = (home / "ledger.db").read_bytes()
    log = home / "ledger.db-wal"
    holding = sqlite3.connect(home / "ledger.db")  # as long as somebody has it open, the log stays
    holding.execute("SELECT count(*) FROM job").fetchone()
    told = []
    for text in ("one", "two", "three"):
        with open_ledger(home) as ledger:
            ledger.record_all(job, [NoteEntry(text), NoteEntry(f"{text} again")])
        told.append((log.stat().st_size, [text, f"{text} again"]))
    whole = log.read_bytes()
    holding.close()
    frame, head = 4096 + 24, 32
    cuts = {head + at * frame // 2 for at in range(2 * (len(whole) - head) // frame + 1)}
    assert len(cuts) > 30
    for cut in sorted(cuts | {0, 10, len(whole)}):
        shutil.rmtree(cut_off)
        cut_off.mkdir()
        (cut_off / "ledger.db").write_bytes(base)
        (cut_off / "ledger.db-wal").write_bytes(whole[:cut])
        with open_ledger(cut_off) as ledger:
            kept = [view.entry.text for view in ledger.entries(job) if isinstance(view.entry, NoteEntry)]
            assert soundness_of(ledger).damaged == ()
        acknowledged = [text for size, texts in told if size <= cut for text in texts]
        assert kept[: len(acknowledged)] == acknowledged, cut
        assert len(kept) % 2 == 0, "what is recorded together stands together"
