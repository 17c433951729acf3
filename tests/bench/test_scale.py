"""A bench scale on a serial line: what its lines say, and the number that follows the pan and settles."""

from __future__ import annotations

import os
import pty
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.bench.bench import Bench, Served
from finishmatch.bench.scale.feed import FORGOTTEN_S, SETTLED_S, Settling
from finishmatch.bench.scale.line import ScaleLine, read_line
from finishmatch.bench.screens.scale import pan_document
from finishmatch.errors import InputError
from tests.bench.conftest import HOSTS, Browser, Opened
from tests.bench.screens import until

LINES = {
    "ST,GS,+  12.34 g": ScaleLine(12.34, True),
    "ST,GS,-  12.34 g": ScaleLine(-12.34, True),
    "US,NT,+0012.3  g": ScaleLine(12.3, False),
    "S S     100.00 g": ScaleLine(100.0, True),
    "S D      99.87 g": ScaleLine(99.87, False),
    "+   12.34 g": ScaleLine(12.34),
    "  12.34g": ScaleLine(12.34),
    "12,34 g": ScaleLine(12.34),
    ".5 g": ScaleLine(0.5),
    "- 0.02 g ?": ScaleLine(-0.02, False),
    "N  +  443.6 g  ": ScaleLine(443.6),
    "\x02  1.2345 kg ST\x03": ScaleLine(1234.5, True),
    "Net: 0.500 lb": ScaleLine(226.796185),
    "12.0 oz": ScaleLine(340.1942775),
    "5.00 ct": ScaleLine(1.0),
    "−3.1 g": ScaleLine(-3.1),
}
NOTHING = [
    "",
    "ST,GS,OL",
    "  OVER  g",
    "ERR 12 g",
    "12.34",
    "25.0 C",
    "G 12.3 g N 11.1 g",
    "ID 0042",
    "99999999999 g",
    "12 parts",
]


@pytest.mark.parametrize("line", LINES)
def test_a_line_with_a_number_and_a_unit_is_read(line: str) -> None:
    found = read_line(line)
    assert found is not None
    assert found.grams == pytest.approx(LINES[line].grams)
    assert found.still is LINES[line].still


@pytest.mark.parametrize("line", NOTHING)
def test_a_line_without_a_weight_is_none(line: str) -> None:
    assert read_line(line) is None


@given(st.text(max_size=300))
def test_rubbish_is_read_or_passed_over(line: str) -> None:
    found = read_line(line)
    assert found is None or abs(found.grams) <= 1e6


def test_the_number_settles_before_it_is_taken() -> None:
    clock = [0.0]
    settling = Settling(lambda: clock[0])
    assert settling.pan().grams is None
    for grams in (0.0, 40.0, 120.0, 180.0):
        settling.hear(ScaleLine(grams))
        clock[0] += 0.1
    assert settling.pan() == settling.pan()
    assert (settling.pan().grams, settling.pan().settled) == (180.0, False)
    for _ in range(int(SETTLED_S / 0.1) + 2):
        settling.hear(ScaleLine(180.04))
        clock[0] += 0.1
    assert (settling.pan().grams, settling.pan().settled) == (180.04, True)
    settling.hear(ScaleLine(181.0, False))
    assert not settling.pan().settled
    settling.hear(ScaleLine(182.0, True))
    assert not settling.pan().settled
    settling.hear(ScaleLine(182.0, True))
    assert settling.pan().settled  # twice the scale itself said so
    clock[0] += FORGOTTEN_S + 0.1
    assert settling.pan().grams is None  # it was switched off, or the line was pulled


@pytest.fixture
def line() -> Iterator[tuple[int, str]]:
    """The scale's end of a serial line, and what the other end is called."""
    scale, computer = pty.openpty()
    yield scale, os.ttyname(computer)
    for end in (scale, computer):
        os.close(end)


def test_the_number_follows_a_scale_on_a_serial_line(line: tuple[int, str], home: Path) -> None:
    scale, device = line
    bench = Bench(Served(home, HOSTS, scale=device))
    try:
        assert pan_document(bench) == {"scale": True, "grams": None, "settled": False}
        os.write(scale, b"hello\r\nUS,GS,+   3.2 g\r\nUS,GS,+  1")
        until(lambda: pan_document(bench)["grams"] == 3.2, 3)
        os.write(scale, b"2.5 g\r\n")
        until(lambda: pan_document(bench)["grams"] == 12.5, 3)
        assert not pan_document(bench)["settled"]
        os.write(scale, b"\xff\xfe\x00rubbish\n" + b"ST,GS,+  12.6 g\r\n" * 3)
        until(lambda: pan_document(bench) == {"scale": True, "grams": 12.6, "settled": True}, 3)
    finally:
        began = time.monotonic()
        bench.close()
        assert time.monotonic() - began < 2


def test_the_page_is_told_of_the_pan(opened: Opened, line: tuple[int, str]) -> None:
    scale, device = line
    browser = opened(scale=device)
    os.write(scale, b"ST,+  7.5 g\r\n" * 3)
    until(lambda: browser.client.get("/api/scale").json()["settled"], 3)
    assert browser.client.get("/api/scale").json() == {"scale": True, "grams": 7.5, "settled": True}


def test_without_a_scale_nothing_is_followed(browser: Browser) -> None:
    assert browser.client.get("/api/scale").json() == {"scale": False, "grams": None, "settled": False}


def test_a_line_that_isnt_there_is_said_at_the_start(home: Path) -> None:
    with pytest.raises(InputError, match="can't be listened to"):
        Bench(Served(home, HOSTS, scale=str(home / "ttyNONE")))
