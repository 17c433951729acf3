"""`finishmatch job strike`: an entry is taken back, and everything is as it was without it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Cli = Callable[..., Any]


@pytest.fixture
def job(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A job in use, with a batch, its card and a note."""
    monkeypatch.chdir(tmp_path)
    Path("batch.csv").write_text("tint,grams\nwhite,300\nblue,20\n", "utf-8")
    cli("job", "new", "Roof")
    cli("job", "use", "J1")
    cli("job", "pour", "batch.csv")
    cli("job", "spray", "70,-8,-20")
    cli("job", "note", "dried through")
    return "J1"


def _numbers(cli: Cli) -> list[int]:
    return [entry["number"] for entry in cli("job", "show", "--json").json["entries"]]


def test_an_entry_is_struck_and_restored(cli: Cli, job: str) -> None:
    ran = cli("job", "strike", job, "#3", "--why", "of another job")
    assert ran.status == 0
    assert "struck note #3" in ran.out
    assert "finishmatch job strike J1 4 --why TEXT" in ran.out
    assert _numbers(cli) == [1, 2]
    assert "restored note #3" in cli("job", "strike", 4, "--why", "no, of this").out
    assert _numbers(cli) == [1, 2, 3]
    assert "restored note" not in cli("job", "show").out
    assert "#3 is struck: of another job" in cli("job", "show", "--history").out


def test_the_spray_out_of_a_struck_batch_is_named(cli: Cli, job: str) -> None:
    ran = cli("job", "strike", 1, "--why", "entered twice", "--json").json
    assert ran["struck"]["struck_by"] == ran["recorded"]["number"] == 4
    assert ["spray-out #2 was of batch #1" in warning for warning in ran["warnings"]] == [True]


def test_what_was_replaced_stands_again_and_that_is_said(cli: Cli, job: str) -> None:
    cli("job", "note", "wet inside", "--replaces", 3, "--why", "cut it open")
    ran = cli("job", "strike", 4, "--why", "that was the other tin")
    assert "note #3 counts again" in ran.out
    assert _numbers(cli) == [1, 2, 3]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (("3",), "nothing is struck without a reason; say why: --why"),
        (("three", "--why", "x"), "is not the number of an entry"),
        (("99", "--why", "x"), "there is no such entry"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_struck(cli: Cli, job: str, line: tuple[str, ...], said: str) -> None:
    assert said in cli("job", "strike", *line).error
    assert _numbers(cli) == [1, 2, 3]
