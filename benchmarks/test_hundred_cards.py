"""What a hundred cards in the record cost a spray-out, over what it takes without any.

Without any it takes a fifth of a second on an idle machine of two cores: five times as much more is a second. The job
is new, and no recipe of it was asked for: the bank with its cards is worked out twice, before the card and with it.
"""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import numpy as np
import pytest

from benchmarks.ratios import tell
from finishmatch.colour import Floats
from finishmatch.ledger import BatchEntry, Ledger, Nth, SprayOutEntry, open_ledger, remember_bank
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank, keep_fit, open_bank
from finishmatch.steps.job.spray import spray
from finishmatch.steps.todays_tins import tins_in

pytestmark = pytest.mark.timed  # alone: what it divides by is a tenth of a second

BANK = Path(__file__).resolve().parent.parent / "swatches" / "bank"
JOBS, CARDS_EACH = 10, 10
MOST = 6.0
Parts = list[tuple[str, float]]


def _card(fitted: FittedBank, r: np.random.Generator) -> tuple[Parts, Floats]:
    optics = fitted.usable_optics
    grams = np.zeros(len(optics.names))
    grams[0] = 200.0
    grams[r.choice(len(grams), 3, replace=False)] += np.round(300 * r.dirichlet(np.ones(3)) + 1, 1)
    strengths = np.exp(0.1 * np.sin(np.arange(len(grams))))
    read = predicted_reflectance(optics.strengthened(strengths), grams) + 0.0005 * r.standard_normal(31)
    return [(name, float(g)) for name, g in zip(optics.names, grams, strict=True) if g > 0], np.clip(read, 1e-3, 1)


def _job_of(ledger: Ledger, fitted: FittedBank, r: np.random.Generator) -> None:
    """Record a job of ten cards, and what they showed."""
    assert fitted.folder is not None
    job = ledger.new_job("Roof")
    for _ in range(CARDS_EACH):
        parts, read = _card(fitted, r)
        ledger.record_all(job, [BatchEntry(parts), SprayOutEntry(Nth(0), (50.0, 0.0, 0.0), read.tolist())])
    remember_bank(ledger, job, fitted.bank.name, fitted.folder)
    for entry in tins_in(ledger, job, fitted, with_cards=False).caught_up:
        ledger.record(job, entry)


def _seconds(fitted: FittedBank, r: np.random.Generator) -> tuple[float, int]:
    """Return the processor time that a spray-out takes, and how many cards the bank as of today then holds."""
    assert fitted.folder is not None
    parts, read = _card(fitted, r)
    with open_ledger() as ledger:
        job = ledger.new_job("Door")
        ledger.record(job, BatchEntry(parts))
        remember_bank(ledger, job, fitted.bank.name, fitted.folder)
    start = time.process_time()
    told = spray(job.ref, Reading("card", read[None]))
    took = time.process_time() - start
    return took, told.as_dict()["bank_today"]["cards"]


def test_a_hundred_cards_in_the_record_cost_a_spray_out_five_times_itself_at_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(BANK, tmp_path / "bank")
    fitted = open_bank(tmp_path / "bank")
    keep_fit(fitted)
    r = np.random.default_rng(4)
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "empty"))
    alone = min(_seconds(fitted, r)[0] for _ in range(3))
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "full"))
    with open_ledger() as ledger:
        for _ in range(JOBS):
            _job_of(ledger, fitted, r)
    measured = [_seconds(fitted, r) for _ in range(3)]
    assert measured[0][1] == JOBS * CARDS_EACH + 1
    took = min(seconds for seconds, _ in measured)
    print(f"\na spray-out takes {alone:.2f} s of the processor, with a hundred cards in the record {took:.2f} s")
    tell("a spray-out, a hundred cards in the record", "the same with none", took / alone, MOST)
    assert took <= MOST * alone
