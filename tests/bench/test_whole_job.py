"""The whole job in a browser, at the size of a phone, a tablet and a desk: from a new job to how it came out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from finishmatch.ledger import open_ledger
from tests.bench.screens import SIZES, Looked, chromium, context_of, served

pytest_plugins = ["tests.helpers.door_fixtures"]
SAMPLES = (("tin", "45.3", "-4.2", "-17.9"), ("bracket", "45.1", "-4.0", "-17.7"))


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all sizes."""
    with chromium() as found:
        yield found


@pytest.fixture(params=SIZES)
def looked(request: pytest.FixtureRequest, browser: Browser, bench: Path) -> Iterator[Looked]:
    """The page at a size, on a home without a job, with a small bank to mix from."""
    with served(banks=(bench / "bank",)) as (base, _):
        context = context_of(browser, request.param)
        yield Looked(context.new_page(), base, request.param, axe=request.param == "phone")
        context.close()


def press(looked: Looked, name: str) -> None:
    """Press what is called so in the bar at the bottom, as a thumb does."""
    looked.page.locator(".bar").get_by_role("link", name=name).or_(
        looked.page.locator(".bar").get_by_role("button", name=name)
    ).click()


def type_in(looked: Looked, label: str, text: str) -> None:
    """Type into a field: by the keypad of the page where a finger brings it up, else by the keyboard."""
    page = looked.page
    field = page.locator(label) if label.startswith("#") else page.get_by_label(label, exact=True).first
    field.click()
    pad = looked.page.get_by_role("group", name="Keypad")
    if not pad.is_visible():
        field.fill(text)
        return
    for sign in text:
        named = {"-": "minus"}.get(sign, sign)
        pad.get_by_role("button", name=named, exact=True).click()
    pad.get_by_role("button", name="close the keypad").click()


def _new_job(looked: Looked) -> None:
    looked.open("/")
    expect(looked.page.get_by_text("There is no job yet")).to_be_visible()
    looked.keep("01-no-job")
    press(looked, "New job")
    looked.page.get_by_label("What it is called").fill("Tarnbeck Six, roof")
    looked.page.get_by_label("Colour").fill("Saltmarsh Blue")
    looked.keep("02-new-job")
    press(looked, "Open the job")
    expect(looked.page.get_by_text("Opened J1")).to_be_visible()
    looked.keep("03-job-opened")


def _evidence(looked: Looked) -> None:
    press(looked, "Enter the evidence")
    for i, (name, *lab) in enumerate(SAMPLES, start=1):
        looked.page.get_by_role("group", name=f"Sample {i}", exact=True).get_by_label("Name").fill(name)
        for axis, value in zip("Lab", lab, strict=True):
            type_in(looked, f"{axis} of sample {i}", value)
    looked.keep("04-evidence")
    press(looked, "Weigh the evidence")
    expect(looked.page.get_by_role("heading", name="What the evidence says")).to_be_visible()
    looked.keep("05-weighed")
    press(looked, "Record this target")
    expect(looked.page.get_by_text("2 readings, and the target")).to_be_visible()


def _recipe(looked: Looked) -> None:
    press(looked, "Work out a recipe")
    type_in(looked, "How much", "500")
    type_in(looked, "#max_tints", "3")
    looked.keep("06-recipe-asked")
    looked.page.get_by_role("button", name="Work out recipes").click()
    expect(looked.page.get_by_role("heading", name="Found last")).to_be_visible()
    looked.keep("07-recipes")
    looked.page.get_by_role("link", name="Weigh out #").first.click()


def _weigh(looked: Looked) -> None:
    page = looked.page
    number = page.locator("#to-go")
    expect(number).to_be_visible()
    planned = float(number.inner_text())
    looked.keep("08-weigh-first")
    type_in(looked, "#grams", f"{1.03 * planned:.1f}")
    press(looked, "Poured")
    expect(page.get_by_text("Poured too much").first).to_be_visible()
    looked.keep("09-poured-too-much")
    page.get_by_text("The last part is wrong").click()
    page.get_by_role("button", name="Strike the last part").click()
    expect(page.get_by_text("is struck").first).to_be_visible()
    expect(number).to_have_text(f"{planned:.1f}")
    for _ in range(5):
        if not page.locator("#tint").is_visible():
            break
        tint = page.locator("#tint").inner_text()
        press(looked, "Poured")
        expect(page.locator("#tint", has_text=tint)).to_have_count(0)
        expect(page.locator("main")).not_to_contain_text("Recording")
    expect(page.get_by_text("is in the tin")).to_be_visible()
    looked.keep("10-weighed-out")


