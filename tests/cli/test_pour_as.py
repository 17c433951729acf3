"""`job pour`: as a recipe with parts left out or in another weight, and of which recipe typed parts are taken to be."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.ledger import RecipeEntry, open_ledger
from tests.conftest import Ran

Cli = Callable[..., Ran]
OLD = (
    (("white", 205.0), ("green", 14.0), ("black", 6.1)),
    (("white", 196.2), ("green", 17.5), ("blue", 5.1), ("red oxide", 6.6)),
)
NEW = (("white", 198.8), ("green", 12.1), ("blue", 9.8), ("black", 4.3))


@pytest.fixture
def mixed(cli: Cli, home: Path) -> None:
    """A job that was mixed twice: the recipes #1 and #2, and #3 of the tins as they are known since."""
    cli("job", "new", "Wing")
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        ledger.record_all(job, [_recipe(parts, rank) for rank, parts in enumerate(OLD, 1)])
        ledger.record_all(job, [_recipe(NEW, 1)])


def _recipe(parts: tuple[tuple[str, float], ...], rank: int) -> RecipeEntry:
    grams = sum(grams for _, grams in parts)
    return RecipeEntry("a bank", "0" * 64, grams, parts, {"D65": 0.1}, None, None, None, rank, [45.0, -4.0, -17.0])


@pytest.mark.usefixtures("mixed")
def test_a_part_of_a_recipe_is_left_out_by_naming_it_with_0(cli: Cli) -> None:
    poured = cli("job", "pour", "J1", "--as", 3, "blue=0", "--json")
    assert poured.status == 0, poured.err
    assert {part["tint"]: part["grams"] for part in poured.json["parts"]} == {
        "white": 198.8, "green": 12.1, "black": 4.3
    }  # fmt: skip
    every = cli("job", "pour", "J1", "--as", 3, *(f"{tint}=0" for tint, _ in NEW))
    assert "nothing was poured: the weights come to 0" in every.error


@pytest.mark.usefixtures("mixed")
@pytest.mark.parametrize(
    ("grams", "said"),
    [
        ("1e9", "--grams: 1,000,000,000 g is no batch; give what it weighs, up to 1,000,000 g"),
        ("2250", "--grams: 2,250 g is 10 times what recipe #3 has (225 g); see where its point stands; with --anyway"),
        ("0.225", "--grams: 0.225 g is 1 in 1,000 of what recipe #3 has (225 g)"),
    ],
)
def test_a_weight_of_a_recipe_that_looks_like_a_slip_is_asked_about(cli: Cli, grams: str, said: str) -> None:
    assert said in " ".join(cli("job", "pour", "J1", "--as", 3, "--grams", grams).error.split())
    assert "batch" not in {entry["kind"] for entry in cli("job", "show", "J1", "--json").json["entries"]}


@pytest.mark.usefixtures("mixed")
def test_a_size_of_a_recipe_is_said_in_plain_figures(cli: Cli) -> None:
    taken = cli("job", "pour", "J1", "--as", 3, "--grams", 2250, "--anyway")
    assert "recipe #3 in a size of 1,000 %" in taken.out
    assert "recipe #3 in a size of 10 %" in cli("job", "pour", "J1", "--as", 3, "--grams", 22.5).out  # a trial


@pytest.mark.usefixtures("mixed")
def test_a_wrong_tint_is_asked_about_though_an_older_recipe_holds_it(cli: Cli) -> None:
    wrong = [f"{'red oxide' if tint == 'black' else tint}={grams}" for tint, grams in NEW]
    said = "red oxide (recipe #3): is not in it, and 4.3 g of black are; was it black?"
    assert said in " ".join(cli("job", "pour", "J1", *wrong).error.split())
    older = cli("job", "pour", "J1", *(f"{tint}={grams}" for tint, grams in OLD[1]), "--json")
    assert older.json["recorded"]["entry"]["recipe"] == 2  # which may still be poured
