"""The whole job in a browser, from a new job to how it came out: on a phone, on a tablet and at a desk."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from finishmatch.bench.bench import Bench
from finishmatch.ledger import EntryView, open_ledger
from finishmatch.steps.judge import judge_card
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from tests.bench.screens import Looked, box_of, context_of, press, served, type_in
from tests.helpers.photo_frames import standard_and_card

pytest_plugins = ["tests.helpers.door_fixtures"]
SAMPLES = (("tin", "45.3", "-4.2", "-17.9"), ("bracket", "45.1", "-4.0", "-17.7"))
TITLE = "Tarnbeck Six, roofdrip and Vorderkotflügelinnenseitenverkleidung"  # as long as a word may be
TAPPED = (0.37, 0.61)  # of the panel's width and height
PANEL = (1260, 1310)  # mm


@pytest.fixture(scope="module")
def browser(chromium_: Browser) -> Browser:
    """The room's real browser."""
    return chromium_


@dataclass
class Done:
    """A job that was done: where it is served, what was found on the way."""

    base: str
    bench: Bench
    home: Path
    photo: Path
    found: dict[str, Any]

    def entries(self) -> list[EntryView]:
        """What stands in its record."""
        with open_ledger() as ledger:
            return ledger.entries(ledger.find_job("J1"), current_only=True)


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The card beside its standard, and a chart, rendered as a phone takes it."""
    return standard_and_card(tmp_path_factory.mktemp("camera") / "PXL_20260113_143522123.jpg")


@pytest.fixture(scope="module")
def done(browser: Browser, kept_bank: Path, photo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Done]:
    """The job done on a phone, on a home of its own, with a small bank to mix from."""
    with worked(browser, "phone", kept_bank, photo, tmp_path_factory.mktemp("whole job")) as job:
        yield job


@contextmanager
def worked(browser: Browser, size: str, bank: Path, photo: Path, home: Path) -> Iterator[Done]:
    """The job, done on a device of a size; each screen on the way is kept and looked at."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("FINISHMATCH_HOME", str(home))
        with served(banks=(bank,)) as (base, bench):
            job = Done(base, bench, home, photo, {})
            context = context_of(browser, size)
            looked = Looked(context.new_page(), base, size)
            for part in (_new_job, _evidence, _recipe, _weigh):
                part(looked)
            _photograph(looked, job)
            _verdict(looked)
            _film(looked, job)
            for part in (_rework, _beside_the_work):
                part(looked)
            yield job
            context.close()


def _new_job(looked: Looked) -> None:
    looked.open("/")
    expect(looked.page.get_by_text("There is no job yet")).to_be_visible()
    looked.keep("01-no-job")
    press(looked, "New job")
    looked.page.get_by_label("What it is called").fill(TITLE)
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


def _photograph(looked: Looked, job: Done) -> None:
    """Choose a photograph on the camera's screen, mark standard and card by touch, and judge by it."""
    page = looked.page
    press(looked, "Enter the card")
    looked.keep("11-card")
    if looked.touched:
        page.get_by_label("L", exact=True).click()
        expect(page.get_by_role("region", name="Keypad")).to_be_visible()
        looked.keep("11-keypad")
    looked.open("/job/J1/photo")
    looked.keep("12-camera")
    page.locator("#choose").set_input_files(job.photo)  # it is sent at once
    expect(page.get_by_role("heading", name="Colours")).to_be_visible()
    page.get_by_role("button", name="Mark the samples here").click()
    looked.keep("13-photo-read")
    scale = 640 / box_of(page.locator(".photo img"))[2]
    before = [_numbers(looked, i) for i in (0, 1)]
    for i in (0, 1):  # both are made smaller by their corner, then the second is moved
        x, y, w, h = box_of(page.locator(".region .knob").nth(i))
        looked.drag((x + w / 2, y + h / 2), (-16, -8))
    x, y, w, h = box_of(page.locator(".region rect.rim").nth(1))
    looked.drag((x + w / 2, y + h / 2), (6, 5))
    after = [_numbers(looked, i) for i in (0, 1)]
    job.found["resized"] = [(a - b) / scale for a, b in zip(after[0], before[0], strict=True)]
    job.found["moved"] = [(a - b) / scale for a, b in zip(after[1], before[1], strict=True)]
    page.get_by_role("button", name="Read these").first.click()
    expect(page.get_by_role("button", name="Mark the samples here")).to_be_visible()
    job.found["marked"] = [",".join(str(round(value)) for value in numbers) for numbers in after]
    looked.keep("14-photo-marked")
    page.get_by_label("Standard", exact=True).select_option("sample 1")  # open by itself where a tin was poured
    page.get_by_label("Card", exact=True).select_option("sample 2")
    page.get_by_role("button", name="Judge the card").click()