def _card(looked: Looked) -> None:
    press(looked, "Enter the card")
    for axis, value in zip("Lab", ("45.9", "-4.1", "-17.2"), strict=True):
        type_in(looked, axis, value)
    looked.keep("11-card")
    looked.page.get_by_role("button", name="Record and judge").click()
    expect(looked.page.locator("#verdict")).to_be_visible()
    looked.keep("12-verdict")
    press(looked, "Back")
    expect(looked.page.get_by_role("heading", name="Tarnbeck Six, roof")).to_be_visible()
    looked.keep("13-job-under-way")


def _rework(looked: Looked) -> None:
    for i, (layer, builds) in enumerate((("primer", "62 58 60"), ("colour", "98 104 101"))):
        looked.open("/job/J1/film")
        if i:
            looked.page.get_by_text("Enter a layer").click()
        looked.page.get_by_label("Panel").fill("roof")
        looked.page.get_by_label("Layer", exact=True).fill(layer)
        looked.page.get_by_label("Build readings").fill(builds)
        looked.page.get_by_role("button", name="Record the readings").click()
        expect(looked.page.get_by_text("Recorded as #")).to_be_visible()
    looked.keep("14-film")
    looked.open("/job/J1/defect")
    looked.page.get_by_label("Kind").select_option("cratering")
    type_in(looked, "#count", "4")
    looked.page.get_by_label("Open to").select_option("primer")
    looked.keep("15-defect")
    press(looked, "Log the defect")
    expect(looked.page.get_by_text("The ways to mend it")).to_be_visible()
    looked.page.get_by_label("Why").fill("it is open to the primer")
    looked.keep("16-advice")
    press(looked, "Decide")
    expect(looked.page.get_by_text("Decided: ")).to_be_visible()
    looked.page.locator("#decision").get_by_role("link", name="Say how it came out").click()
    looked.page.get_by_label("In words").fill("no crater came back")
    looked.page.get_by_label("The work").select_option("right")
    looked.keep("17-outcome")
    press(looked, "Record the outcome")
    expect(looked.page.get_by_role("heading", name="Tarnbeck Six, roof")).to_be_visible()


def _beside_the_work(looked: Looked) -> None:
    for path, name in (("/job/J1/record", "18-record"), ("/jobs", "19-jobs"), ("/devices", "20-devices")):
        looked.open(path)
        looked.keep(name)
    looked.open("/job/J1/note")
    looked.page.get_by_label("What is worth remembering").fill("the air line was drained")
    looked.keep("21-note")
    press(looked, "Record the note")
    looked.open("/job/J1/entry/1")
    looked.keep("22-entry")
    missing = looked.page.goto(f"{looked.base}/job/J7")
    assert missing is not None
    assert missing.status == 404
    looked.complained.clear()  # the browser itself says that there is no such page
    looked.keep("23-not-here")


@pytest.mark.slow
def test_the_whole_job_from_a_new_one_to_how_it_came_out(looked: Looked) -> None:
    for part in (_new_job, _evidence, _recipe, _weigh, _card, _rework, _beside_the_work):
        part(looked)
    with open_ledger() as ledger:
        kinds = [view.kind for view in ledger.entries(ledger.find_job("J1"), current_only=True)]
    expected = ["reading", "reading", "target", "recipe", "batch", "spray-out", "verdict", "correction"]
    assert [kind for kind in dict.fromkeys(kinds) if kind in expected] == list(dict.fromkeys(expected))
    assert kinds.count("film-layer") == 2
    assert {"defect", "decision", "note"} <= set(kinds)
