"""A pour by a correction that is of another tin by now: of the job, or on the shelf; and one that adds nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import CORRECT
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


def _lots(bench: Path, blue: str) -> None:
    """Write a lot for each tin: A, but for the blue."""
    table = bench / "bank/tints.csv"
    rows = [line for line in table.read_text("utf-8").splitlines() if line[:1] != "#"]
    bare = [line.removesuffix(",A") if line.endswith(",A") else re.sub(r",(lot|B)$", "", line) for line in rows]
    lots = ["lot", *(blue if row.startswith("blue,") else "A" for row in bare[1:])]
    table.write_text("".join(f"{row},{lot}\n" for row, lot in zip(bare, lots, strict=True)), "utf-8")


@pytest.fixture
def corrected(cli: Cli, bench: Path, home: Path) -> int:
    """The number of a correction of a tin that was sprayed, all of lot A."""
    put_ledger(home, ["job new Roof", "mix target.csv --bank bank --grams 500 --recipes 1 --job J1"])
    _lots(bench, "A")
    assert cli(*CORRECT, "--job", "J1").status == 0
    return _last(cli, "correction")


def _last(cli: Cli, kind: str) -> int:
    entries = cli("job", "show", "J1", "--json").json["entries"]
    return [int(view["number"]) for view in entries if view["kind"] == kind][-1]


def _warned(cli: Cli, *words: object) -> list[Any]:
    return list(cli(*words, "--json").json["warnings"])


CHANGED = "blue was of lot A and is of lot B now (tints.csv): "


def test_a_tin_that_was_opened_since_is_told_of(cli: Cli, bench: Path, corrected: int) -> None:
    pour = ("job", "pour", "J1", "--to", "last", "--recipe", corrected, "--anyway")
    assert not any("tints.csv" in line for line in _warned(cli, *pour, "blue=1", "--check"))
    _lots(bench, "B")
    told = f"{CHANGED}correction #{corrected} was worked out for the tins its card was of; the next card tells more"
    assert told in _warned(cli, *pour, "blue=1", "--check")
    assert not any("tints.csv" in line for line in _warned(cli, *pour, "violet=1", "--check"))
    again = _warned(cli, "correct", "--job", "J1")
    assert f"{CHANGED}what is worked out from this card is for the tins it was of" in again


def test_a_correction_of_the_tin_before_something_was_added_is_told_of(cli: Cli, bench: Path, corrected: int) -> None:
    once = ("job", "pour", "J1", "--as", corrected)
    assert not any("worked out before" in line for line in _warned(cli, *once))
    batch = _last(cli, "batch")
    told = f"correction #{corrected} was worked out before something was added to its tin (batch #{batch}): "
    (said,) = (line for line in _warned(cli, *once) if line.startswith(told))
    assert said.endswith("; if it was only entered twice, strike this batch: finishmatch job strike")
    other = (line for line in _warned(cli, "job", "pour", "J1", "--as", corrected, "violet=7") if line.startswith(told))
    assert not any("entered twice" in line for line in other)


def test_a_recipe_poured_twice_to_the_gram_is_another_tin_or_one_entered_twice(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Lid")
    weighed = ("job", "pour", "Lid", "white=99.6", "blue=0.4")
    assert "entered twice" not in cli(*weighed).out
    said = " ".join(cli(*weighed).out.split())
    assert "holds the same to the gram: taken as another tin; if it was only entered twice, strike this batch" in said


def test_a_correction_that_adds_nothing_isnt_poured(cli: Cli, bench: Path, corrected: int) -> None:
    assert cli("correct", "--job", "J1", "--tolerance", 3).status == 0
    number = _last(cli, "correction")
    refused = cli("job", "pour", "J1", "--as", number)
    assert (refused.status, f"--as: correction #{number} found nothing to add" in refused.err) == (2, True)
    assert cli("job", "pour", "J1", "--as", number, "violet=0.5").status == 0
