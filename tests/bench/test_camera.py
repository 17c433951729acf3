"""The camera in a browser: sent on after a broken connection; what can't serve says what to change; lights chosen."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, Route, expect

from finishmatch.bench.screens.photo import PART_AT_ONCE
from finishmatch.ledger import ReadingEntry, TargetEntry, open_ledger
from finishmatch.readings import Reading
from finishmatch.readings.any_file import read_readings
from finishmatch.steps.job.note import note
from finishmatch.steps.job.open import open_job
from finishmatch.steps.side_by_side import side_by_side
from tests.bench.screens import PATIENCE_MS, box_of, drag, page_of, until
from tests.conftest import ROOT
from tests.helpers.photo_frames import standard_and_card


@pytest.fixture(scope="module")
def browser(chromium_: Browser) -> Browser:
    """The room's real browser."""
    return chromium_


@pytest.fixture
def page(browser: Browser, home: Path) -> Iterator[Page]:
    """A phone on the first job there is."""
    open_job("Roof")
    with page_of(browser, "phone") as (found, base):
        found.goto(f"{base}/job/J1/photo")
        yield found


@pytest.mark.slow
def test_a_photograph_goes_on_after_a_broken_connection(page: Page, tmp_path: Path) -> None:
    photo = standard_and_card(tmp_path / "large.jpg")
    photo.write_bytes(photo.read_bytes() + bytes(3 * PART_AT_ONCE))  # as large as a phone takes one
    asked: list[int] = []

    def over_the_air(route: Route) -> None:
        if route.request.method != "PUT":
            route.continue_()
            return
        asked.append(int(re.findall(r"offset=(\d+)", route.request.url)[0]))
        if len(asked) == 2:
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/api/job/J1/photo/**", over_the_air)
    page.locator("#take").set_input_files(photo)
    expect(page.get_by_text("goes on by itself as soon as the bench answers")).to_be_visible()
    expect(page.get_by_role("progressbar")).to_have_attribute(
        "value", str(round(100 * PART_AT_ONCE / photo.stat().st_size))
    )
    expect(page.get_by_role("heading", name="Colours")).to_be_visible()
    assert asked == [
        0,
        PART_AT_ONCE,
        PART_AT_ONCE,
        2 * PART_AT_ONCE,
        3 * PART_AT_ONCE,
    ]


@pytest.mark.slow
def test_one_that_was_stopped_or_refused_is_sent_again_when_it_is_chosen_again(page: Page, tmp_path: Path) -> None:
    photo = standard_and_card(tmp_path / "large.jpg")
    photo.write_bytes(photo.read_bytes() + bytes(3 * PART_AT_ONCE))
    held: list[Route] = []
    hold = True

    def over_the_air(route: Route) -> None:
        if hold and route.request.method == "PUT":
            held.append(route)
        else:
            route.continue_()

    page.route("**/api/job/J1/photo/**", over_the_air)
    stop, bar = page.get_by_role("button", name="Stop"), page.get_by_role("progressbar")
    page.locator("#choose").set_input_files(photo)
    until(lambda: bool(page.evaluate("() => true") and held), PATIENCE_MS / 1000)  # its first part is on its way
    expect(bar).to_be_visible()
    stop.click()
    held[0].continue_()
    expect(page.get_by_text("was stopped; choose it again and it goes on")).to_be_visible()
    expect(bar).to_be_hidden()
    expect(stop).to_be_hidden()
    expect(page.locator("#choose")).to_have_value("")  # a browser tells of a choice only where it is another
    refusal = {"status": 422, "content_type": "application/json", "body": '{"error": "the disk is full"}'}
    page.route("**/finish", lambda route: route.fulfill(**refusal))
    hold = False
    page.locator("#choose").set_input_files(photo)
    expect(page.get_by_text("wasn't taken: the disk is full")).to_be_visible()
    expect(bar).to_be_hidden()
    expect(stop).to_be_hidden()
    expect(page.locator("#choose")).to_have_value("")  # a browser tells of a choice only where it is another
    page.unroute("**/finish")
    page.locator("#choose").set_input_files(photo)
    expect(page.get_by_role("heading", name="Colours")).to_be_visible()


