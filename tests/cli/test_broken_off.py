"""A pour that was broken off: what the tin lacks is what comes next, not a card of half a colour."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from finishmatch.ledger import BatchEntry, CorrectionEntry, RecipeEntry, open_ledger
from finishmatch.steps.job.next_step import next_step
from tests.conftest import Ran

Cli = Callable[..., Ran]
PARTS = (("white", 70.0), ("green", 35.0), ("soft black", 30.0), ("violet", 12.0))


@pytest.fixture
def recipe(cli: Cli) -> int:
    """The number of a recipe of four tints in J1."""
    cli("job", "new", "Door")
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        return ledger.record(
            job, RecipeEntry("a bank", "0" * 64, 147.0, PARTS, {"D65": 0.1}, None, None, None, 1, [45.0, -4.0, -17.0])
        )


def open_now() -> list[str]:
    """What is open in the one job."""
    return [item.what for item in next_step().jobs[0].open]


def test_a_tin_that_lacks_tints_of_its_recipe_is_not_told_to_be_sprayed(cli: Cli, recipe: int) -> None:
    cli("job", "pour", "J1", "white=70", "--recipe", recipe)
    batch = recipe + 1
    assert open_now() == [f"batch #{batch} lacks green, soft black, violet of recipe #{recipe}"]
    told = cli("next").out
    assert 'finishmatch job pour J1 green=G "soft black=G" violet=G' in told
    assert "or, if the tin is to do without:" in told
    assert "judge CARD" in told


def test_what_lacks_goes_into_that_tin_though_it_weighs_as_much_as_the_tin(cli: Cli, recipe: int) -> None:
    cli("job", "pour", "J1", "white=70", "--recipe", recipe)
    half_way = cli("job", "pour", "J1", "--check").out
    assert "35.0 to go" in half_way
    assert "add" not in half_way.split("still to go")[0]
    said = cli("job", "pour", "J1", "green=35").out
    assert f"taken as added to batch #{recipe + 1}" in said
    assert "70.0 to go" not in said
    assert open_now() == [f"batch #{recipe + 2} lacks soft black, violet of recipe #{recipe}"]
    cli("job", "pour", "J1", "soft black=30", "violet=12")
    assert open_now() == [f"batch #{recipe + 3} is not sprayed yet"]


def test_a_part_of_a_correction_leaves_the_rest_of_it_open(cli: Cli, recipe: int) -> None:
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry(PARTS, recipe=recipe))
        to_add = (("white", 5.0), ("orange", 1.0))
        correction = ledger.record(job, CorrectionEntry(batch, to_add, 0.04, True, {"D65": 0.2}, {}))
        ledger.record(job, BatchEntry((*PARTS, ("white", 5.0)), continues=batch))
    assert open_now() == [f"batch #{correction + 1} lacks orange of correction #{correction}"]


def test_what_a_correction_lacks_is_told_of_a_tin_added_to_twice(cli: Cli, recipe: int) -> None:
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry(PARTS, recipe=recipe))
        to_add = (("white", 5.0), ("orange", 1.0), ("green", 2.0))
        correction = ledger.record(job, CorrectionEntry(batch, to_add, 0.05, True, {"D65": 0.2}, {}))
        once = ledger.record(job, BatchEntry((*PARTS, ("white", 5.0)), continues=batch))
        twice = ledger.record(job, BatchEntry((*PARTS, ("white", 5.0), ("orange", 1.0)), continues=once))
    assert open_now() == [f"batch #{twice} lacks green of correction #{correction}"]


def test_what_was_sprayed_without_a_tint_is_not_asked_for_it(cli: Cli, recipe: int) -> None:
    cli("job", "pour", "J1", "--as", recipe, "violet=0")
    cli("job", "spray", "J1", "40,-10,5")
    assert not any("lacks" in what for what in open_now())
