"""`correct`: the smallest addition that reaches the tolerance, and an honest answer when none does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, put, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
KEYS = {"reachable", "additions", "growth", "lights", "strengths", "why", "warnings"}
POURED_G = 499.9  # of batch1.csv


def test_a_tin_is_brought_inside_by_adding(cli: Cli, bench: Path) -> None:
    ran = cli(*CORRECT, "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert set(found) >= KEYS
    assert found["reachable"] is True
    assert found["additions"]
    assert all(set(part) == {"tint", "grams"} and part["grams"] > 0 for part in found["additions"])
    added = sum(part["grams"] for part in found["additions"])
    assert found["growth"] == pytest.approx(added / POURED_G, abs=1e-6)
    assert max(found["lights"].values()) <= 0.5 < max(found["before"].values())
    assert set(found["strengths"]) == {"white", "blue", "soft black", "violet"}
    assert found["before"] == cli("compare", "target.csv", "card1.csv", "--json").json["lights"]
    text = cli(*CORRECT).out
    assert "strength of today's tins against the bank: " in text
    assert f"{added:g} g into {POURED_G} g adds {100 * found['growth']:.1f} % to the tin" in text
    assert "! The product's data sheet" in text


@pytest.mark.parametrize(("step", "smallest"), [(0.1, None), (0.5, None), (1, 2), (0.01, 0.05)])
def test_additions_are_what_the_scale_can_weigh(cli: Cli, bench: Path, step: float, smallest: float | None) -> None:
    line = (*CORRECT, "--scale-step", step, *(() if smallest is None else ("--smallest", smallest)))
    found = cli(*line, "--json").json
    assert found["reachable"] is True
    for part in found["additions"]:
        assert part["grams"] / step == pytest.approx(round(part["grams"] / step), abs=1e-6)
        assert part["grams"] >= (3 * step if smallest is None else smallest) - 1e-9


def test_a_tin_inside_already_is_left_alone(cli: Cli, bench: Path) -> None:
    ran = cli(*CORRECT, "--tolerance", "1", "--json")
    assert (ran.status, ran.json["reachable"], ran.json["additions"], ran.json["growth"]) == (0, True, [], 0)
    assert ran.json["lights"] == ran.json["before"]
    assert "already inside the tolerance in every light: add nothing" in cli(*CORRECT, "--tolerance", "1").out


def test_what_the_growth_limit_doesnt_allow_is_told_with_what_it_would_take(cli: Cli, bench: Path) -> None:
    line = ("correct", "54,-5.9,-15.6", *CORRECT[2:], "--tolerance", "1")
    free = cli(*line, "--max-growth", "3", "--json")
    assert (free.status, free.json["reachable"]) == (0, True)
    ran = cli(*line, "--max-growth", "0.02", "--json")
    found = ran.json
    assert (ran.status, ran.err, found["reachable"]) == (1, "", False)
    assert 0 <= found["growth"] <= 0.02 + 1e-9
    assert max(found["lights"].values()) <= max(found["before"].values())  # what it gives is no worse
    assert found["growth_needed"] == pytest.approx(free.json["growth"], rel=0.15)
    assert f"adding {100 * found['growth_needed']:.0f} % would reach it" in found["why"]
    fresh = found["fresh_batch"]
    assert sum(part["grams"] for part in fresh["parts"]) == pytest.approx(POURED_G, abs=1e-6)
    assert max(fresh["lights"].values()) <= 1
    text = cli(*line, "--max-growth", "0.02")
    assert text.status == 1
    assert "a fresh batch of 499.9 g by today's strengths" in text.out
    assert "the tolerance of 1 is not reached by adding" in text.out


def test_what_no_addition_reaches_is_told(cli: Cli, bench: Path) -> None:
    """The tin holds no red and the bank has none to add."""
    ran = cli("correct", "45,60,40", *CORRECT[2:], "--json")
    assert (ran.status, ran.json["reachable"], ran.json["growth_needed"]) == (1, False, None)
    assert "no addition reaches it, not even of 4 times the tin" in ran.json["why"]
    assert ran.json["fresh_batch"]["cheaper"] is None
    assert "nor does a fresh batch reach it: these tints" in cli("correct", "45,60,40", *CORRECT[2:]).out


@pytest.mark.slow
def test_the_scale_is_named_where_it_is_in_the_way(cli: Cli, bench: Path) -> None:
    coarse = cli(*CORRECT, "--tolerance", "0.3", "--scale-step", "10", "--json")
    assert (coarse.status, coarse.json["reachable"]) == (1, False)
    assert "the scale is in the way: in steps of 10 g with no part below 30 g" in coarse.json["why"]
    assert "however" not in coarse.json["why"]
    needed = coarse.json["scale_needed"]
    assert needed["step_g"] < 10
    assert f"a scale with steps of {needed['step_g']:g} g would reach it" in coarse.json["why"]
    finer = ("--scale-step", needed["step_g"], "--smallest", needed["smallest_g"])
    assert cli(*CORRECT, "--tolerance", "0.3", *finer, "--json").json["reachable"] is True
    large = cli(*CORRECT, "--tolerance", "0.3", "--smallest", "40", "--json").json
    assert large["scale_needed"]["step_g"] == 0.1
    assert f"parts from {large['scale_needed']['smallest_g']:g} g would reach it" in large["why"]


def test_the_trade_between_growth_and_difference_is_shown_where_the_limit_binds(cli: Cli, bench: Path) -> None:
    line = ("correct", "54,-5.9,-15.6", *CORRECT[2:], "--tolerance", "1", "--max-growth", "0.1")
    found = cli(*line, "--json").json
    growths = [row["growth"] for row in found["trade"]]
    assert growths == sorted(growths)
    assert growths[0] == 0
    assert found["growth"] in growths
    assert growths[-1] == found["growth_needed"]
    assert [row["worst"] for row in found["trade"]] == sorted((row["worst"] for row in found["trade"]), reverse=True)
    for row in found["trade"]:
        assert sum(part["grams"] for part in row["additions"]) == pytest.approx(row["growth"] * POURED_G, abs=1e-3)
        assert row["low"] <= row["worst"] + 0.1
        assert row["high"] >= row["worst"]
    assert found["trade"][0]["chance"] < 0.05
    assert found["trade"][-1]["chance"] > 0.7
    text = cli(*line).out
    assert "what adding more buys" in text
    assert "adds to the tin  worst ΔE00" in text
    assert cli(*CORRECT, "--json").json["trade"] == []


@pytest.mark.slow
def test_the_cheaper_way_is_told_with_grams(cli: Cli, bench: Path) -> None:
    line = ("correct", "55,-5.9,-15.4", *CORRECT[2:], "--tolerance", "1", "--max-growth", "0.1")

    def prices(white: float, others: float) -> None:
        tints = bench / "bank" / "tints.csv"
        rows = [row.split(",") for row in tints.read_text().splitlines()]
        for row in rows[1:]:
            row[5] = f"{white if row[0] == 'white' else others:g}"
        write(tints, "\n".join(",".join(row) for row in rows) + "\n")

    prices(10, 10)  # by weight alone: to make it light takes more white than a whole batch
    found = cli(*line, "--json").json
    fresh = found["fresh_batch"]
    needed = found["trade"][-1]["additions"]
    assert fresh["additions_cost"] == pytest.approx(sum(part["grams"] for part in needed) * 10 / 1000)
    assert fresh["cost"] == pytest.approx(POURED_G * 10 / 1000)
    assert fresh["cheaper"] is (fresh["cost"] < fresh["additions_cost"])
    prices(1, 200)  # what is added is nearly all white
    assert cli(*line, "--json").json["fresh_batch"]["cheaper"] is False
    assert "and is the cheaper way, if the tin holds" in cli(*line).out
    prices(200, 1)
    dear = ("correct", "60,-5,-13", *CORRECT[2:], "--tolerance", "1", "--max-growth", "0.1")
    assert cli(*dear, "--json").json["fresh_batch"]["cheaper"] is True
    assert "the cheaper way: adding what it takes costs" in cli(*dear).out
    # within the growth limit too, when what is added costs more than starting again
    free = cli(*dear[:-1], "9", "--json").json
    assert free["reachable"] is True
    assert free["fresh_batch"]["cheaper"] is True
    assert free["fresh_batch"]["parts"]
    assert cli(*CORRECT, "--json").json["fresh_batch"] is None


def test_the_stock_is_named_where_it_is_in_the_way(cli: Cli, bench: Path) -> None:
    tints = bench / "bank" / "tints.csv"
    rows = [row.split(",") for row in tints.read_text().splitlines()]
    write(tints, "\n".join(",".join([*row[:-1], "50"] if row[0] == "white" else row) for row in rows) + "\n")
    ran = cli("correct", "54,-5.9,-15.6", *CORRECT[2:], "--tolerance", "1", "--json")
    assert (ran.status, ran.json["growth_needed"], ran.json["fresh_batch"]["cheaper"]) == (1, None, None)
    assert "the stock is in the way: it takes " in ran.json["why"]
    assert "g of white (50 g are there)" in ran.json["why"]


def test_additions_keep_to_the_stock(cli: Cli, bench: Path) -> None:
    before = {part["tint"] for part in cli(*CORRECT, "--json").json["additions"]}
    tints = bench / "bank" / "tints.csv"
    rows = [line.split(",") for line in tints.read_text().splitlines()]
    write(tints, "\n".join(",".join([*row[:-1], "0"] if row[0] in before else row) for row in rows) + "\n")
    after = {part["tint"] for part in cli(*CORRECT, "--json").json["additions"]}
    assert before
    assert not before & after


def test_a_card_read_as_lab_is_judged_in_its_light_and_warns(cli: Cli, bench: Path) -> None:
    ran = cli(*put(CORRECT, "card1.csv", "45.54,-5.13,-16.5"), "--json")
    assert ran.status == 0
    assert list(ran.json["lights"]) == ["D65"]
    told = " ".join(ran.json["warnings"])
    assert "the spray-out is Lab only, so the tin is judged under D65, 10° alone" in told
    assert "the strengths are less certain than from a spectrum" in told


def test_what_it_found_is_recorded_with_its_files(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    ran = cli(*CORRECT, "--job", "J1", "--json")
    assert (ran.status, ran.err) == (0, "")
    entries = cli("job", "show", "J1", "--json").json["entries"]
    assert [e["kind"] for e in entries] == ["batch", "spray-out", "verdict", "correction", "strength"]
    batch, card, verdict, correction, _ = entries
    assert [source["name"] for source in batch["sources"]] == ["batch1.csv"]
    assert [source["name"] for source in card["sources"]] == ["card1.csv"]
    assert card["entry"]["batch"] == correction["entry"]["batch"] == batch["number"]
    assert verdict["entry"]["verdict"] == "outside"
    assert correction["entry"]["additions"] == ran.json["additions"]
    assert correction["entry"]["reachable"] is True
    assert "recorded in J1 as " in cli(*CORRECT, "--job", "J1").out
