"""Whatever is written fits the terminal: prose folds at word ends, wide tables turn into blocks, no word is cut."""

from __future__ import annotations

import re
import shlex

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.cli.page_width import blocks, folded, labelled

WORDS = st.lists(st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=30), min_size=1, max_size=30)


@given(WORDS, st.integers(30, 90), st.integers(0, 8))
def test_no_word_is_cut_or_lost_and_only_a_longer_word_stands_out(words: list[str], width: int, lead: int) -> None:
    lines = folded(" " * lead + " ".join(words), width)
    assert " ".join(lines).split() == words
    assert all(len(line) <= width or len(line.split()) == 1 for line in lines)


def test_further_lines_stand_under_the_first_words() -> None:
    assert folded("  note: the card is lighter than the tin it came from", 32) == [
        "  note: the card is lighter than",
        "        the tin it came from",
    ]


def test_a_number_stays_with_its_light() -> None:
    assert folded("  ΔE00 D65 0.24   A 0.26   F11 0.28   LED-B3 0.30", 40) == [
        "  ΔE00 D65 0.24   A 0.26   F11 0.28",
        "    LED-B3 0.30",
    ]


def test_a_command_is_broken_as_a_shell_takes_it() -> None:
    line = '  finishmatch job strike J1 12 --why "entered twice by two people" --json'
    lines = folded(line, 40)
    assert all(len(one) <= 40 for one in lines)
    assert all(one.endswith(" \\") for one in lines[:-1])
    assert shlex.split(" ".join(one.removesuffix("\\") for one in lines)) == shlex.split(line)


def test_a_swatch_is_neither_broken_nor_counted_twice() -> None:
    block = click.style("    ", bg=(40, 80, 120))
    lines = folded(f"  1. {block} 500 g   predicted ΔE00 D65 0.04  A 0.04", 40)
    assert block in lines[0]
    assert "".join(lines).count("\x1b") == 2
    assert all(len(click.unstyle(line)) <= 40 for line in lines)


def test_a_row_becomes_a_block_with_every_cell_behind_its_heading() -> None:
    header = ["", "tint", "role", "kg/L", "what it is"]
    row = [
        click.style("    ", bg=(40, 80, 120)),
        "green shade blue",
        "chromatic",
        "1.12",
        "a clean blue, hidden in none",
    ]
    lines = blocks(header, [row], "  ", 40, swatches=True)
    assert click.unstyle(lines[0]) == "       green shade blue"
    assert "\n".join(lines[1:]) == "    role chromatic   kg/L 1.12\n    what it is a clean blue, hidden in\n      none"
    assert all(len(click.unstyle(line)) <= 40 for line in lines)
    assert blocks(header, [row], "  ", 40, swatches=False)[0] == "  green shade blue"


def test_a_row_that_begins_with_a_number_says_of_what() -> None:
    assert (
        blocks(["adds", "worst", "add"], [["20 %", "7.38", "white 3 g"]], "  ", 30, swatches=True)[0] == "  adds 20 %"
    )


@pytest.mark.parametrize("width", [30, 50, 80])
def test_labels_stand_in_a_column_or_above_what_they_name(width: int) -> None:
    pairs = [("ready to spray", "1.2 L of which a tenth stays in the cup"), ("coats", "3")]
    lines = labelled(pairs, width)
    assert all(len(line) <= width for line in lines)
    assert re.sub(r"\s+", " ", " ".join(lines)).strip() == " ".join(f"{label} {value}" for label, value in pairs)
