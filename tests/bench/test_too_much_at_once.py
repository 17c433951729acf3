"""A part so much too much that adding can't bring it back is told at the top, with the amounts that can be taken on."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import expect

from finishmatch.mix.weigh_out import summed
from finishmatch.steps.job.next_step import next_step
from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from tests.bench.conftest import Browser, Opened
from tests.bench.screens import context_of, served
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"
TIMES = 1.8


@pytest.fixture
def overshot(bench: Path, home: Path) -> dict[str, float]:
    """What is planned, in a job where the second part was poured nearly twice."""
    put_ledger(home, ["job new Roof", MIXED])
    now = on_the_scale("J1")
    assert now.plan is not None
    first, second = now.lines[0], now.lines[1]
    poured = pour_part("J1", (first.tint, first.planned_g), plan=now.plan, tin=None)
    assert poured.recorded is not None
    tin = poured.recorded.entries[0].number
    pour_part("J1", (second.tint, round(TIMES * second.planned_g, 1)), plan=now.plan, tin=tin)
    return {line.tint: line.planned_g for line in now.lines}


@pytest.fixture
def at_bench(overshot: dict[str, float], opened: Opened) -> Browser:
    """A browser on that job."""
    assert overshot
    return opened()


def test_it_stands_above_the_part_that_is_asked_for_next(at_bench: Browser) -> None:
    page = at_bench.text("/job/J1/weigh")
    assert page.index('role="alert" id="too-much"') < page.index('class="part-of"')
    assert "can't be brought back" in page.replace("&#39;", "'")
    assert page.count("Poured too much") == 1


def test_the_amounts_in_proportion_are_taken_on(at_bench: Browser, overshot: dict[str, float]) -> None:
    now = on_the_scale("J1")
    answer = at_bench.post("/job/J1/weigh/take-on", {"plan": str(now.plan), "tin": str(now.tin)})
    assert "part 1 of 2, correction #" in answer.text
    assert "too-much" not in answer.text
    while (now := on_the_scale("J1")).next is not None:
        assert now.plan is not None
        pour_part("J1", (now.next.tint, now.next.to_go_g), plan=now.plan, tin=now.tin)
    poured = now.poured
    assert poured is not None
    assert summed(poured.parts) == pytest.approx({tint: TIMES * grams for tint, grams in overshot.items()}, rel=0.02)
    assert "not sprayed yet" in next_step().jobs[0].open[0].what


def test_of_a_tin_that_was_changed_or_isnt_lost_nothing_is_taken_on(at_bench: Browser) -> None:
    now = on_the_scale("J1")
    answer = at_bench.post("/job/J1/weigh/take-on", {"plan": str(now.plan), "tin": "2"})
    assert answer.status_code == 422
    assert now.last is not None
    at_bench.post("/job/J1/weigh/undo", {"plan": str(now.plan), "tin": str(now.last.batch)})
    now = on_the_scale("J1")
    answer = at_bench.post("/job/J1/weigh/take-on", {"plan": str(now.plan), "tin": str(now.tin)})
    assert answer.status_code == 422
    assert on_the_scale("J1").plan == now.plan


@pytest.mark.slow
def test_it_is_told_as_soon_as_it_is_poured(chromium_: Chromium, bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof", MIXED])
    second = on_the_scale("J1").lines[1]
    with served() as (base, _):
        context = context_of(chromium_, "phone")
        page = context.new_page()
        page.goto(f"{base}/job/J1/weigh")
        page.locator("#poured").click()
        expect(page.locator("#tint")).to_have_text(second.tint)
        page.locator("#grams").fill(f"{TIMES * second.planned_g:.1f}")
        page.get_by_role("button", name="close the keypad").click()
        page.locator("#poured").click()
        expect(page.get_by_role("alert")).to_contain_text("can't be brought back")
        expect(page.locator("#too-much")).to_be_in_viewport()
        page.locator("#take-on").click()
        expect(page.locator(".part-of")).to_contain_text("part 1 of 2, correction #")
        context.close()
