"""A tin that was broken off and added to at the terminal is finished on the bench page: what lacks goes into it."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, CorrectionEntry, RecipeEntry, SprayOutEntry, open_ledger
from finishmatch.steps.job.next_step import next_step
from finishmatch.steps.job.on_the_scale import OnTheScale, on_the_scale, pour_part
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.poured_tin import PourRequest
from finishmatch.steps.job.taken_back import take_back
from tests.bench.conftest import Browser
from tests.helpers.kept_ledger import put_ledger

PARTS = (("white", 70.0), ("green", 35.0), ("soft black", 30.0), ("violet", 12.0))


@pytest.fixture
def recipe(home: Path) -> int:
    """The number of a recipe of four tints in J1."""
    put_ledger(home, ["job new Door"])
    with open_ledger(home) as ledger:
        entry = RecipeEntry("a bank", "0" * 64, 147.0, PARTS, {"D65": 0.1}, None, None, None, 1, [45.0, -4.0, -17.0])
        return ledger.record(ledger.find_job("J1"), entry)


def to_go(now: OnTheScale) -> dict[str, float]:
    """What is still to be poured."""
    return {line.tint: line.to_go_g for line in now.lines if line.to_go_g > 0}


def batches() -> list[tuple[int, BatchEntry]]:
    """The batches that stand, with their numbers."""
    with open_ledger() as ledger:
        views = ledger.entries(ledger.find_job("J1"), kind=BatchEntry)
    return [(view.number, view.entry) for view in views if view.stands and isinstance(view.entry, BatchEntry)]


def test_what_a_recipe_lacks_is_weighed_into_the_tin(recipe: int, browser: Browser) -> None:
    pour("J1", PARTS[:1], PourRequest(recipe=recipe))
    pour("J1", PARTS[1:2])
    now = on_the_scale("J1")
    assert (now.plan, now.grams) == (recipe, 105.0)
    assert to_go(now) == {"soft black": 30.0, "violet": 12.0}
    page = browser.text("/job/J1/weigh")
    assert "There is nothing to pour" not in page
    assert 'id="tint">soft black<' in page
    assert "in the tin 105.0 g" in page
    browser.post("/job/J1/weigh", {"plan": str(recipe), "tin": str(now.tin), "tint": "soft black", "as_planned": "30"})
    now = on_the_scale("J1")
    assert to_go(now) == {"violet": 12.0}
    done = browser.post("/job/J1/weigh", {"plan": str(recipe), "tin": str(now.tin), "tint": "violet", "grams": "12"})
    assert "part of recipe" in done.text
    assert "147.0 g. Stir it, and spray a card" in done.text
    (first, _), (last, entry) = batches()
    assert dict(entry.parts) == dict(PARTS)
    assert (entry.continues, entry.recipe) == (first, recipe)
    assert [item.what for item in next_step().jobs[0].open] == [f"batch #{last} is not sprayed yet"]


def test_the_last_part_of_it_is_taken_back_alone(recipe: int) -> None:
    pour("J1", PARTS[:1], PourRequest(recipe=recipe))
    pour("J1", PARTS[1:2])
    pour_part("J1", PARTS[2], plan=recipe, tin=on_the_scale("J1").tin)
    last = on_the_scale("J1").last
    assert last is not None
    assert (last.tint, last.grams) == PARTS[2]
    take_back("J1", last)
    assert to_go(on_the_scale("J1")) == {"soft black": 30.0, "violet": 12.0}


def test_something_else_that_was_added_meanwhile_is_gone_on_from(recipe: int) -> None:
    pour("J1", PARTS[:3], PourRequest(recipe=recipe))
    pour("J1", (("orange", 0.5),), PourRequest(to="last"))
    now = on_the_scale("J1")
    assert (now.plan, now.tin, now.before) == (recipe, None, recipe + 2)
    assert to_go(now) == {"violet": 12.0}
    assert now.grams == 135.5
    assert now.last is None
    pour_part("J1", PARTS[3], plan=recipe, tin=None)
    now = on_the_scale("J1")
    assert to_go(now) == {}
    assert batches()[-1][1].parts == (*PARTS[:3], ("orange", 0.5), PARTS[3])


def test_what_a_correction_lacks_is_weighed_into_a_tin_added_to_twice(recipe: int, browser: Browser) -> None:
    to_add = (("white", 5.0), ("green", 4.0), ("violet", 3.0), ("soft black", 2.0))
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry(PARTS, recipe=recipe))
        correction = ledger.record(job, CorrectionEntry(batch, to_add, 0.09, True, {"D65": 0.2}, {}))
        once = ledger.record(job, BatchEntry((*PARTS, *to_add[:1]), recipe=recipe, continues=batch))
        twice = ledger.record(job, BatchEntry((*PARTS, *to_add[:2]), recipe=recipe, continues=once))
    now = on_the_scale("J1")
    assert (now.plan, now.tin, now.before) == (correction, twice, once)
    assert to_go(now) == {"violet": 3.0, "soft black": 2.0}
    assert 'id="tint">violet<' in browser.text("/job/J1/weigh")
    pour_part("J1", to_add[2], plan=correction, tin=twice)
    pour_part("J1", to_add[3], plan=correction, tin=twice + 1)
    now = on_the_scale("J1")
    assert (now.plan, to_go(now), now.grams) == (correction, {}, 161.0)
    assert batches()[-1][1].continues == once


def test_after_its_card_nothing_is_left_to_pour(recipe: int) -> None:
    pour("J1", PARTS[:1], PourRequest(recipe=recipe))
    pour("J1", PARTS[1:2])
    with open_ledger() as ledger:
        ledger.record(ledger.find_job("J1"), SprayOutEntry(recipe + 2, [45.0, -4.0, -17.0]))
    assert on_the_scale("J1").plan is None
