"""A tin is of the lots it was poured from, whatever is open on the shelf when its card is read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, open_ledger
from finishmatch.ledger.pouring import lots_in_tin
from finishmatch.steps.handover.kept_job import formula_in
from tests.cli.test_taught import BANK, card, lots, strengths, used
from tests.conftest import Ran

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
MIXED = "blue in this tin is of the lots A and B: what its card shows of it is kept for this tin alone"


@pytest.fixture
def poured(cli: Cli, bench: Path) -> Path:
    """A job with a tin poured from lots called A."""
    lots(bench, "A")
    cli("job", "new", "Roof")
    cli("job", "pour", "J1", "batch1.csv", *BANK)
    return bench


def of_blue(cli: Cli) -> str:
    """The lot that the newest strength has blue of."""
    entry = strengths(cli)[-1]["entry"]
    return dict(zip(entry["tints"], entry["lots"], strict=True))["blue"]


@pytest.mark.slow
def test_a_card_is_of_the_lots_that_were_open_when_it_was_poured(cli: Cli, poured: Path) -> None:
    lots(poured, "A", blue="B")
    ran = cli("job", "spray", "J1", "card1.csv", "--json").json
    assert of_blue(cli) == "A"
    assert any("blue was of lot A and is of lot B now" in said for said in ran["warnings"])
    cli("job", "new", "Door")
    assert "blue" not in used(cli, job="J2")  # of lot B nothing is known
    lots(poured, "A")
    assert "blue" in used(cli, job="J2")


@pytest.mark.slow
@pytest.mark.parametrize("by", ["spray", "correct"])
def test_a_tint_of_two_lots_is_a_tin_of_its_own(cli: Cli, home: Path, poured: Path, by: str) -> None:
    cli("job", "spray", "J1", "card1.csv")
    lots(poured, "A", blue="B")
    cli("job", "pour", "J1", "--to", "last", "blue=6")
    second = card(poured, 2, 0.97)
    line = ("job", "spray", "J1", second) if by == "spray" else ("correct", "target.csv", "--sprayed", second)
    ran = cli(*line, *(() if by == "spray" else ("--job", "J1")), "--json").json
    assert MIXED in ran["warnings"]
    assert not any("blue is a new tin" in said for said in ran["warnings"])
    assert of_blue(cli) == ""
    with open_ledger(home) as ledger:
        views = [view for view in ledger.entries(ledger.find_job("J1")) if view.stands]
    formula = formula_in(views, {}, "")
    assert formula is not None
    assert {part.tint: part.lot for part in formula.parts}["blue"] == "A and B"
    assert {part.lot for part in formula.parts if part.tint != "blue"} == {"A"}
    cli("job", "new", "Door")
    assert "blue" not in used(cli, job="J2")
    assert "white" in used(cli, job="J2")
    lots(poured, "A")
    assert "blue" in used(cli, job="J2")  # what the first card showed of lot A stands


@pytest.mark.slow
def test_what_is_added_of_other_tints_leaves_a_tint_of_its_lot(cli: Cli, poured: Path) -> None:
    cli("job", "spray", "J1", "card1.csv")
    lots(poured, "A", blue="B")
    cli("job", "pour", "J1", "--to", "last", "white=10")
    ran = cli("job", "spray", "J1", card(poured, 2, 1.01), "--json").json
    assert of_blue(cli) == "A"
    assert MIXED not in ran["warnings"]


def test_lots_are_those_of_all_that_was_poured_into_a_tin(home: Path) -> None:
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        parts = [("white", 100.0), ("blue", 5.0)]
        first = ledger.record(job, BatchEntry(parts, from_lots=[("white", "1"), ("blue", "1")]))
        half = ledger.record(job, BatchEntry([(t, g / 2) for t, g in parts], continues=first, share=0.5))
        more = ledger.record(job, BatchEntry([*parts, ("blue", 2.0)], continues=half, from_lots=[("blue", "2")]))
        old = ledger.record(job, BatchEntry(parts))
        views = ledger.entries(job)
    assert lots_in_tin(views, first) == lots_in_tin(views, half) == {"white": ("1",), "blue": ("1",)}
    assert lots_in_tin(views, more) == {"white": ("1",), "blue": ("1", "2")}
    assert lots_in_tin(views, old) == {}
