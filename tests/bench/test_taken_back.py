"""The last part of a weigh-out is taken back: that part alone, however it was recorded."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, CorrectionEntry, RecipeEntry, SprayOutEntry, open_ledger
from finishmatch.steps.job.next_step import next_step
from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.poured_tin import PourRequest
from finishmatch.steps.job.taken_back import take_back
from tests.bench.conftest import Browser
from tests.helpers.kept_ledger import put_ledger

PARTS = (("white", 230.0), ("blue", 15.0), ("violet", 1.0))


@pytest.fixture
def recipe(home: Path) -> int:
    """The number of a recipe of three tints in J1."""
    put_ledger(home, ["job new Roof"])
    with open_ledger(home) as ledger:
        entry = RecipeEntry("a bank", "0" * 64, 246.0, PARTS, {"D65": 0.1}, None, None, None, 1, [45.0, -4.0, -17.0])
        return ledger.record(ledger.find_job("J1"), entry)


def in_tin() -> dict[str, float]:
    """What the newest batch that stands holds."""
    with open_ledger() as ledger:
        batches = [view.entry for view in ledger.entries(ledger.find_job("J1"), kind=BatchEntry) if view.stands]
    assert len(batches) == 1
    assert isinstance(batches[0], BatchEntry)
    return dict(batches[0].parts)


def test_of_a_tin_recorded_at_once_the_other_parts_stay_in_it(recipe: int, browser: Browser) -> None:
    pour("J1", PARTS, PourRequest(recipe=recipe))
    now = on_the_scale("J1", recipe)
    assert now.last is not None
    assert (now.last.tint, now.last.grams) == ("violet", 1.0)
    page = browser.text(f"/job/J1/weigh?plan={recipe}")
    assert "violet, 1.0 g: it is taken back" in page
    (said,) = take_back("J1", now.last)
    assert said == "#3 takes the place of #2: violet 1 g is taken back"
    assert in_tin() == {"white": 230.0, "blue": 15.0}
    again = on_the_scale("J1", recipe)
    assert again.next is not None
    assert again.next.tint == "violet"
    assert again.grams == 245.0


def test_part_by_part_each_is_struck_by_itself(recipe: int) -> None:
    pour_part("J1", PARTS[0], plan=recipe, tin=None)
    pour_part("J1", PARTS[1], plan=recipe, tin=2)
    last = on_the_scale("J1", recipe).last
    assert last is not None
    take_back("J1", last)
    assert in_tin() == {"white": 230.0}
    last = on_the_scale("J1", recipe).last
    assert last is not None
    assert last.tint == "white"


@pytest.mark.parametrize("at_once", [True, False])
def test_a_part_that_was_too_much_by_a_slip_of_the_finger_takes_its_way_back_with_it(
    recipe: int, *, at_once: bool
) -> None:
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        number = ledger.record(job, BatchEntry(PARTS[:1], recipe=recipe)) if not at_once else None
    parts = (PARTS[0], ("blue", 22.0))
    with open_ledger() as ledger:
        batch = ledger.record(
            ledger.find_job("J1"), BatchEntry(parts, recipe=recipe), supersedes=number, reason="" if at_once else "more"
        )
        due = CorrectionEntry(batch, (("violet", 1.0), ("white", 90.0)), 0.2, True, {"D65": 0.2}, {}, "too much")
        ledger.record(ledger.find_job("J1"), due)
    now = on_the_scale("J1")
    assert now.plan == batch + 1
    assert now.last is not None
    assert (now.last.batch, now.last.tint, now.last.grams) == (batch, "blue", 22.0)
    take_back("J1", now.last)
    assert in_tin() == {"white": 230.0}
    assert not [item for item in next_step().jobs[0].open if item.kind == "correction"]
    assert on_the_scale("J1").plan == recipe


def test_what_was_sprayed_since_is_as_its_card_says(recipe: int) -> None:
    pour("J1", PARTS, PourRequest(recipe=recipe))
    last = on_the_scale("J1", recipe).last
    assert last is not None
    with open_ledger() as ledger:
        ledger.record(ledger.find_job("J1"), SprayOutEntry(2, [45.0, -4.0, -17.0]))
        ledger.record(ledger.find_job("J1"), BatchEntry((("white", 1.0),)), supersedes=2, reason="weighed again")
    assert on_the_scale("J1", recipe).last is None
    with pytest.raises(InputError, match="was changed meanwhile"):
        take_back("J1", last)
