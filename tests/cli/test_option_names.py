"""Rooms name a parameter in backticks; whoever typed the command is told its option."""

from __future__ import annotations

import json
from typing import Any

import click
import pytest

from finishmatch.cli import root
from finishmatch.cli.common import emit_json, say_warnings
from finishmatch.cli.lazy_group import LazyGroup
from finishmatch.cli.option_names import error_with_options, with_options
from finishmatch.errors import InputError


@click.command()
@click.argument("target")
@click.option("-n", "--max-tints", "most", type=int)
@click.option("--build-um")
def searched(target: str, most: int, build_um: str) -> None:
    """A command."""


def test_a_parameter_is_shown_as_its_option_and_an_argument_by_its_name() -> None:
    text = "`most` or `build_um` for `target`, not `ground` or `L,a,b`"
    assert with_options(text, searched) == "--max-tints or --build-um for TARGET, not `ground` or `L,a,b`"


def test_advice_that_the_command_has_no_option_for_is_left_out() -> None:
    advice = "patch 7 is off by ΔE00 14.1: clean it, or leave it out with `skip_patch` 7"
    with_it, without = (root.get_command(click.Context(root), name) for name in ("photo", "bank"))
    assert isinstance(with_it, LazyGroup)
    assert isinstance(without, LazyGroup)
    reads = with_it.get_command(click.Context(with_it), "read")
    panels = without.get_command(click.Context(without), "photo")
    assert with_options(advice, reads) == advice.replace("`skip_patch`", "--skip-patch")
    assert with_options(advice, panels) == "patch 7 is off by ΔE00 14.1: clean it"


def test_every_part_of_an_error_is_shown_so() -> None:
    error = error_with_options(InputError("`most`", "`most` is 9", "lower `most`"), searched)
    assert str(error) == "--max-tints: --max-tints is 9; lower --max-tints"


def test_without_a_running_command_the_text_stays() -> None:
    assert with_options("`most`") == "`most`"


def test_notes_and_json_name_the_options_of_the_running_command(capsys: pytest.CaptureFixture[str]) -> None:
    with click.Context(searched):
        say_warnings(["raise `most`"])
        emit_json({"why": "raise `most`", "recipes": [{"notes": ["lower `build_um`"]}]})
    note, document = capsys.readouterr().out.splitlines()
    assert note == "  note: raise --max-tints"
    assert json.loads(document) == {"why": "raise --max-tints", "recipes": [{"notes": ["lower --build-um"]}]}


def test_a_wrong_parameter_of_a_command_is_told_by_its_option(cli: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_values: Any) -> Any:
        raise InputError("`gloss`", "is no gloss", "lower `gloss`")

    monkeypatch.setattr("finishmatch.steps.compare.check_gloss", refuse)
    assert cli("compare", "50,0,0", "51,0,0").error == "finishmatch: --gloss: is no gloss; lower --gloss"


def _groups(group: LazyGroup) -> list[LazyGroup]:
    context = click.Context(group)
    commands = [group.get_command(context, name) for name in group.table]
    return [group, *(found for one in commands if isinstance(one, LazyGroup) for found in _groups(one))]


def test_every_command_of_every_table_is_there() -> None:
    for group in _groups(root):  # type: ignore[arg-type]
        for name, (_, line) in group.table.items():
            assert isinstance(group.get_command(click.Context(group), name), click.Command), name
            assert 10 < len(line) <= 90, name
