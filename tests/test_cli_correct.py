"""`correct`: the smallest addition that reaches the tolerance, and an honest answer when none does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Ran
from door_files import CORRECT, put, write

pytest_plugins = ["door_fixtures"]
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
    assert f"g into {POURED_G} g (growth " in text
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
    assert f"adding {100 * found['growth_needed']:.2g} % would reach it" in found["why"]
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
    assert "no addition reaches it, however large" in ran.json["why"]


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