def _numbers(looked: Looked, i: int) -> list[float]:
    return [float(looked.page.locator(f"#{part}_{i}").input_value()) for part in "xywh"]


def _verdict(looked: Looked) -> None:
    expect(looked.page.locator("#verdict")).to_be_visible()
    looked.keep("15-verdict")
    press(looked, "Back")
    expect(looked.page.get_by_role("heading", name=TITLE)).to_be_visible()
    looked.keep("16-job-under-way")
    looked.open("/job/J1/swatches")
    looked.keep("17-side-by-side")


def _film(looked: Looked, job: Done) -> None:
    """Enter a layer, then tap a place of the map and enter what was read there."""
    page = looked.page
    looked.open("/job/J1/film-map?panel=roof")
    looked.keep("18-panel")
    page.get_by_text("Outline and size").click()
    for label, value in zip(("#width", "#height"), PANEL, strict=True):
        page.locator(label).fill("")
        type_in(looked, label, str(value))
    page.get_by_role("button", name="Draw it so").click()
    expect(page.get_by_text("roof, 1260 × 1310 mm")).to_be_visible()
    looked.open("/job/J1/film")
    page.get_by_label("Panel").fill("roof")
    page.get_by_label("Layer", exact=True).fill("primer")
    type_in(looked, "#builds", "62 58 60")
    page.get_by_role("button", name="Record the readings").click()
    expect(page.get_by_text("Recorded as #")).to_be_visible()
    looked.keep("19-film")
    looked.open("/job/J1/film-map?panel=roof")
    for build, place in (("104", (0.8, 0.2)), ("96", TAPPED)):
        x, y, w, h = box_of(page.locator(".panel-map"))
        looked.tap(x + place[0] * w, y + place[1] * h)
        expect(page.locator("#here")).to_contain_text("across")
        page.locator("#layer").fill("colour")
        type_in(looked, "#build_um", build)
        page.get_by_role("button", name="Record the build reading").click()
        expect(page.get_by_text("Recorded as #")).to_be_visible()
    looked.open("/job/J1/film-map?panel=roof&depth=15")
    looked.keep("20-film-map")
    job.found["drawn"] = page.locator(".panel-map g rect[fill-opacity]").count()
    job.found["signs"] = page.locator(".panel-map a text").all_text_contents()


def _rework(looked: Looked) -> None:
    looked.open("/job/J1/defect")
    looked.page.get_by_label("Kind").select_option("cratering")
    type_in(looked, "#count", "4")
    looked.page.get_by_label("Open to").select_option("primer")
    looked.keep("21-defect")
    press(looked, "Log the defect")
    expect(looked.page.get_by_text("The ways to mend it")).to_be_visible()
    looked.page.get_by_label("Why").fill("it is open to the primer")
    looked.keep("22-advice")
    press(looked, "Decide")
    expect(looked.page.get_by_text("Decided: ")).to_be_visible()
    looked.page.locator("#decision").get_by_role("link", name="Say how it came out").click()
    looked.page.get_by_label("In words").fill("no crater came back")
    looked.page.get_by_label("The work").select_option("right")
    looked.keep("23-outcome")
    press(looked, "Record the outcome")
    expect(looked.page.get_by_role("heading", name=TITLE)).to_be_visible()


