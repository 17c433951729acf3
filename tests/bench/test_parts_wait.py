"""Parts poured while the bench was away wait on their device, are said and sent on every page, and none is lost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.bench.bench import Bench
from finishmatch.mix.weigh_out import summed
from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from tests.bench.screens import context_of, served, until
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"
Phone = tuple[Page, str, Bench]


@pytest.fixture
def phone(chromium_: Chromium, bench: Path, home: Path) -> Iterator[Phone]:
    """A phone on a job with a recipe of three tints."""
    put_ledger(home, ["job new Roof", MIXED])
    with served() as (base, found):
        context = context_of(chromium_, "phone")
        page = context.new_page()
        page.goto(f"{base}/job/J1/weigh")
        yield page, base, found
        context.close()


def pour_typed(page: Page, text: str) -> str:
    """Pour the part that is shown, and return its tint."""
    tint = page.locator("#tint").inner_text()
    if text:
        page.locator("#grams").fill(text)
        page.get_by_role("button", name="close the keypad").click()
    page.locator("#poured").click()
    return tint


def poured_away(page: Page, first: str) -> list[str]:
    """Pour all three parts while the bench is away, and return their tints."""
    page.context.set_offline(True)
    tints = []
    for text in (first, "", ""):
        tints.append(pour_typed(page, text))
    expect(page.locator("#waiting")).to_contain_text("3 parts wait")
    return tints


def added() -> dict[str, float]:
    """What the tin holds on record."""
    return summed(on_the_scale("J1").added)


def planned() -> dict[str, float]:
    return {line.tint: line.planned_g for line in on_the_scale("J1").lines}


@pytest.mark.slow
def test_each_is_counted_as_it_is_poured_and_the_last_isnt_asked_for_again(phone: Phone) -> None:
    page, _, _ = phone
    weights = planned()
    page.context.set_offline(True)
    first = pour_typed(page, "")
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#of-it")).to_contain_text(f"in the tin {weights[first]:.1f} g")
    short = pour_typed(page, "1")  # the rest of it is still to go
    expect(page.locator("#to-go")).to_have_text(f"{weights[short] - 1:.1f}")
    expect(page.locator("#of-it")).to_contain_text("1.0 g of it poured")
    pour_typed(page, "")
    pour_typed(page, "")
    expect(page.locator("#all-in")).to_contain_text("Every part of recipe #3 is poured")
    page.evaluate("() => document.getElementById('poured').click()")  # as the ear does
    for gone in ("#poured", "#pour", "#to-go", "#enter-card"):
        expect(page.locator(gone)).to_be_hidden()
    expect(page.locator("#waiting")).to_contain_text("4 parts wait")
    page.context.set_offline(False)
    expect(page.locator("#enter-card")).to_be_visible()
    expect(page.locator("#waiting")).to_be_hidden()
    assert added() == pytest.approx(weights, abs=0.2)


@pytest.mark.slow
def test_what_waits_behind_a_questioned_part_is_kept_and_recorded_once_that_is_set_right(phone: Phone) -> None:
    page, _, _ = phone
    weights = planned()
    ten_times = 10 * next(iter(weights.values()))
    first, second, third = poured_away(page, f"{ten_times:.0f}")
    page.context.set_offline(False)
    alert = page.locator("#asked")
    expect(alert).to_contain_text("is 10 times what is planned")
    expect(alert).to_contain_text("not recorded yet either")
    for tint in (second, third):
        expect(alert).to_contain_text(f"{tint} {weights[tint]:.1f} g")
    page.reload()  # it is there still
    expect(alert).to_contain_text(f"{second} {weights[second]:.1f} g")
    expect(page.locator("#tint")).to_have_text(first)
    expect(page.locator("#grams")).to_have_value(f"{ten_times:.0f}")
    pour_typed(page, f"{weights[first]:.1f}")
    expect(page.locator("#enter-card")).to_be_visible()
    expect(alert).to_have_count(0)
    assert added() == pytest.approx(weights, abs=0.2)


@pytest.mark.slow
def test_one_that_wasnt_poured_is_left_out_and_the_rest_is_recorded(phone: Phone) -> None:
    page, _, _ = phone
    weights = planned()
    first, second, third = poured_away(page, f"{10 * next(iter(weights.values())):.0f}")
    page.context.set_offline(False)
    expect(page.locator("#leave-out")).to_be_visible()
    page.evaluate("() => { const press = () => document.getElementById('leave-out').click(); press(); press(); }")
    leave_out(page)
    expect(page.locator("#tint")).to_have_text(first)
    expect(page.locator("#waiting")).to_be_hidden()
    assert added() == pytest.approx({second: weights[second], third: weights[third]}, abs=0.2)


def leave_out(page: Page) -> None:
    """Press twice, as is asked for: the second tap of one press is none."""
    page.locator("#leave-out").click()
    expect(page.locator("#leave-out")).to_contain_text("Press again")
    page.wait_for_timeout(1100)
    page.locator("#leave-out").click()


@pytest.mark.slow
def test_a_part_another_device_recorded_too_is_asked_about(phone: Phone) -> None:
    page, _, _ = phone
    now = on_the_scale("J1")
    assert now.next is not None
    assert now.plan is not None
    page.context.set_offline(True)
    first = pour_typed(page, "")
    second = pour_typed(page, "")
    pour_part("J1", (now.next.tint, now.next.to_go_g), plan=now.plan, tin=None)
    page.context.set_offline(False)
    expect(page.locator("#asked")).to_contain_text("was changed meanwhile")
    expect(page.locator("#asked")).to_contain_text(second)
    expect(page.locator("#tint")).to_have_text(first)
    leave_out(page)
    expect(page.locator("#asked")).to_contain_text("was changed meanwhile")  # the second as well: of the tin before
    expect(page.locator("#tint")).to_have_text(second)
    page.locator("#poured").click()  # it is in the tin that there is now
    expect(page.locator("#asked")).to_have_count(0)
    expect(page.locator("#waiting")).to_be_hidden()
    assert list(added()) == [first, second]


@pytest.mark.slow
def test_every_page_of_the_device_says_that_parts_wait_and_sends_them(phone: Phone) -> None:
    page, base, bench = phone
    page.context.set_offline(True)
    first = pour_typed(page, "")
    page.context.set_offline(False)
    page.route("**/api/job/J1/weigh", lambda route: route.abort())  # the bench is away for that alone
    for path in ("/jobs", "/job/J1", "/job/J1/note"):
        page.goto(f"{base}{path}")
        expect(page.locator("#waits")).to_contain_text("1 part of J1 waits on this device")
        expect(page.locator("#waits")).to_contain_text(first)
    page.goto(f"{base}/job/J1")
    page.unroute("**/api/job/J1/weigh")
    expect(page.locator("#waits")).to_be_hidden()
    expect(page.locator("#weigh")).to_contain_text("lacks")  # the job as it is with that part
    assert list(added()) == [first]
    assert not bench.closing


@pytest.mark.slow
def test_a_device_that_was_forgotten_goes_on_and_says_what_to_do(chromium_: Chromium, bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof", MIXED])
    with served() as (base, found):
        found.served = replace(found.served, lan=True)  # as to devices of the network; on this machine alone
        context = context_of(chromium_, "phone")
        page = context.new_page()
        pair(page, base, found)
        page.goto(f"{base}/job/J1/weigh")
        found.devices.forget(found.devices.listed()[-1].number)
        first = pour_typed(page, "")
        expect(page.locator("#unpaired")).to_contain_text("isn't paired any more")
        expect(page.locator("#away")).to_be_hidden()
        expect(page.locator("#waiting")).to_contain_text("1 part waits")
        second = pour_typed(page, "")
        expect(page.locator("#waiting")).to_contain_text("2 parts wait")
        page.locator("#unpaired a").click()
        expect(page.locator("#waits")).to_contain_text(f"{first} ")
        pair(page, base, found)
        until(lambda: list(added()) == [first, second], 30)
        expect(page.locator("#waits")).to_be_hidden()
        context.close()


def pair(page: Page, base: str, bench: Bench) -> None:
    """Pair a phone by a code."""
    page.goto(f"{base}/pair")
    page.locator("#code").fill(bench.pairing.code())
    page.get_by_role("button", name="Pair", exact=True).click()
    expect(page.get_by_role("heading", name="Pair this device")).to_have_count(0)
