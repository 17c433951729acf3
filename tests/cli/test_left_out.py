"""A tint that a recipe was mixed without isn't added to its tin later."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.ledger import BatchEntry, RecipeEntry, open_ledger
from finishmatch.ledger.pouring import done_without
from tests.conftest import Ran
from tests.helpers.door_files import MIX
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
TIN = ("white=440", "blue=29", "soft black=25")
NOTE = "was mixed without violet: not added here either"


@pytest.fixture
def poured(bench: Path, home: Path) -> Path:
    """A job whose recipe was mixed without violet, and a tin that wants it."""
    mixed = shlex.join([*MIX, "--without", "violet", "--recipes", "1", "--job", "J1"])
    put_ledger(home, ["job new Roof", mixed, shlex.join(["job", "pour", "J1", *TIN])])
    return bench


def added(found: Any) -> set[str]:
    """The tints of an addition."""
    return {part["tint"] for part in found["additions"]}


@pytest.mark.slow
def test_the_way_back_does_without_what_the_recipe_did_without(cli: Cli, poured: Path) -> None:
    by_itself = cli("predict", *TIN, "--bank", "bank", "--target", "target.csv", "--tolerance", "0.1", "--json").json
    of_job = cli("predict", "--job", "J1", "--tolerance", "0.1", "--json").json
    assert "violet" in added(by_itself["way_back"])
    assert added(of_job["way_back"])
    assert "violet" not in added(of_job["way_back"])
    assert [NOTE in warning for warning in of_job["warnings"]].count(True) == 1
    assert NOTE not in " ".join(by_itself["warnings"])
    # what is in the tin already may be added again
    more = cli("predict", *TIN, "violet=1", "--bank", "bank", "--job", "J1", "--json")
    assert more.status == 0


@pytest.mark.slow
def test_a_correction_does_without_it_too(cli: Cli, poured: Path) -> None:
    typed = ("correct", "target.csv", "--bank", "bank", "--sprayed", "card1.csv", "--tolerance", "0.1", "--json")
    (poured / "tin.csv").write_text("tint,grams\n" + "\n".join(part.replace("=", ",") for part in TIN) + "\n", "utf-8")
    by_itself = cli(*typed, "--batch", "tin.csv").json
    cli("job", "spray", "J1", "card1.csv")
    of_job = cli("correct", "--job", "J1", "--tolerance", "0.1", "--json").json
    assert "violet" in added(by_itself)
    assert "violet" not in added(of_job)
    assert NOTE in " ".join(of_job["warnings"])
    fresh = of_job["fresh_batch"]
    assert fresh is None or "violet" not in {part["tint"] for part in fresh["parts"]}


def test_the_recipe_of_a_tin_is_that_of_the_batch_it_goes_on_from_else_the_newest(home: Path) -> None:
    def recipe(*without: str) -> RecipeEntry:
        parts = [("white", 100.0)]
        return RecipeEntry("bank", "x", 100.0, parts, {}, None, None, None, 1, (50.0, 0.0, 0.0), without=without)

    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        first = ledger.record(job, recipe("violet"))
        batch = ledger.record(job, BatchEntry([("white", 100.0)], recipe=first))
        second = ledger.record(job, recipe("blue"))
        more = ledger.record(job, BatchEntry([("white", 101.0)], continues=batch))
        stray = ledger.record(job, BatchEntry([("white", 50.0)]))
        views = ledger.entries(job)
        assert done_without(views, more) == (("violet",), first)
        assert done_without(views, stray) == (("blue",), second)
        other = ledger.new_job("Door")
        alone = ledger.record(other, BatchEntry([("white", 50.0)]))
        assert done_without(ledger.entries(other), alone) == ((), None)
