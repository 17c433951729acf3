"""Have we matched this before: the nearest colours of the record, exact in each light in which both are known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.ledger import BatchEntry, Nth, SprayOutEntry, StrikeEntry, TargetEntry, VerdictEntry, open_ledger
from finishmatch.steps.find import FindRequest, find
from tests.helpers.door_files import small_bank
from tests.helpers.ledger_samples import BLUE, PARTS, SPECTRUM, TARGET, WITHIN

Cli = Callable[..., Any]
LIGHTS = ("D65", "A", "F11")
LIGHTER = tuple(factor + 0.01 for factor in SPECTRUM)
SEEN = {light: tuple(reflectance_to_lab(np.array(SPECTRUM), light, 10).tolist()) for light in LIGHTS}


@pytest.fixture
def shop(home: Path) -> None:
    """Three jobs: one mixed and judged, one struck and replaced in part, one known in another light alone."""
    with open_ledger(home) as ledger:
        first = ledger.new_job("Roof")
        verdict: VerdictEntry = replace(WITHIN, lights={"D65": 0.31, "A": 0.42})
        card = SprayOutEntry(Nth(1), (39.4, -3.2, -19.9), LIGHTER, name="card 1")
        ledger.record_all(first, [replace(TARGET, lab=SEEN["D65"]), BatchEntry(PARTS), card, verdict])
        second = ledger.new_job("Bonnet")
        struck, replaced = ledger.record_all(second, [TARGET, replace(TARGET, name="once")])
        ledger.record(second, StrikeEntry(struck, "another colour"))
        ledger.record(second, TargetEntry("as typed", BLUE, "D65", 10), supersedes=replaced, reason="read anew")
        third = ledger.new_job("Door")
        ledger.record(third, TargetEntry("by lamp", BLUE, "A", 10))


@pytest.mark.usefixtures("shop")
def test_each_light_in_which_both_are_known_is_exact() -> None:
    found = find(np.array(LIGHTER), FindRequest(LIGHTS))
    card, target, *_ = found.found
    assert (card.job.ref, card.colour.kind, card.de00) == ("J1", "spray-out", pytest.approx(0, abs=1e-9))
    for light in LIGHTS:
        lighter = reflectance_to_lab(np.array(LIGHTER), light, 10)
        assert target.lights[light] == pytest.approx(float(de00(lighter, np.array(SEEN[light]))), abs=1e-12)
    typed = next(one for one in found.found if one.colour.name == "as typed")
    assert list(typed.lights) == ["D65"]
    assert [one.de00 for one in found.found] == sorted(one.de00 for one in found.found)


@pytest.mark.usefixtures("shop")
def test_what_was_mixed_and_how_near_it_came_stands_beside() -> None:
    document = find(np.array(LIGHTER)).as_dict()["found"][0]
    assert (document["job"], document["entry"], document["kind"]) == ("J1", 3, "spray-out")
    assert {part["tint"]: part["grams"] for part in document["mixed"]} == dict(PARTS)
    assert document["came_within"] == 0.42


@pytest.mark.usefixtures("shop")
def test_what_was_struck_or_replaced_is_not_found_and_a_job_does_not_find_itself() -> None:
    every = find(np.array(SPECTRUM), FindRequest(most=100))
    assert {one.colour.name for one in every.found if one.job.ref == "J2"} == {"as typed"}
    assert {one.job.ref for one in find("J1").found} == {"J2", "J3"}
    by_lamp = find("39,-4,-20")
    assert (by_lamp.looked_through, by_lamp.not_compared) == (4, 1)


@pytest.mark.usefixtures("shop")
def test_the_command_answers_no_where_nothing_lies_so_near(cli: Cli) -> None:
    assert cli("find", "95,0,2", "--within", 3).status == 1
    ran = cli("find", "Roof", "--json")
    assert (ran.status, set(ran.json["found"][0])) >= (0, {"job", "entry", "kind", "de00", "lights"})
    assert "mix COLOUR --like J1" in cli("find", "39.4,-3.2,-19.9").out
    assert "there is no such job" in cli("find", "J99").error
    assert "give 1 or more" in cli("find", "Roof", "--most", 0).error
    assert "give 0 or more" in cli("find", "Roof", "--within", -1).error


def test_a_record_of_one_job_says_that_it_holds_no_other_colour(cli: Cli, home: Path) -> None:
    with open_ledger(home) as ledger:
        ledger.record(ledger.new_job("Roof"), TARGET)
    ran = cli("find", "J1")
    assert (ran.status, ran.out.strip()) == (1, "the record holds no other colour that can be compared")


def test_without_a_record_it_says_so(cli: Cli) -> None:
    assert "there is no ledger yet" in cli("find", "50,0,0").error


@pytest.mark.usefixtures("shop")
def test_a_recipe_starts_from_what_was_mixed_before(cli: Cli, swatches: Path, tmp_path: Path) -> None:
    bank = small_bank(swatches / "bank", tmp_path / "four", ("white", "black", "blue", "violet", "green"))
    typed = ("mix", swatches / "target.csv", "--bank", bank, "--grams", 200, "--max-tints", 3)
    recipes = cli(*typed, "--like", "J1", "--json").json["recipes"]
    for recipe in recipes:
        assert len({part["tint"] for part in recipe["parts"]} - {tint for tint, _ in PARTS}) <= 1
    assert "has no formula yet" in cli(*typed, "--like", "J3").error
    assert "leave one of them out" in cli(*typed, "--like", "J1", "--near", swatches / "batch1.csv").error
