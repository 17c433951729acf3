"""Every command that a page shows runs, in order, and fits a terminal of fifty columns, and one of eighty."""

from __future__ import annotations

import io
import re
import shlex
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import click
import pytest

from finishmatch.cli import run
from tests.helpers.shell import in_shell
from tools.doc_pages import ROOT, pages, shown_commands

PAGES = {
    str(page.relative_to(ROOT)): page
    for page in pages()
    if any(shown.command.startswith("finishmatch ") for shown in shown_commands(page.read_text("utf-8")))
}


FEWEST_WORDS = 4  # of a line that is held against what is printed: fewer may be a row of names
NO_WORDS = re.compile(r"[\d~/\\]| {2}")  # numbers, places, columns of a table
OnScreen = Callable[..., list[str]]


class Screen(io.StringIO):
    """A terminal whose words are kept."""

    def isatty(self) -> bool:
        """It is one."""
        return True


@pytest.fixture
def on_screen(monkeypatch: pytest.MonkeyPatch) -> OnScreen:
    """Run a command line in a terminal of so many columns, and return the lines on its screen.

    How it must end can be given.
    """
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)

    def call(arguments: list[str], columns: int, ends: Sequence[int] = (0, 1)) -> list[str]:
        screen = Screen()
        with monkeypatch.context() as patched:
            patched.setenv("COLUMNS", str(columns))
            patched.setattr(sys, "stdout", screen)
            patched.setattr(sys, "stderr", screen)
            status = run(arguments)
        assert status in ends, (arguments, screen.getvalue())
        return click.unstyle(screen.getvalue()).split("\n")

    return call


def too_wide(lines: list[str], columns: int) -> list[str]:
    """Return the lines that don't fit: JSON, what is wiped again, and a word that is longer by itself are let be."""
    return [
        line
        for line in lines
        if len(line) > columns and "\r" not in line and not line.startswith("{") and len(line.split()) > 1
    ]


def wide(name: str) -> bool:
    """Whether a page shows lines that a terminal of eighty columns doesn't hold as they are."""
    return any(len(line) > 80 for shown in shown_commands(PAGES[name].read_text("utf-8")) for line in shown.output)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "columns"), [(n, c) for n in PAGES for c in (50, 80) if c == 50 or wide(n)])
def test_what_the_pages_show_runs_and_fits_the_terminal(
    name: str, columns: int, on_screen: OnScreen, scenario: Path
) -> None:
    for shown in shown_commands(PAGES[name].read_text("utf-8")):
        words = shlex.split(shown.command)
        if words[0] != "finishmatch":
            in_shell(shown.command, scenario)
            continue
        wrong = any(line.startswith("finishmatch: ") for line in shown.output)
        lines = on_screen(words[1:], columns, (2,) if wrong else (0, 1))
        assert too_wide(lines, columns) == [], shown.command
        printed = plain(lines)
        assert [line for line in sentences(shown.output) if line not in printed] == [], shown.command


def plain(lines: Sequence[str]) -> str:
    """Return what lines say, wherever they are broken."""
    return " ".join(" ".join(lines).split())


def sentences(lines: Sequence[str]) -> list[str]:
    """Return the lines that say something in words alone: numbers, and what they decide, may be others elsewhere."""
    said = [plain([line]) for line in lines if not NO_WORDS.search(line.strip())]
    return [words for words in said if len(words.split()) >= FEWEST_WORDS]


@pytest.mark.parametrize("asked", [["mix", "--help"], ["job", "--help"], ["plan", "quantity", "--help"], ["--help"]])
def test_help_fits_fifty_columns(asked: list[str], on_screen: OnScreen) -> None:
    assert too_wide(on_screen(asked, 50), 50) == []


def test_swatches_are_shown_in_colours_and_left_out_where_none_are_wanted(
    on_screen: OnScreen, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[str] = []
    monkeypatch.setattr(click, "unstyle", lambda text: shown.append(text) or text)
    on_screen(["compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9"], 80)
    assert "\x1b[48;2;" in shown[-1]
    monkeypatch.setenv("NO_COLOR", "1")
    on_screen(["compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9"], 80)
    assert "\x1b" not in shown[-1]


def test_json_is_one_line_in_a_narrow_terminal(on_screen: OnScreen) -> None:
    lines = on_screen(["compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9", "--json"], 50)
    assert [line[:1] for line in lines] == ["{", ""]
