"""A recipe whose tins aren't known well: half of it is poured, a card sprayed, and the rest is what mends it."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.ledger import CorrectionEntry, RecipeEntry, describe_entry, open_ledger
from finishmatch.mix.first_pour import first_pour
from finishmatch.mix.weighing import Scale
from finishmatch.steps.planned_pour import PourPlan, part_first
from tests.conftest import Ran
from tests.helpers.door_files import MIX, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
Parts = dict[str, float]


def first_of(cli: Cli, name: str) -> Any:
    """The first recipe, mixed for a job."""
    cli("job", "new", name)
    found = cli(*MIX, "--grams", 500, "--job", "J1", "--json").json["recipes"][0]
    assert found["first_pour"] is not None
    return found


def summed(parts: Sequence[dict[str, Any]]) -> Parts:
    """Grams by tint."""
    return {part["tint"]: part["grams"] for part in parts}


@pytest.fixture
def recipe(cli: Cli, bench: Path, home: Path) -> Any:
    """The recipe of a job on the bench."""
    return first_of(cli, "Roof")


def poured(cli: Cli, bench: Path, parts: Parts) -> dict[str, Any]:
    """What is recorded of a pour."""
    rows = "".join(f"{tint},{grams:g}\n" for tint, grams in parts.items())
    write(bench / "tin.csv", f"tint,grams\n{rows}")
    found: dict[str, Any] = cli("job", "pour", "J1", "tin.csv", "--json").json
    return found


def then_card(bench: Path) -> Path:
    """Another card, read as the first."""
    return Path(shutil.copy(bench / "card1.csv", bench / "card2.csv"))


def test_mix_tells_how_much_to_pour_first_and_the_job_keeps_it(cli: Cli, recipe: Any) -> None:
    share, whole = recipe["first_pour"]["share"], summed(recipe["parts"])
    assert share in (0.5, 0.75)
    for tint, grams in summed(recipe["first_pour"]["parts"]).items():
        assert grams == pytest.approx(share * whole[tint], abs=0.051)
    with open_ledger() as ledger:
        first, *_ = ledger.entries(ledger.find_job("J1"), kind="recipe")
    assert isinstance(first.entry, RecipeEntry)
    assert first.entry.first_share == share
    assert f"at first {'half' if share == 0.5 else 'three quarters'} of it" in describe_entry(first.entry)
    told = cli("next", "J1").out
    assert f"--grams {share * 500:g}" in told
    said = cli("job", "pour", "J1", "--as", first.number, "--grams", share * 500).out
    assert "as it says to pour before the first card" in said
    assert "every part is as" in said


def test_judge_tells_the_rest_and_it_is_poured_as_any_addition(cli: Cli, bench: Path, recipe: Any) -> None:
    half = summed(recipe["first_pour"]["parts"])
    stands = poured(cli, bench, half)["stands"]
    assert stands["plan"]["size"] == recipe["first_pour"]["share"]
    assert not stands["overshot"]
    judged = cli("judge", "card1.csv", "--job", "J1")
    assert "pour the rest of the batch" in judged.out
    assert "fills it up to 500.0 g" in judged.out
    found = cli("judge", "--job", "J1", "--json").json["correction"]
    assert found["fills_to"] == 500.0
    assert found["growth"] == 0
    rest = summed(found["additions"])
    assert sum(rest.values()) == pytest.approx(500 - sum(half.values()), abs=0.2)
    with open_ledger() as ledger:
        entry = ledger.entries(ledger.find_job("J1"), kind="correction", current_only=True)[-1].entry
    assert isinstance(entry, CorrectionEntry)
    assert entry.fills_to == 500.0
    assert "fills it up to 500.0 g" in describe_entry(entry)
    whole = {tint: round(half.get(tint, 0.0) + rest.get(tint, 0.0), 6) for tint in {**half, **rest}}
    then = poured(cli, bench, whole)["stands"]
    assert then["plan"]["kind"] == "correction"
    assert all(line["to_go"] == 0 for line in then["lines"])
    # the tin is whole now: what is added to it next makes it grow, and a card that is inside leaves nothing open
    card = then_card(bench)
    cli("job", "spray", "J1", card)
    assert cli("compare", card, card, "--job", "J1").status == 0
    assert not any("rest" in item["what"] for item in cli("job", "show", "J1", "--json").json["open"])
    refused = cli("judge", "card1.csv", "--job", "J1")  # from the shell's history
    assert refused.status == 2
    assert "is recorded as the card of batch #" in refused.err
    assert "spray a card of the tin and read it; with --anyway it is taken as it is" in refused.err
    assert cli("job", "spray", "J1", "card1.csv").status == 2
    again = cli("judge", "card1.csv", "--job", "J1", "--json", "--anyway").json["correction"]
    assert again["fills_to"] is None


def test_who_wants_no_more_of_it_or_more_says_so(cli: Cli, bench: Path, recipe: Any) -> None:
    half = summed(recipe["first_pour"]["parts"])
    poured(cli, bench, half)
    kept = cli("judge", "card1.csv", "--job", "J1", "--fill-to", sum(half.values()), "--json").json["correction"]
    assert kept["fills_to"] is None
    assert sum(summed(kept["additions"]).values()) <= 0.2 * sum(half.values()) + 1e-9
    more = cli("judge", "--job", "J1", "--fill-to", "0.8 kg", "--json").json["correction"]
    assert more["fills_to"] == 800.0
    assert sum(summed(more["additions"]).values()) == pytest.approx(800 - sum(half.values()), abs=0.2)


def test_a_recipe_that_was_poured_whole_lacks_nothing_and_nobody_knows_of_a_tin_that_was_parted(
    cli: Cli, bench: Path, recipe: Any
) -> None:
    stands = poured(cli, bench, summed(recipe["parts"]))["stands"]
    assert stands["plan"]["size"] == 1
    assert cli("judge", "card1.csv", "--job", "J1", "--json").json["correction"]["fills_to"] is None
    poured(cli, bench, summed(recipe["first_pour"]["parts"]))
    assert cli("job", "pour", "J1", "--set-aside", "50 g").status == 0
    assert cli("judge", "card1.csv", "--job", "J1", "--json", "--anyway").json["correction"]["fills_to"] is None


def test_without_a_job_it_is_said_how_much_is_wanted(cli: Cli, bench: Path, recipe: Any) -> None:
    half = "".join(f"{tint},{grams:g}\n" for tint, grams in summed(recipe["first_pour"]["parts"]).items())
    write(bench / "half.csv", f"tint,grams\n{half}")
    line = ("correct", "target.csv", "--bank", "bank", "--batch", "half.csv", "--sprayed", "card1.csv")
    assert cli(*line, "--json").json["fills_to"] is None
    assert cli(*line, "--fill-to", 500, "--json").json["fills_to"] == 500.0
    for wrong in ("0", "-5", "nan", "1e9"):
        error = cli(*line, "--fill-to", wrong).error
        assert "fill" in error


def test_a_part_on_the_scale_is_of_the_half_until_more_is_poured(cli: Cli, bench: Path, recipe: Any) -> None:
    (tint, grams), *_ = summed(recipe["parts"]).items()
    share = recipe["first_pour"]["share"]
    one = cli("job", "pour", "J1", f"{tint}={share * grams:g}", "--check", "--json").json["stands"]
    assert one["plan"]["size"] == share
    assert one["lines"][0]["to_go"] == 0
    whole = cli("job", "pour", "J1", f"{tint}={grams:g}", "--check", "--json").json["stands"]
    assert whole["plan"]["size"] == 1
    assert whole["lines"][0]["to_go"] == 0


def test_the_rest_of_a_part_is_open_when_its_card_was_only_compared(cli: Cli, bench: Path, recipe: Any) -> None:
    poured(cli, bench, summed(recipe["first_pour"]["parts"]))
    assert cli("job", "spray", "J1", "card1.csv").status == 0
    assert cli("compare", "target.csv", "card1.csv", "--tolerance", 5, "--job", "J1").status == 0
    (item,) = cli("next", "J1", "--json").json["jobs"][0]["open"]
    assert item["kind"] == "batch"
    assert "how to pour the rest isn't worked out" in item["what"]
    assert item["next"] == "finishmatch correct --job J1"
    assert "fills it up to 500.0 g" in cli("correct", "--job", "J1").out
    (item,) = cli("next", "J1", "--json").json["jobs"][0]["open"]
    assert item["kind"] == "correction"


@pytest.mark.parametrize("size", [1.0, 0.4999124189875635, 0.5, 0.51])
def test_half_of_an_odd_tenth_is_the_same_on_the_scale_as_in_the_recipe(size: float) -> None:
    parts, scale = (("white", 363.7), ("ochre", 161.0), ("green", 46.2), ("black", 29.1)), Scale()
    said = first_pour(parts, np.eye(4) * 0.3**2, scale)
    assert said is not None
    planned = part_first(PourPlan(3, "recipe", parts, first_share=said.share).of_size(size), (), scale)
    assert planned.parts == said.parts


def test_a_rest_that_is_typed_a_little_off_goes_into_its_tin_and_half_of_the_recipe_into_another(
    cli: Cli, bench: Path, recipe: Any
) -> None:
    half = summed(recipe["first_pour"]["parts"])
    tin = {**half, "white": half["white"] + 2.0}
    poured(cli, bench, tin)
    rest = summed(cli("judge", "card1.csv", "--job", "J1", "--json").json["correction"]["additions"])
    more = sum(tin.values()) - sum(rest.values())  # so that it weighs as the tin does
    typed = {**rest, "white": rest["white"] + more}

    def held_against(parts: Parts) -> Any:
        given = [f"{tint}={grams:.1f}" for tint, grams in parts.items()]
        return cli("job", "pour", "J1", *given, "--check", "--json").json["stands"]["plan"]["kind"]

    assert held_against(typed) == "correction"
    assert held_against(half) == "recipe"


def test_all_of_a_recipe_is_its_whole_though_small_parts_are_the_same_in_both() -> None:
    cream = (("white", 486.7), ("ochre", 1.9), ("soft black", 0.3), ("clean yellow", 0.3))
    plan = PourPlan(6, "recipe", cream, first_share=0.5)
    assert part_first(plan, cream, Scale()).size == 1.0
    half = (("white", 243.4), ("ochre", 1.0), ("soft black", 0.3), ("clean yellow", 0.3))
    assert part_first(plan.of_size(0.5), half, Scale()).part == "half"
    assert part_first(plan, half[:1], Scale()).part == "half"