def _beside_the_work(looked: Looked) -> None:
    for path, name in (
        ("/job/J1/record", "24-record"),
        ("/jobs", "25-jobs"),
        ("/devices", "26-devices"),
        ("/pair", "26-pair"),
    ):
        looked.open(path)
        looked.keep(name)
    looked.open("/job/J1/note")
    looked.page.get_by_label("What is worth remembering").fill("the air line was drained")
    looked.keep("27-note")
    press(looked, "Record the note")
    expect(looked.page.get_by_text("Recorded as #")).to_be_visible()
    looked.open("/job/J1/entry/1")
    looked.keep("28-entry")
    missing = looked.page.goto(f"{looked.base}/job/J7")
    assert missing is not None
    assert missing.status == 404
    looked.complained.clear()  # the browser itself says that there is no such page
    looked.keep("29-not-here")


@pytest.fixture
def at_home(done: Done, monkeypatch: pytest.MonkeyPatch) -> Done:
    """The job that was done, whose ledger is the one in use again."""
    monkeypatch.setenv("FINISHMATCH_HOME", str(done.home))
    return done


@pytest.mark.slow
def test_the_whole_job_from_a_new_one_to_how_it_came_out(at_home: Done) -> None:
    kinds = [view.kind for view in at_home.entries()]
    expected = ["reading", "reading", "target", "recipe", "batch", "spray-out", "verdict", "correction"]
    assert [kind for kind in dict.fromkeys(kinds) if kind in expected] == list(dict.fromkeys(expected))
    assert kinds.count("film-layer") == 3
    assert {"defect", "decision", "note"} <= set(kinds)


@pytest.mark.slow
def test_a_card_photographed_is_judged_as_the_commands_judge_it(
    at_home: Done, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    resized, moved = at_home.found["resized"], at_home.found["moved"]
    assert resized == pytest.approx([0, 0, -16, -8], abs=1.5)
    assert moved == pytest.approx([6, 5, -16, -8], abs=1.5)
    names = ("sample 1", "sample 2")
    marked = [f"{name}={numbers}" for name, numbers in zip(names, at_home.found["marked"], strict=True)]
    seen = read_seen(SeenRequest(seen=[at_home.photo], region=marked, called=names))
    on_the_page = _judged(at_home)
    copied = shutil.copytree(at_home.home, tmp_path / "home")
    monkeypatch.setenv("FINISHMATCH_HOME", str(copied))
    judge_card(seen, job="J1")
    same = _judged(at_home)
    assert on_the_page[0]["difference"] == pytest.approx(same[0]["difference"])
    assert on_the_page[0]["u95"] == pytest.approx(same[0]["u95"])
    assert on_the_page[1] == pytest.approx(same[1])


def _judged(job: Done) -> tuple[dict[str, Any], dict[str, float]]:
    """Return what was seen of the last card, and its difference in each light."""
    entries = {view.kind: view.entry for view in job.entries()}
    return entries["spray-out"].seen[0], dict(entries["verdict"].lights)  # type: ignore[attr-defined]


@pytest.mark.slow
def test_a_tap_on_the_map_is_the_place_under_the_finger(at_home: Done) -> None:
    last = [view.entry for view in at_home.entries() if view.kind == "film-layer"][-1]
    assert last.builds_um == (96.0,)  # type: ignore[attr-defined]
    ((across, slash, down),) = (place.partition("/") for place in last.places)  # type: ignore[attr-defined]
    assert slash
    assert float(across) == pytest.approx(TAPPED[0] * PANEL[0], abs=6)  # a pixel of a phone is 3.5 mm of that roof
    assert float(down) == pytest.approx(TAPPED[1] * PANEL[1], abs=6)
    assert at_home.found["drawn"] > 100  # the chance of breaking through, place by place
    assert all(text[0] in "✓!✗" for text in at_home.found["signs"])


@pytest.mark.slow
@pytest.mark.parametrize("size", ["tablet", "wide"])
def test_the_whole_job_is_done_on_a_tablet_and_at_a_desk_too(
    size: str, browser: Browser, kept_bank: Path, photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with worked(browser, size, kept_bank, photo, tmp_path / "home") as job:
        monkeypatch.setenv("FINISHMATCH_HOME", str(job.home))
        kinds = {view.kind for view in job.entries()}
        assert {"target", "recipe", "batch", "spray-out", "verdict", "correction", "film-layer", "decision"} <= kinds
        assert job.found["drawn"] > 100
        assert job.found["resized"][2] < -4  # what was drawn over the photograph followed the hand
