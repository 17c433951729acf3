"""A press at the weigh-out takes one part: the one that was shown, once, and not the next that came up under it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from tests.bench.screens import page_of, until
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"
TWICE = """() => { const press = () => document.getElementById("poured").click(); press(); press(); }"""


@pytest.fixture
def phone(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone on a job with a recipe."""
    put_ledger(home, ["job new Roof", MIXED])
    with page_of(chromium_, "phone") as found:
        yield found


@pytest.mark.slow
def test_two_taps_record_one_part(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    first = page.locator("#tint").inner_text()
    page.evaluate(TWICE)
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#poured")).to_be_enabled()
    expect(page.locator("#waiting")).to_be_hidden()
    assert [tint for tint, _ in on_the_scale("J1").added] == [first]


@pytest.mark.slow
def test_without_the_bench_too(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    page.context.set_offline(True)
    page.evaluate(TWICE)
    expect(page.locator("#poured")).to_be_enabled()
    expect(page.locator("#waiting")).to_contain_text("1 part waits")


@pytest.mark.slow
def test_a_part_that_comes_up_under_the_thumb_by_another_device_is_not_taken(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    first = page.locator("#tint").inner_text()
    # pressed as soon as another part is shown
    page.evaluate("""() => document.addEventListener("bench:shown", () => setTimeout(() => {
      document.getElementById("poured").click();
    }))""")
    now = on_the_scale("J1")
    assert now.next is not None
    assert now.plan is not None
    pour_part("J1", (now.next.tint, now.next.to_go_g), plan=now.plan, tin=None)
    expect(page.locator("#tint")).not_to_have_text(first)
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#poured")).to_be_enabled()
    expect(page.locator("#waiting")).to_be_hidden()
    assert [tint for tint, _ in on_the_scale("J1").added] == [first]


@pytest.mark.slow
def test_the_rest_of_a_part_is_not_taken_by_a_second_tap_either(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    page.locator("#grams").fill("7.5")
    page.evaluate(TWICE)
    expect(page.locator("#of-it")).to_contain_text("7.5 g of it poured")
    expect(page.locator("#poured")).to_be_enabled()
    expect(page.locator("#waiting")).to_be_hidden()
    assert [grams for _, grams in on_the_scale("J1").added] == [7.5]


@pytest.mark.slow
def test_a_part_poured_before_the_page_is_shown_anew_goes_into_the_tin_there_is(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    third = on_the_scale("J1").lines[2].tint
    page.route("**/job/J1/weigh", lambda route: None if route.request.method == "GET" else route.continue_())
    page.locator("#poured").click()
    until(lambda: len(on_the_scale("J1").added) == 1, 30)
    page.wait_for_function("() => !localStorage.getItem('bench:pours:J1')")
    page.locator("#poured").click()  # what the page shows is the tin before the first
    expect(page.locator("#tint")).to_have_text(third)
    page.unroute("**/job/J1/weigh")
    page.reload()
    until(lambda: len(on_the_scale("J1").added) == 2, 30)
    expect(page.locator("#asked")).to_have_count(0)
