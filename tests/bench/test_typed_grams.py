"""Grams that are typed outlast a page that is loaded anew, for their part of their tin alone; the screen stays on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.errors import InputError
from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from finishmatch.steps.job.poured_tin import PouredTin
from tests.bench.screens import LATE, page_of
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams {} --max-tints 3 --recipes 1 --job {}"
# a stand-in for the screen's lock that counts how often it is asked for and let go
LOCK = """() => {
  window.locks = { held: 0, let: 0 };
  const request = async (kind) => {
    if (kind !== "screen") throw new TypeError(kind);
    window.locks.held += 1;
    const held = new EventTarget();
    held.release = async () => { window.locks.let += 1; held.dispatchEvent(new Event("release")); };
    return held;
  };
  Object.defineProperty(navigator, "wakeLock", { value: { request }, configurable: true });
}"""


@pytest.fixture
def phone(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone, and two jobs with a recipe each."""
    put_ledger(home, ["job new Roof", MIXED.format(500, "J1"), "job new Door", MIXED.format(300, "J2")])
    with page_of(chromium_, "phone") as found:
        yield found


def type_grams(page: Page, text: str) -> None:
    """Type into the field, and leave the page's keypad."""
    page.locator("#grams").fill(text)
    page.get_by_role("button", name="close the keypad").click()


@pytest.mark.slow
def test_they_are_there_after_a_reload_for_their_job_alone_and_gone_once_poured(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    first = page.locator("#tint").inner_text()
    typed = f"{on_the_scale('J1').lines[0].planned_g - 0.3:.1f}".replace(".", ",")
    type_grams(page, typed)
    page.reload()
    expect(page.locator("#grams")).to_have_value(typed)
    expect(page.locator("#poured")).to_have_text(f"Poured {typed.replace(',', '.')} g")
    page.goto(f"{base}/job/J2/weigh")
    expect(page.locator("#tint")).to_have_text(first)
    expect(page.locator("#grams")).to_have_value("")
    page.goto(f"{base}/job/J1/weigh")
    expect(page.locator("#grams")).to_have_value(typed)
    page.locator("#poured").click()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#grams")).to_have_value("")
    page.reload()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#grams")).to_have_value("")
    assert page.evaluate("() => Object.keys(localStorage).filter((one) => one.startsWith('bench:grams'))") == []


@pytest.mark.slow
def test_typed_while_a_part_waits_they_are_there_when_it_was_recorded(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    page.context.set_offline(True)
    page.locator("#poured").click()
    expect(page.locator("#waiting")).to_contain_text("1 part waits on this device")
    second = page.locator("#tint").inner_text()
    type_grams(page, "12.5")
    page.context.set_offline(False)
    page.reload()
    expect(page.locator("#waiting")).to_be_hidden()
    expect(page.locator("#tint")).to_have_text(second)
    expect(page.locator("#grams")).to_have_value("12.5")
    page.reload()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#grams")).to_have_value("12.5")


@pytest.mark.slow
def test_what_was_typed_of_one_part_is_never_put_to_another(phone: tuple[Page, str]) -> None:
    page, base = phone
    now = on_the_scale("J1")
    assert now.next is not None
    assert now.plan is not None
    page.goto(f"{base}/job/J1/weigh")
    type_grams(page, "12.5")
    pour_part("J1", (now.next.tint, now.next.to_go_g), plan=now.plan, tin=None)  # by another device
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#grams")).to_have_value("")
    page.reload()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#grams")).to_have_value("")


@pytest.mark.slow
def test_what_is_typed_while_the_page_arrives_stands_and_the_keypad_stays_away(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.add_init_script(LATE)
    page.goto(f"{base}/job/J1/weigh")
    page.locator("#poured").click()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    page.locator("#grams").fill("1")
    page.wait_for_function("() => window.coming === 1")
    page.evaluate("document.querySelector('#weigh').dataset.old = 'yes'")
    type_grams(page, "12.5")
    page.evaluate("window.arrive()")
    expect(page.locator("#weigh[data-old]")).to_have_count(0)
    expect(page.locator("#grams")).to_have_value("12.5")
    expect(page.get_by_role("button", name="close the keypad")).to_be_hidden()
    expect(page.locator("#poured")).to_have_text("Poured 12.5 g")


@pytest.mark.slow
def test_a_weight_that_is_refused_stands_where_it_was_typed(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    type_grams(page, "0")
    page.locator("#poured").click()
    expect(page.get_by_role("alert")).to_contain_text("nothing was poured")
    expect(page.locator("#grams")).to_have_value("0")


@pytest.mark.slow
def test_the_screen_is_held_on_until_all_is_poured_and_goes_to_sleep_after_that(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.add_init_script(f"({LOCK})()")
    page.goto(f"{base}/job/J1/weigh")
    page.wait_for_function("() => window.locks.held === 1")
    for part in (2, 3):
        page.locator("#poured").click()
        expect(page.locator(".part-of")).to_contain_text(f"part {part} of 3")
    assert page.evaluate("() => window.locks") == {"held": 1, "let": 0}
    page.locator("#poured").click()
    expect(page.locator("main")).to_contain_text("is in the tin")
    page.wait_for_function("() => window.locks.let === 1")


@pytest.mark.slow
@pytest.mark.parametrize("lock", ["undefined", "{ request: async () => { throw new Error('the battery is low'); } }"])
def test_a_browser_that_holds_no_screen_on_weighs_out_all_the_same(lock: str, phone: tuple[Page, str]) -> None:
    page, base = phone
    complained: list[str] = []
    page.on("console", lambda line: complained.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: complained.append(str(error)))
    page.add_init_script(f"Object.defineProperty(navigator, 'wakeLock', {{ value: {lock} }})")
    page.goto(f"{base}/job/J1/weigh")
    page.locator("#poured").click()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    assert complained == []


@pytest.mark.slow
def test_what_cant_be_recorded_for_a_full_disk_waits_and_is_recorded_once_there_is_room(
    phone: tuple[Page, str], home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, base = phone
    room = False

    def full(*arguments: Any, **options: Any) -> PouredTin:
        if not room:
            raise InputError(str(home / "ledger.db"), "the disk is full", "make room and do it again")
        return pour_part(*arguments, **options)

    monkeypatch.setattr("finishmatch.bench.screens.weigh.pour_part", full)
    page.goto(f"{base}/job/J1/weigh")
    page.locator("#poured").click()
    expect(page.locator("main")).to_contain_text("What was poured waits on this device")
    expect(page.locator("main")).to_contain_text("the disk is full; make room and do it again")
    page.locator("#poured").click()
    expect(page.locator("#waiting")).to_contain_text("2 parts wait")
    room = True
    expect(page.locator("#waiting")).to_be_hidden()
    expect(page.locator(".part-of")).to_contain_text("part 3 of 3")
    assert len(on_the_scale("J1").added) == 2
