"""What rests on an entry that is struck: the target its reading was weighed into, the recipe its target was for."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from finishmatch.ledger import ReadingEntry, RecipeEntry, TargetEntry, open_ledger
from finishmatch.steps.job.next_step import next_step
from tests.conftest import Ran

Cli = Callable[..., Ran]
LAB = [45.0, -4.0, -17.0]
TARGET = TargetEntry("survivors", LAB, "D65", 10, evidence=("tin", "wing"), weights=(("tin", 0.55), ("wing", 0.0)))
RECIPE = RecipeEntry("a bank", "0" * 64, 100.0, (("white", 100.0),), {"D65": 0.1}, None, None, None, 1, LAB)


@pytest.fixture
def job(cli: Cli) -> str:
    """J1: two readings, #1 and #2, the target #3 that was weighed of them, and its recipe #4."""
    cli("job", "new", "Door")
    readings = [ReadingEntry("evidence", name, LAB, "D65", 10) for name in ("tin", "wing")]
    with open_ledger() as ledger:
        ledger.record_all(ledger.find_job("J1"), [*readings, TARGET, RECIPE])
    return "J1"


def test_a_target_that_rests_on_a_reading_is_named_when_that_is_struck(cli: Cli, job: str) -> None:
    said = " ".join(cli("job", "strike", job, 1, "--why", "another paint").out.split())
    assert "target #3 rests on tin, which counts 55% in it, and stands as it was found" in said
    assert "target #" not in cli("job", "strike", job, 2, "--why", "counted nothing").out
    assert "target #3 rests" not in cli("job", "strike", job, 5, "--why", "it was the paint").out  # restored


def test_a_recipe_for_a_target_that_is_struck_is_not_told_to_be_poured(cli: Cli, job: str) -> None:
    cli("job", "strike", job, 3, "--why", "another paint")
    (item,) = next_step().jobs[0].open
    assert item.what == "recipe #4 was made while target #3 stood, which is struck: the job has no target now"
    assert "evidence weigh" in cli("next").out
    cli("job", "strike", job, 5, "--why", "it was the paint")
    (item,) = next_step().jobs[0].open
    assert item.what == "recipe #4 is not poured yet"


def test_where_another_target_stands_its_recipe_comes_next(cli: Cli, job: str) -> None:
    with open_ledger() as ledger:
        found = ledger.find_job(job)
        ledger.record_all(found, [TargetEntry("again", LAB, "D65", 10), RECIPE])
    cli("job", "strike", job, 5, "--why", "another paint")
    (item,) = next_step().jobs[0].open
    assert item.what == "recipe #6 was made while target #5 stood, which is struck: mix again, for target #3"
    assert item.needs == "recipe"
