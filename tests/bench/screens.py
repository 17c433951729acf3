"""A real browser on the page as it is served, and what is looked for on every screen."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect, sync_playwright

from finishmatch.bench.bench import Bench
from finishmatch.bench.start import prepared, server_of
from tests.conftest import ROOT

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--process-per-site",
    "--js-flags=--single-threaded",  # its own threads only take the processor from the tests beside it
]
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "wide": (1280, 800)}
SCHEMES = {"phone": ("dark", "light"), "tablet": ("dark",), "wide": ("light",)}
KEPT = ROOT / "build/screens"
KEEPS = bool(os.environ.get("FINISHMATCH_SCREENS"))  # pictures are for a person to look at
LEAST_TARGET = 48
# what all kinds of parts stand on: looked through in dark too, and on larger screens, where the parts are the same
OF_ALL_PARTS = ("03-job-opened", "09-poured-too-much", "13-photo-read", "15-verdict", "20-film-map", "22-advice")
WHOLE = {"resultTypes": ["violations"]}  # what passed isn't told of every part of a page
RULES = Axe().axe_script
CONTRAST = {"runOnly": ["color-contrast"], **WHOLE}  # what else there is to find doesn't depend on the scheme
PATIENCE_MS = 45_000  # of a busy machine
expect.set_options(timeout=PATIENCE_MS)

# what can be pressed and is smaller than a gloved finger, and whether anything sticks out of the page
_TOO_SMALL = """(least) => [...document.querySelectorAll(
  "a, button, input:not([type=hidden]), select, textarea, summary, [role=button]")]
  .filter((one) => one.checkVisibility() && !one.closest(".skip") && !one.disabled)
  .map((one) => {
    const box = one.getBoundingClientRect();
    const label = one.matches("[type=checkbox], [type=radio]") ? one.labels[0]?.getBoundingClientRect() : null;
    const width = label ? label.right - box.left : box.width;
    const height = label ? Math.max(label.height, box.height) : box.height;
    return [one.outerHTML.slice(0, 120), Math.round(width), Math.round(height)];
  })
  .filter(([, width, height]) => width < least || height < least)"""
STICKS_OUT = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
# a page whose text takes its time to arrive: what is done meanwhile is done on the page as it was
LATE = """(() => {
  const text = Response.prototype.text;
  window.coming = 0;
  Response.prototype.text = async function () {
    const found = await text.call(this);
    await new Promise((done) => { window.arrive = done; window.coming += 1; });
    return found;
  };
})()"""


@contextmanager
def served(port: int = 0, **how: Any) -> Iterator[tuple[str, Bench]]:
    """Serve the page of the home that is set on a port of this machine, in a thread."""
    bench, listening = prepared(port, tell=lambda _line: None, **how)
    server = server_of(bench)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}", bench
    finally:
        bench.closing = True
        server.should_exit = True
        thread.join(timeout=10)
        listening.close()


@contextmanager
def chromium() -> Iterator[Browser]:
    """The system's browser, without a window."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@dataclass
