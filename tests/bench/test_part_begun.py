"""Where a part began on the pan is known after a reload and moves with the tin; where it isn't, it is asked for."""

from __future__ import annotations

import os
import pty
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.bench.scale import feed
from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from tests.bench.screens import context_of, served, until
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"
TIN_G = 55.0


@dataclass
class Scale:
    """A scale at the other end of a serial line, which says again and again what is on its pan."""

    end: int
    shows: float | None = None
    still: bool = True
    stopped: threading.Event = field(default_factory=threading.Event)

    def speak(self) -> None:
        """Say it until it is stopped; nothing while it is switched off."""
        while not self.stopped.wait(0.1):
            if self.shows is not None:
                os.write(self.end, f"{'ST' if self.still else 'US'},+ {self.shows:.1f} g\r\n".encode())


@pytest.fixture
def weighed(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, Page, str, Scale]]:
    """Two phones on a job with a recipe, and a scale with an empty tin on it."""
    put_ledger(home, ["job new Roof", MIXED])
    scale_end, computer = pty.openpty()
    scale = Scale(scale_end, TIN_G)
    speaking = threading.Thread(target=scale.speak)
    speaking.start()
    with served(scale=os.ttyname(computer)) as (base, _):
        contexts = [context_of(chromium_, "phone") for _ in range(2)]
        yield contexts[0].new_page(), contexts[1].new_page(), base, scale
        for context in contexts:
            context.close()
    scale.stopped.set()
    speaking.join()
    for end in (scale_end, computer):
        os.close(end)


def begin(page: Page, base: str) -> float:
    """Open the weigh-out with the tin on the pan, and return what is planned of the first part."""
    page.goto(f"{base}/job/J1/weigh")
    expect(page.locator("#pan")).to_contain_text(f"On the pan {TIN_G} g, settled; this part from {TIN_G} g")
    planned = on_the_scale("J1").lines[0].planned_g
    expect(page.locator("#to-go")).to_have_text(f"{planned:.1f}")
    return planned


def locked(page: Page, why: str, button: str) -> None:
    """See that no amount is shown and none is taken."""
    expect(page.locator("#pan-asks")).to_contain_text(why)
    expect(page.locator("#to-go")).to_have_text("–")
    expect(page.locator("#poured")).to_be_disabled()
    expect(page.locator("#poured")).to_have_text(button)


@pytest.mark.slow
def test_after_a_reload_it_goes_on_where_it_was_and_an_unmoved_pan_is_no_pour(
    weighed: tuple[Page, Page, str, Scale],
) -> None:
    page, _, base, scale = weighed
    planned = begin(page, base)
    expect(page.locator("#poured")).to_be_disabled()
    expect(page.locator("#poured")).to_have_text("Nothing is poured yet")
    scale.shows = TIN_G + 100
    left = f"{planned - 100:.1f}"
    expect(page.locator("#to-go")).to_have_text(left)
    page.reload()
    expect(page.locator("#pan")).to_contain_text(f"this part from {TIN_G} g")
    expect(page.locator("#to-go")).to_have_text(left)
    page.goto(f"{base}/job/J1")
    page.goto(f"{base}/job/J1/weigh")
    expect(page.locator("#to-go")).to_have_text(left)
    expect(page.locator("#poured")).to_have_text("Poured 100.0 g")


@pytest.mark.slow
def test_a_phone_that_doesnt_know_it_asks_and_takes_what_is_typed(weighed: tuple[Page, Page, str, Scale]) -> None:
    page, other, base, scale = weighed
    planned = begin(page, base)
    scale.shows = TIN_G + 100
    expect(page.locator("#to-go")).to_have_text(f"{planned - 100:.1f}")
    other.goto(f"{base}/job/J1/weigh")
    locked(other, "isn't known on this device", "Where did it begin?")
    other.locator("#grams").fill(f"{planned:.1f}")
    other.get_by_role("button", name="close the keypad").click()
    expect(other.locator("#poured")).to_be_enabled()
    expect(other.locator("#poured")).to_have_text(f"Poured {planned:.1f} g")
    other.locator("#grams").fill("")
    locked(other, "isn't known on this device", "Where did it begin?")
    other.get_by_role("button", name="close the keypad").click()
    other.locator("#pan-zero").click()
    expect(other.locator("#to-go")).to_have_text(f"{planned:.1f}")
    other.locator("#pan-without").click()
    expect(other.locator("#poured")).to_have_text(f"Poured {planned:.1f} g")
    expect(other.locator("#poured")).to_be_enabled()


@pytest.mark.slow
def test_what_another_phone_records_moves_it(weighed: tuple[Page, Page, str, Scale]) -> None:
    page, _, base, scale = weighed
    planned = begin(page, base)
    now = on_the_scale("J1")
    assert now.next is not None
    assert now.plan is not None
    scale.shows = round(TIN_G + planned, 1)
    expect(page.locator("#to-go")).to_have_text("0.0")
    pour_part("J1", (now.next.tint, round(planned, 1)), plan=now.plan, tin=None)
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    second = on_the_scale("J1").next
    assert second is not None
    expect(page.locator("#to-go")).to_have_text(f"{second.to_go_g:.1f}")
    scale.shows = round(TIN_G + planned + 5, 1)
    expect(page.locator("#to-go")).to_have_text(f"{second.to_go_g - 5:.1f}")
    page.locator("#poured").click()
    until(lambda: len(on_the_scale("J1").added) == 2, 30)
    assert on_the_scale("J1").added[1] == (second.tint, pytest.approx(5))


@pytest.mark.slow
def test_no_amount_is_shown_while_the_tin_is_lifted_or_the_scale_says_nothing(
    weighed: tuple[Page, Page, str, Scale],
) -> None:
    page, _, base, scale = weighed
    planned = begin(page, base)
    scale.shows = TIN_G + 100
    left = f"{planned - 100:.1f}"
    expect(page.locator("#to-go")).to_have_text(left)
    scale.shows = 0.0
    locked(page, "Put the tin back", "Is the tin on the pan?")
    scale.shows = TIN_G + 100
    expect(page.locator("#to-go")).to_have_text(left)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(feed, "FORGOTTEN_S", 0.5)
        scale.shows = None
        locked(page, "The scale says nothing", "The scale is silent")
    scale.shows = TIN_G + 100
    expect(page.locator("#to-go")).to_have_text(left)


@pytest.mark.slow
def test_a_part_that_is_struck_is_asked_about(weighed: tuple[Page, Page, str, Scale]) -> None:
    page, _, base, scale = weighed
    planned = begin(page, base)
    scale.shows = round(TIN_G + planned, 1)
    expect(page.locator("#poured")).to_have_text(f"Poured {planned:.1f} g")
    page.locator("#poured").click()
    expect(page.locator(".part-of")).to_contain_text("part 2 of 3")
    expect(page.locator("#waiting")).to_be_hidden()
    page.get_by_text("The last part is wrong").click()
    page.get_by_role("button", name="Strike the last part").click()
    locked(page, "isn't known on this device", "Where did it begin?")