@pytest.mark.slow
def test_a_photograph_that_cant_serve_says_what_to_change(page: Page) -> None:
    out = io.BytesIO()
    Image.new("RGB", (320, 240), (90, 120, 140)).save(out, "JPEG")
    page.locator("#take").set_input_files({"name": "panel.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()})
    said = page.get_by_role("alert").filter(has_text="This photograph can't serve")
    expect(said).to_contain_text("No 24-patch chart was found: lay it beside the samples")
    expect(said).to_be_in_viewport()
    said.get_by_role("link", name="Take another").click()
    expect(page.get_by_role("heading", name="Photograph", exact=True)).to_be_visible()


@pytest.mark.slow
def test_two_colours_are_shown_in_the_light_that_is_touched(page: Page) -> None:
    two = [next(iter(read_readings(ROOT / "swatches" / name).values())) for name in ("target.csv", "card1.csv")]
    _record(*two)
    page.goto(page.url.replace("/photo", "/swatches"))
    for light in ("D65", "A"):
        page.get_by_role("navigation", name="Light").get_by_role("link", name=light, exact=True).tap()
        chosen = page.get_by_role("navigation", name="Light").locator("[aria-current]")
        expect(chosen).to_have_text(light)
        found = side_by_side("J1", light=light)
        assert found.compared is not None
        shown = [rect.get_attribute("fill") for rect in page.locator(".edge-to-edge rect").all()]
        assert shown == [colour.screen for colour in (found.standard, found.trial) if colour is not None]
        expect(page.locator("main")).to_contain_text(f"ΔE00 {found.compared.verdict.de00:.2f} in {light}")
        left, right = (rect.bounding_box() for rect in page.locator(".edge-to-edge rect").all())
        assert left is not None
        assert right is not None
        assert right["x"] == pytest.approx(left["x"] + left["width"], abs=0.6)  # edge to edge
    expect(page.locator("figure svg")).to_have_count(2)  # the a*b* plane, and the spectra


def _record(standard: Reading, trial: Reading) -> None:
    lab = [one.lab_in("D65", 10).tolist() for one in (standard, trial)]
    entries = [
        TargetEntry("blue", lab[0], "D65", 10, reflectance=standard.reflectance, tolerance=0.8),
        ReadingEntry("trial", "card", lab[1], "D65", 10, reflectance=trial.reflectance),
    ]
    with open_ledger() as ledger:
        ledger.record_all(ledger.find_job("J1"), entries)


@pytest.mark.slow
def test_what_is_marked_or_typed_stays_when_another_device_records(page: Page, tmp_path: Path) -> None:
    page.locator("#choose").set_input_files(standard_and_card(tmp_path / "card.jpg"))
    page.get_by_role("button", name="Mark the samples here").click()
    x, y, w, h = box_of(page.locator(".region rect.rim").nth(1))
    drag(page, (x + w / 2 - 10, y + h / 2 - 6), (5, 4))
    marked = page.locator("#x_1").input_value()
    note("J1", "by another device")
    expect(page.locator("#news")).to_contain_text("by another device")
    expect(page.locator("#x_1")).to_have_value(marked)
    expect(page.locator(".region")).to_have_count(2)
    page.goto(f"{page.url.partition('/photo')[0]}/film-map?panel=roof&x=300&y=400")
    page.locator("#build_um").fill("96")
    note("J1", "again by another device")
    expect(page.locator("#news")).to_contain_text("again by another device")
    expect(page.locator("#build_um")).to_have_value("96")
    page.reload()
    expect(page.locator("#build_um")).to_have_value("96")  # kept on this device until it is recorded
