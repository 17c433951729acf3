"""The page of a bank: the curves of every tint with their bands, what to draw next, which panel is mislabelled."""

from __future__ import annotations

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
TINTS = ("white", "black", "soft black", "blue", "violet")  # of the bench


class Seen(HTMLParser):
    """What a page holds: its words, its tags left open, and what it fetches."""

    VOID = ("meta", "br", "link", "img")

    def __init__(self) -> None:
        super().__init__()
        self.words, self.open, self.fetched = "", [], []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open += [] if tag in self.VOID else [tag]
        self.fetched += [value for name, value in attrs if name in ("src", "href", "xlink:href") and value]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetched += [value for name, value in attrs if name in ("src", "href", "xlink:href") and value]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += f" {data}"


def seen(path: Path) -> Seen:
    """Read a page, seeing that its tags are closed and that it needs nothing else."""
    page = Seen()
    text = path.read_text("utf-8")
    page.feed(text)
    assert page.open == []
    assert all(place.startswith("#") for place in page.fetched)
    assert not re.search(r"url\((?!#)", text)
    page.words = " ".join(page.words.split())
    return page


def curves(page: str) -> int:
    """How many bands are drawn."""
    return len(re.findall(r'id="FillBetweenPolyCollection_\d+"', page))


@pytest.fixture
def drawn(cli: Cli, bench: Path) -> str:
    """What `bank show` prints of the bench's bank, its page drawn to bank.html."""
    ran = cli("bank", "show", "bank", "--plot", "bank.html")
    assert ran.status == 0
    return ran.out


def test_a_page_shows_every_tint_with_its_band_and_what_to_draw_next(drawn: str, bench: Path) -> None:
    page = seen(bench / "bank.html")
    assert "curves of K and S: bank.html" in drawn
    assert curves((bench / "bank.html").read_text("utf-8")) == 2 * len(TINTS)
    for tint in TINTS:
        assert tint in page.words
    line = next(line for line in drawn.splitlines() if "(predicted to ΔE00" in line)
    panel, figure = re.fullmatch(r" +(.*?)  \(predicted to ΔE00 (.*)\)", line).groups()
    assert f"{panel} {figure}" in page.words
    assert "No panel stands out: none is set aside as mislabelled." in page.words
    assert "data sheet" in page.words


def test_a_page_names_the_panel_that_is_probably_mislabelled_and_the_hazards(cli: Cli, bench: Path) -> None:
    swapped = {"blue": "violet", "violet": "blue"}
    text = (bench / "bank/readings.csv").read_text()
    text = re.sub(r"(?m)^(blue|violet) 20/80,", lambda found: f"{swapped[found[1]]} 20/80,", text)
    write(bench / "bank/readings.csv", text)
    tints = (bench / "bank/tints.csv").read_text()
    write(bench / "bank/tints.csv", tints.replace("PV23", "PY34"))
    assert cli("bank", "show", "bank", "--plot", "bank.html").status == 0
    words = seen(bench / "bank.html").words
    assert "Set aside, so that they don't spoil the others: " in words
    for panel, other in swapped.items():
        assert re.search(rf"Panel {panel} 20/80 does not fit .*?it reads like {other} 20/80", words)
    assert "violet holds lead, chromate (as PY34 usually does; the tin's data sheet wins)" in words
    assert "never dry-sand" in words


def test_a_page_that_cant_be_written_is_told_and_another_ending_is_a_picture(cli: Cli, bench: Path) -> None:
    assert "can't be written" in cli("bank", "show", "bank", "--plot", "no/where.html").error
    assert cli("bank", "show", "bank", "--plot", "bank.png").status == 0
    assert (bench / "bank.png").read_bytes().startswith(b"\x89PNG")
