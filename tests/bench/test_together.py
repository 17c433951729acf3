"""Two devices on one job see each other's entries; without the server what is typed is kept; the page can speak."""

from __future__ import annotations

import json
import os
import pty
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
from playwright.sync_api import Browser, Page, expect

from finishmatch.ledger import EntryView, NoteEntry, open_ledger
from finishmatch.steps.job.note import note
from finishmatch.steps.job.open import open_job
from tests.bench.conftest import Opened
from tests.bench.screens import LATE, context_of, served, until
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
SPEECH = """
window.spoken = [];
window.SpeechSynthesisUtterance = function (text) { this.text = text; };
Object.defineProperty(window, "speechSynthesis",
  { value: { speak: (one) => window.spoken.push(one.text), cancel: () => {} } });
window.SpeechRecognition = window.webkitSpeechRecognition = class extends EventTarget {
  start() { window.ear = this; }
  stop() {}
  hear(text) {
    const heard = Object.assign([{ transcript: text }], { isFinal: true });
    this.dispatchEvent(Object.assign(new Event("result"), { results: [heard] }));
  }
};
"""


@pytest.fixture(scope="module")
def browser(chromium_: Browser) -> Browser:
    """The room's real browser."""
    return chromium_


def test_every_entry_is_sent_to_who_has_the_job_open_within_two_seconds(home: Path) -> None:
    open_job("Roof")
    heard: list[dict[str, object]] = []
    with served() as (base, bench):
        began = threading.Event()

        def listen() -> None:
            with httpx2.Client(timeout=10) as client:
                client.get(f"{base}/jobs")
                with client.stream("GET", f"{base}/job/J1/events") as stream:
                    for line in stream.iter_lines():
                        began.set()
                        if line.startswith("data: {") and len(line) > len("data: {}"):
                            heard.append(json.loads(line[6:]))
                            return

        thread = threading.Thread(target=listen)
        thread.start()
        assert began.wait(10)
        note("J1", "by another device")
        took = until(lambda: bool(heard), 4)
        thread.join(5)
        assert took < 2
        assert heard[0] == {"last": 1, "entries": [{"number": 1, "kind": "note", "text": "by another device"}]}
        assert not bench.closing


def test_nothing_is_told_to_a_device_that_was_forgotten(opened: Opened) -> None:
    browser = opened(lan=True)
    open_job("Roof")
    code = browser.bench.pairing.code()
    browser.client.post("/pair", data={"code": code, "name": "tablet"})
    browser.bench.devices.forget(1)
    assert browser.client.get("/job/J1/events").status_code == 401


@pytest.fixture
def pages(browser: Browser, bench: Path, home: Path) -> Iterator[tuple[Page, Page, str]]:
    """Two devices, each with the page of its own, on a job with a recipe."""
    put_ledger(home, ["job new Roof", "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"])
    with served() as (base, _):
        contexts = [context_of(browser, size) for size in ("phone", "tablet")]
        contexts[0].add_init_script(SPEECH)
        yield contexts[0].new_page(), contexts[1].new_page(), base
        for context in contexts:
            context.close()


@pytest.mark.slow
def test_two_devices_see_each_other_and_nothing_typed_is_lost(pages: tuple[Page, Page, str]) -> None:
    one, other, base = pages
    one.goto(f"{base}/job/J1/note")
    one.get_by_label("What is worth remembering").fill("half a sentence")
    other.goto(f"{base}/job/J1")
    note("J1", "by the terminal")
    expect(one.locator("#news")).to_contain_text("by the terminal", timeout=4000)
    expect(other.locator("#note")).to_contain_text("by the terminal", timeout=4000)  # nobody typed: it is shown at once
    expect(one.get_by_label("What is worth remembering")).to_have_value("half a sentence")
    one.context.set_offline(True)
    one.get_by_role("button", name="Record the note").click()
    expect(one.locator("#away")).to_be_visible()
    one.context.set_offline(False)
    one.reload()
    expect(one.get_by_label("What is worth remembering")).to_have_value("half a sentence")
    one.get_by_role("button", name="Record the note").click()
    expect(one.locator("#note")).to_contain_text("half a sentence")
    one.goto(f"{base}/job/J1/note")
    expect(one.get_by_label("What is worth remembering")).to_have_value("")  # it was recorded: nothing is kept


@pytest.mark.slow
def test_who_begins_to_type_while_the_page_is_read_again_loses_nothing(pages: tuple[Page, Page, str]) -> None:
    phone, _, base = pages
    phone.add_init_script(LATE)
    phone.goto(f"{base}/job/J1/note")
    note("J1", "by the terminal")
    phone.wait_for_function("() => window.coming === 1")
    phone.get_by_label("What is worth remembering").fill("half a sentence")
    phone.evaluate("window.arrive()")
    expect(phone.get_by_role("button", name="Show the page as it is now")).to_be_visible()
    expect(phone.get_by_label("What is worth remembering")).to_have_value("half a sentence")