class Looked:
    """A page that is looked at: each screen is held against what holds for all of them, and kept as a picture if asked.

    Parameters
    ----------
    page : Page
    base : str
    size : str
    """

    page: Page
    base: str
    size: str
    complained: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.on("console", lambda line: self.complained.append(line.text) if line.type == "error" else None)
        self.page.on("pageerror", lambda error: self.complained.append(str(error)))

    @property
    def touched(self) -> bool:
        """Whether it is worked with a finger, not with a mouse."""
        return self.size != "wide"

    def tap(self, x: float, y: float) -> None:
        """Touch or click a place of the screen, CSS pixels."""
        if self.touched:
            self.page.touchscreen.tap(x, y)
        else:
            self.page.mouse.click(x, y)

    def drag(self, start: tuple[float, float], by: tuple[float, float]) -> None:
        """Draw a finger or the mouse over the screen: from a place, so far, CSS pixels."""
        if self.touched:
            drag(self.page, start, by)
            return
        self.page.mouse.move(*start)
        self.page.mouse.down()
        self.page.mouse.move(start[0] + by[0], start[1] + by[1], steps=4)
        self.page.mouse.up()

    def open(self, path: str) -> None:
        """Open a page."""
        self.page.goto(f"{self.base}{path}")

    def keep(self, name: str) -> None:
        """Look for what holds of every screen, on a phone in light and in dark; keep a picture if one is asked for."""
        page = self.page
        page.wait_for_load_state("domcontentloaded")  # a button may have led to another page
        for scheme in SCHEMES[self.size]:
            whole = scheme == SCHEMES[self.size][-1]
            looked_through = (whole and self.size == "phone") or name in OF_ALL_PARTS
            if KEEPS or looked_through:
                page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            if KEEPS:
                page.screenshot(path=KEPT / self.size / f"{name}-{scheme}.png", full_page=False)
            if looked_through:
                found = self._violations(WHOLE if whole else CONTRAST)
                what = [(one["id"], [node["html"][:160] for node in one["nodes"]][:3]) for one in found]
                assert not what, (name, scheme, what)
        small = page.evaluate(_TOO_SMALL, LEAST_TARGET)
        assert not small, (name, small)
        assert page.evaluate(STICKS_OUT) <= 0, f"{name} sticks out sideways at {self.size}"
        assert not self.complained, (name, self.complained)

    def _violations(self, options: dict[str, Any]) -> list[dict[str, Any]]:
        """Return what of the page breaks a rule of accessibility; the rules are brought in once for a page."""
        if not self.page.evaluate("'axe' in window"):
            self.page.evaluate(RULES)
        found: list[dict[str, Any]] = self.page.evaluate(
            "options => axe.run(options).then((found) => found.violations)", options
        )
        return found


def context_of(browser: Browser, size: str) -> BrowserContext:
    """A device of a size: phones and tablets are touched."""
    width, height = SIZES[size]
    touched = size != "wide"
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=touched, is_mobile=touched)
    context.set_default_timeout(PATIENCE_MS)
    return context


@contextmanager
def page_of(browser: Browser, size: str, **how: Any) -> Iterator[tuple[Page, str]]:
    """A page of a device of a size, and where the bench is that is served to it; `how` is as of `served`."""
    with served(**how) as (base, _):
        context = context_of(browser, size)
        yield context.new_page(), base
        context.close()


def drag(page: Page, start: tuple[float, float], by: tuple[float, float], steps: int = 4) -> None:
    """Draw a finger over the screen: from a place, so far, CSS pixels."""
    devtools = page.context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        touched = [{"x": x, "y": y} for x, y in points]
        devtools.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touched})

    touch("touchStart", start)
    for i in range(1, steps + 1):
        touch("touchMove", (start[0] + by[0] * i / steps, start[1] + by[1] * i / steps))
    touch("touchEnd")
    devtools.detach()


def box_of(found: Locator) -> tuple[float, float, float, float]:
    """Return where something stands on the screen: its left, top, width and height, CSS pixels."""
    found.scroll_into_view_if_needed()
    box = found.bounding_box()
    assert box is not None
    return box["x"], box["y"], box["width"], box["height"]


def until(holds: Callable[[], bool], seconds: float) -> float:
    """Wait until something holds, and return how long that took."""
    began = time.monotonic()
    while not holds():
        assert time.monotonic() - began < seconds, f"not within {seconds} s"
        time.sleep(0.05)
    return time.monotonic() - began


def press(looked: Looked, name: str) -> None:
    """Press what is called so in the bar at the bottom, as a thumb does; a link has led to its page then."""
    bar = looked.page.locator(".bar")
    found = bar.get_by_role("link", name=name).or_(bar.get_by_role("button", name=name))
    if found.evaluate("one => one.href === undefined"):
        found.click()
        return
    with looked.page.expect_navigation(wait_until="domcontentloaded"):
        found.click()


def type_in(looked: Looked, label: str, text: str) -> None:
    """Type into a field: by the keypad of the page where a finger brings it up, else by the keyboard."""
    page = looked.page
    field = page.locator(label) if label.startswith("#") else page.get_by_label(label, exact=True).first
    field.click()
    pad = looked.page.get_by_role("region", name="Keypad")
    if not pad.is_visible():
        field.fill(text)
        return
    if looked.size == "tablet" and label != "#grams":  # each key is pressed on a phone
        field.fill(text)
        text = ""
    for sign in text:
        named = {"-": "minus", " ": "space"}.get(sign, sign)
        pad.get_by_role("button", name=named, exact=True).click()
    pad.get_by_role("button", name="close the keypad").click()
