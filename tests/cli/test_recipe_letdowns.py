"""Strong tints of a recipe by a letdown, from the recipe to the tin and the shelf."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.ledger import open_ledger
from finishmatch.readings import read_bank
from finishmatch.steps.shelf import shelf_in
from tests.cli.test_taught import lots
from tests.conftest import Ran
from tests.helpers.door_files import write
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
SMALL = ("mix", "target.csv", "--bank", "bank", "--grams", "150", "--recipes", "2", "--tolerance", "0.5")


@pytest.fixture
def roof(bench: Path, home: Path) -> Path:
    """A job, and a bank whose panels were drawn from the tins that are open."""
    lots(bench, "A", panels="A")
    put_ledger(home, ["job new Roof"])
    return bench


def mixed(cli: Cli, *more: str) -> Any:
    """The first recipe of a small batch."""
    return cli(*SMALL, "--job", "J1", *more, "--json").json["recipes"][0]


def test_a_recipe_says_which_tint_goes_through_a_cup_and_how(cli: Cli, roof: Path) -> None:
    ran = cli(*SMALL)
    assert "by a letdown, once the rest is in the tin and stirred:" in ran.out
    first = mixed(cli)
    kept = sum(one["filled_g"] - one["tint_g"] for one in first["letdowns"])
    kept -= sum(0.9 * one["back_g"] for one in first["letdowns"])
    assert f"what is left in a cup is waste: {kept:.0f} g of the tin go with it" in ran.out
    assert first["first_pour"] is None
    (*_, one) = first["letdowns"]
    assert one["filled_g"] == pytest.approx(10 * one["tint_g"])
    straight = mixed(cli, "--no-letdowns")
    assert straight["letdowns"] == []
    cups = {each["tint"] for each in first["letdowns"]}
    for straightly, part in zip(straight["parts"], first["parts"], strict=True):
        assert part["tint"] == straightly["tint"]
        assert part["grams"] == pytest.approx(straightly["grams"], abs=0.051)
        in_steps = part["grams"] * (100 if part["tint"] in cups else 10)
        assert in_steps == pytest.approx(round(in_steps), abs=1e-6)
    assert max(first["lights"].values()) <= max(straight["lights"].values())
    assert straight["sensitivity_de00_p95"] > first["sensitivity_de00_p95"]
    assert "by a letdown" not in cli(*SMALL, "--no-letdowns").out
    assert "by a letdown" not in cli(*SMALL, "--scale-step", "0.01").out


def test_it_is_kept_and_poured_last_and_step_by_step(cli: Cli, roof: Path) -> None:
    first = mixed(cli)
    by_letdown = [one["tint"] for one in first["letdowns"]]
    view = next(one for one in cli("job", "show", "J1", "--json").json["entries"] if one["kind"] == "recipe")
    assert view["entry"]["let_down"] == by_letdown
    assert view["entry"]["scale_step_g"] == 0.1
    assert f"; {' and '.join(by_letdown)} by a letdown" in " ".join(cli("job", "show", "J1").out.split())
    straight = [part for part in first["parts"] if part["tint"] not in by_letdown]
    poured = [f"{part['tint']}={part['grams']:g}" for part in straight]
    told = " ".join(cli("job", "pour", "J1", *poured, "--check").out.split())
    one = first["letdowns"][0]
    cup = f"{one['tint_g']:g} g into a cup, filled up to {one['filled_g']:g} g with paint from the tin and stirred"
    assert f"{cup}, {one['back_g']:g} g of that back into the tin" in told
    lines = cli("job", "pour", "J1", *poured, "--check", "--json").json["stands"]["lines"]
    assert [line["tint"] for line in lines][-len(by_letdown) :] == by_letdown
    again = cli("job", "pour", "J1", "--as", str(view["number"]), "--grams", "300", "--check")
    assert again.status == 0


def test_what_is_weighed_into_the_cup_is_off_the_shelf(cli: Cli, roof: Path) -> None:
    first = mixed(cli)
    number = next(one for one in cli("job", "show", "J1", "--json").json["entries"] if one["kind"] == "recipe")[
        "number"
    ]
    assert cli("job", "pour", "J1", "--as", str(number)).status == 0
    with open_ledger() as ledger:
        poured = shelf_in(ledger, read_bank(Path("bank"))).poured
    whole = {part["tint"]: part["grams"] for part in first["parts"]}
    for one in first["letdowns"]:
        assert poured[one["tint"]] == pytest.approx(one["straight_g"] + one["tint_g"])
        assert poured[one["tint"]] > whole[one["tint"]]
    assert poured["white"] == pytest.approx(whole["white"])


def test_where_a_cup_would_take_more_than_there_is_it_is_poured_straight(cli: Cli, roof: Path) -> None:
    first = mixed(cli)
    one = first["letdowns"][0]
    grams = next(part["grams"] for part in first["parts"] if part["tint"] == one["tint"])
    table = roof / "bank" / "tints.csv"
    head, *rows = [line.split(",") for line in table.read_text("utf-8").splitlines()]
    at = head.index("stock_g")
    for row in rows:
        row[at] = f"{grams + 0.05:.2f}" if row[0] == one["tint"] else row[at]
    write(table, "\n".join(",".join(row) for row in [head, *rows]) + "\n")
    scarce = mixed(cli)
    assert one["tint"] not in {letdown["tint"] for letdown in scarce["letdowns"]}
