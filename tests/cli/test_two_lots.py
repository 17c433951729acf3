"""A tin is of the lots it was poured from, whatever is open on the shelf when its card is read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, RecipeEntry, open_ledger
from finishmatch.ledger.pouring import grams_of_lots, lots_in_tin
from finishmatch.mix.weighing import Scale
from finishmatch.optics.strength import PRIOR_SD
from finishmatch.steps.bank import open_bank
from finishmatch.steps.cards_of_tin import earlier_cards
from finishmatch.steps.handover.kept_job import formula_in
from finishmatch.steps.job.on_the_scale import WeighRequest, pour_part
from finishmatch.steps.todays_tins import tins_in
from tests.cli.test_taught import BANK, card, lots, strengths, used
from tests.conftest import Ran

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
BATCH = (("white", 444.2), ("blue", 28.7), ("soft black", 25.4), ("violet", 1.6))
MIXED = (
    "blue in this tin is of the lots A and B (28.7 g and 6 g): it counts as strong as these together, what is to be "
    "added of it too; what its card shows of it is kept for this tin alone, and tells little of either lot"
)


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
def test_a_tint_of_two_lots_is_as_strong_as_these_together(cli: Cli, home: Path, poured: Path) -> None:
    """It was taken as a tin nothing is known of, though most of it was sprayed before."""

    def blue_of(number: int) -> tuple[float, float]:
        with open_ledger(home) as ledger:
            prior = tins_in(ledger, ledger.find_job("J1"), open_bank(poured / "bank"), batch=number).prior
        assert prior is not None
        return float(prior.chosen(["blue"]).log_mean[0]), float(prior.chosen(["blue"]).sd[0])

    first = cli("job", "show", "J1", "--json").json["entries"][-1]["number"]
    cli("job", "spray", "J1", "card1.csv")
    lots(poured, "A", blue="B")
    second = cli("job", "pour", "J1", "--to", "last", "blue=7.175", "--json").json["recorded"]["number"]
    (mean, sd), (was, _) = blue_of(second), blue_of(first)
    assert abs(was) > 0.05
    assert mean == pytest.approx(0.8 * was, abs=0.01)  # a fifth of it is of a tin nothing is known of
    assert sd < 0.9 * PRIOR_SD
    cli("job", "spray", "J1", card(poured, 2, 0.98))
    assert blue_of(second)[0] != pytest.approx(mean, abs=0.005)  # by its own card now


@pytest.mark.slow
def test_the_cards_of_a_tin_before_another_lot_was_poured_are_of_another_tin(
    home: Path, poured: Path, cli: Cli
) -> None:
    cli("job", "spray", "J1", "card1.csv")
    fitted, parts = open_bank(poured / "bank"), dict(BATCH)
    for lot, counted in (("A", 1), ("B", 0)):
        lots(poured, "A", blue=lot)
        cli("job", "pour", "J1", "--to", "last", "blue=6")
        parts["blue"] += 6
        with open_ledger(home) as ledger:
            views = ledger.entries(ledger.find_job("J1"))
        assert len(earlier_cards(fitted, views, tuple(parts.items()), Scale())) == counted
        told = cli("predict", "--job", "J1", "--json").json
        assert (told["by_card"] is not None) == bool(counted)
        said = "it was sprayed before a tint of another lot was poured in"
        assert any(said in warning for warning in told["warnings"]) != bool(counted)


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


def test_grams_are_told_by_lot_where_all_lots_are_known(home: Path) -> None:
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        parts = [("white", 100.0), ("blue", 5.0)]
        first = ledger.record(job, BatchEntry(parts, from_lots=[("white", "1"), ("blue", "1")]))
        half = ledger.record(job, BatchEntry([(t, g / 2) for t, g in parts], continues=first, share=0.5))
        more = [("white", 50.0), ("blue", 2.5), ("blue", 2.0)]
        second = ledger.record(job, BatchEntry(more, continues=half, from_lots=[("blue", "2")]))
        third = ledger.record(job, BatchEntry([*more, ("white", 3.0)], continues=second))
        views = ledger.entries(job)
    assert grams_of_lots(views, second) == {"white": {"1": 50.0}, "blue": {"1": 2.5, "2": 2.0}}
    assert grams_of_lots(views, third) == {"blue": {"1": 2.5, "2": 2.0}}  # of what white was added isn't known


def test_a_tin_opened_in_the_middle_of_a_weigh_out_leaves_what_was_poured_of_the_old_one(
    home: Path, bench: Path, cli: Cli
) -> None:
    lots(bench, "A")
    cli("job", "new", "Roof")
    with open_ledger(home) as ledger:
        entry = RecipeEntry("a bank", "0" * 64, 499.9, BATCH, {"D65": 0.1}, None, None, None, 1, [45.0, -4.0, -17.0])
        plan = ledger.record(ledger.find_job("J1"), entry)
    request = WeighRequest(bank=bench / "bank")
    pour_part("J1", BATCH[0], plan=plan, tin=None, request=request)
    pour_part("J1", ("blue", 20.0), plan=plan, tin=plan + 1, request=request)
    lots(bench, "A", blue="B")
    pour_part("J1", ("blue", 8.7), plan=plan, tin=plan + 2, request=request)
    with open_ledger(home) as ledger:
        assert lots_in_tin(ledger.entries(ledger.find_job("J1")), plan + 3) == {"white": ("A",), "blue": ("A", "B")}
