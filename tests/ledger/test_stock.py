"""Stock goes down by what was poured: what stood in the tin before isn't poured twice, and a new count begins anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.ledger import (
    BatchEntry,
    CorrectionEntry,
    JobView,
    Ledger,
    open_ledger,
    poured_since_count,
    remember_bank,
    remember_stock,
)

BANK = "Lowmere bank"
STOCK = {"white": 4000.0, "blue": 1000.0}


def _job(ledger: Ledger, title: str = "Roof", bank: str = BANK) -> JobView:
    job = ledger.new_job(title)
    remember_bank(ledger, job, bank, Path("/bench/bank"))
    return job


def _poured(ledger: Ledger, stock: dict[str, float] = STOCK) -> dict[str, float]:
    return poured_since_count(ledger, BANK, stock)


def test_what_was_poured_in_all_jobs_of_the_bank_goes_off_the_stock(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        roof, bonnet, other = _job(ledger), _job(ledger, "Bonnet"), _job(ledger, "Wing", "another bank")
        ledger.record(roof, BatchEntry((("white", 50.0),)))  # before it was counted
        remember_stock(ledger, BANK, STOCK)
        for job in (roof, bonnet, other):
            ledger.record(job, BatchEntry((("white", 300.0), ("blue", 20.0), ("white", 5.0))))
        ledger.record(other, BatchEntry((("blue", 7.0),), bank=BANK))  # a job may be mixed from two
        remember_bank(ledger, other, BANK, Path("/bench/bank"))
        remember_bank(ledger, other, "another bank", Path("/bench/other"))
        assert _poured(ledger) == {"white": 610.0, "blue": 47.0}


def test_an_addition_counts_once_and_a_part_set_aside_not_at_all(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = _job(ledger)
        remember_stock(ledger, BANK, STOCK)
        first = ledger.record(job, BatchEntry((("white", 300.0), ("blue", 20.0))))
        half = ledger.record(job, BatchEntry((("white", 150.0), ("blue", 10.0)), continues=first, share=0.5))
        assert _poured(ledger) == {"white": 300.0, "blue": 20.0}
        ledger.record(job, BatchEntry((("white", 150.0), ("blue", 10.0), ("blue", 1.5)), continues=half))
        assert _poured(ledger) == pytest.approx({"white": 300.0, "blue": 21.5})


def test_of_a_letdown_all_that_was_weighed_into_its_cup_goes_off_the_stock(tmp_path: Path) -> None:
    """1.5 g of blue in the cup, filled up to 15 g, 4 g of that back: 0.4 g of it come to bear."""
    with open_ledger(tmp_path) as ledger:
        job = _job(ledger)
        remember_stock(ledger, BANK, STOCK)
        first = ledger.record(job, BatchEntry((("white", 300.0), ("blue", 20.0))))
        letdown = ("blue", 2.0, 1.5, 15.0, 4.0)
        added = (("white", 6.0), ("blue", 2.4))
        wrong = ledger.record(
            job, CorrectionEntry(first, added, 0.03, True, {}, {}, letdowns=(("white", 1, 50, 500, 4),))
        )
        due = CorrectionEntry(first, added, 0.03, True, {}, {}, letdowns=(letdown,))
        ledger.record(job, due, supersedes=wrong, reason="the card was read anew")
        second = ledger.record(job, BatchEntry((("white", 306.0), ("blue", 22.4)), continues=first))
        assert _poured(ledger) == pytest.approx({"white": 306.0, "blue": 23.5})
        # a tin that goes on from that one has poured nothing of it again, nor has one without the tint
        ledger.record(job, BatchEntry((("white", 316.0), ("blue", 22.4)), continues=second))
        ledger.record(job, BatchEntry((("white", 305.0), ("blue", 20.0)), continues=first))
        assert _poured(ledger) == pytest.approx({"white": 321.0, "blue": 23.5})


def test_a_batch_that_was_mended_counts_as_it_stands(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = _job(ledger)
        remember_stock(ledger, BANK, STOCK)
        first = ledger.record(job, BatchEntry((("white", 300.0), ("blue", 200.0))))
        ledger.record(job, BatchEntry((("white", 300.0), ("blue", 20.0))), supersedes=first, reason="a tenth of it")
        assert _poured(ledger) == {"white": 300.0, "blue": 20.0}


def test_a_stock_that_was_counted_anew_begins_anew_for_that_tint_alone(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = _job(ledger)
        remember_stock(ledger, BANK, STOCK)
        ledger.record(job, BatchEntry((("white", 300.0), ("blue", 20.0))))
        filled = {**STOCK, "white": 9000.0}
        assert _poured(ledger, filled) == {"blue": 20.0}  # seen, and not kept yet
        remember_stock(ledger, BANK, filled)
        ledger.record(job, BatchEntry((("white", 100.0), ("blue", 10.0))))
        assert _poured(ledger, filled) == {"white": 100.0, "blue": 30.0}
        before = len(ledger.entries(job))
        remember_stock(ledger, BANK, filled)  # nothing new: the count isn't begun anew
        assert _poured(ledger, filled) == {"white": 100.0, "blue": 30.0}
        assert len(ledger.entries(job)) == before