@pytest.mark.slow
def test_what_others_record_takes_a_line_each_and_leaves_the_page_and_its_bar_free(
    pages: tuple[Page, Page, str],
) -> None:
    phone, _, base = pages
    phone.goto(f"{base}/job/J1/note")
    phone.get_by_label("What is worth remembering").fill("half a sentence")
    with open_ledger() as ledger:
        ledger.record_all(ledger.find_job("J1"), [NoteEntry(f"{i}: {300 * 'word '}") for i in range(8)])
    news = phone.locator("#news")
    expect(news).to_contain_text("7: word")
    note("J1", f"8: {300 * 'word '}")  # told later: what was told before stays until it is put away
    expect(news).to_contain_text("8: word")
    expect(news.get_by_role("button", name="Show the page as it is now")).to_be_visible()
    said, bar = news.bounding_box(), phone.locator(".bar").bounding_box()
    assert said is not None
    assert bar is not None
    assert said["height"] <= 0.41 * 844
    assert said["y"] + said["height"] < bar["y"]
    lines = news.locator("p").evaluate_all("(all) => all.map((one) => one.getBoundingClientRect().height)")
    assert max(lines) < 48
    expect(news).to_contain_text("and 5 before them")
    phone.locator("#news").evaluate("(one) => one.style.setProperty('height', '40vh')")  # as high as it may be
    phone.set_viewport_size({"width": 844, "height": 200})  # on its side, with the keyboard up
    assert phone.locator(".bar button").evaluate(
        """(one) => { const box = one.getBoundingClientRect();
        return one.contains(document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2)); }"""
    )


@pytest.mark.slow
def test_a_dropped_phone_loses_no_part_and_is_read_to(pages: tuple[Page, Page, str]) -> None:
    phone, tablet, base = pages
    phone.goto(f"{base}/job/J1/weigh")
    first = phone.locator("#tint").inner_text()
    phone.get_by_text("Voice", exact=True).click()
    phone.get_by_label("Read each part aloud").check()
    phone.get_by_label("Listen for «done»").check()
    phone.context.set_offline(True)
    for words in ("wait, I'm not done yet", "well done", "undone"):
        phone.evaluate("(words) => window.ear.hear(words)", words)
    assert phone.locator("#tint").inner_text() == first
    phone.evaluate("() => window.ear.hear(' Done.')")
    expect(phone.locator("#waiting")).to_contain_text("1 part waits on this device")
    second = phone.locator("#tint").inner_text()
    assert second != first
    assert any(second in said for said in phone.evaluate("() => window.spoken"))
    phone.locator("#poured").click()
    expect(phone.locator("#waiting")).to_contain_text("2 parts wait")
    phone.context.set_offline(False)
    phone.reload()  # it was dropped, and is picked up again
    expect(phone.locator("#waiting")).to_be_hidden(timeout=20_000)
    tablet.goto(f"{base}/job/J1/weigh")
    with open_ledger() as ledger:
        (batch,) = ledger.entries(ledger.find_job("J1"), kind="batch", current_only=True)
        assert [tint for tint, _ in batch.entry.parts] == [first, second]  # type: ignore[attr-defined]
    tablet.locator("#poured").click()  # the third, by another device
    expect(phone.locator("main")).to_contain_text("is in the tin", timeout=20_000)


@pytest.mark.slow
def test_the_number_follows_the_pan_and_is_taken_when_it_settled(browser: Browser, bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof", "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"])
    scale, computer = pty.openpty()
    context = context_of(browser, "phone")
    page = context.new_page()
    with served(scale=os.ttyname(computer)) as (base, _):
        os.write(scale, b"ST,+ 120.0 g\r\n" * 3)
        page.goto(f"{base}/job/J1/weigh")
        expect(page.locator("#pan")).to_contain_text("On the pan 120.0 g, settled")
        planned = float(page.locator("#to-go").inner_text())
        os.write(scale, b"US,+ 220.0 g\r\n")
        expect(page.locator("#to-go")).to_have_text(f"{planned - 100:.1f}")
        expect(page.locator("#poured")).to_be_disabled()
        os.write(scale, f"ST,+ {120 + planned - 0.1:.1f} g\r\n".encode() * 3)
        expect(page.locator("#to-go")).to_have_text("0.1")
        page.locator("#poured").click()
        until(lambda: bool(_batches()), 20)
    context.close()
    for end in (scale, computer):
        os.close(end)
    assert _batches()[0].entry.parts[0][1] == pytest.approx(planned - 0.1)  # type: ignore[attr-defined]


def _batches() -> list[EntryView]:
    with open_ledger() as ledger:
        return ledger.entries(ledger.find_job("J1"), kind="batch", current_only=True)


@pytest.mark.slow
def test_a_bench_that_is_started_anew_takes_what_was_typed_before(browser: Browser, home: Path) -> None:
    open_job("Roof")
    context = context_of(browser, "phone")
    page = context.new_page()
    with served() as (base, _):
        page.goto(f"{base}/job/J1/note")
        page.get_by_label("What is worth remembering").fill("typed before")
    expect(page.locator("#away")).to_be_visible()
    with served(port=int(base.rpartition(":")[2])):
        page.get_by_role("button", name="Record the note").click()
        expect(page.locator("#note")).to_contain_text("typed before")
    context.close()


@pytest.mark.slow
def test_without_scripts_the_page_is_read_and_its_forms_are_sent(browser: Browser, home: Path) -> None:
    open_job("Roof")
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    with served() as (base, _):
        page.goto(f"{base}/job/J1/note")
        page.get_by_label("What is worth remembering").fill("without a script")
        page.get_by_role("button", name="Record the note").click()
        expect(page.locator("#note")).to_contain_text("without a script")
    context.close()


def test_what_many_devices_are_told_costs_no_entry_twice(home: Path, opened: Opened) -> None:
    browser = opened()
    open_job("Roof")
    with open_ledger() as ledger:
        ledger.record_all(ledger.find_job("J1"), [NoteEntry(f"note {i}") for i in range(40)])
    found = browser.client.get("/api/job/J1/entries").json()
    assert found["last"] == 40
    assert len(found["entries"]) == 30  # the last thirty; who has been away longer loads the page again
