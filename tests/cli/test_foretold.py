"""What was foretold of a batch is kept with its card, and the record of it widens or narrows the next prediction."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
POUR = "job pour J1 batch1.csv"
SPRAY = ("job", "spray", "J1", "card1.csv")
PREDICT = ("predict", "--job", "J1")
FRESH = ("predict", "batch1.csv", "--job", "J1")  # a batch of its own: no card of it was sprayed


@pytest.fixture
def poured(bench: Path, home: Path) -> Path:
    """A job whose recipe was asked for and poured."""
    put_ledger(home, ["job new Roof", shlex.join([*MIX, "--job", "J1"]), POUR])
    return bench


def kept(cli: Cli, job: str = "J1") -> list[Any]:
    """What the strengths that stand in a job keep of it."""
    entries = cli("job", "show", job, "--json").json["entries"]
    return [entry["entry"]["foretold"] for entry in entries if entry["kind"] == "strength"]


@pytest.mark.slow
def test_what_predict_said_is_what_the_card_is_held_against(cli: Cli, poured: Path) -> None:
    before = cli(*PREDICT, "--json").json
    assert before["u95_by_record"] == {"cards": 0, "times": 1.0}
    told = cli(*SPRAY, "--json").json["foretold"]
    assert told["again"] is False
    assert told["within"] == pytest.approx(before["u95"], rel=0.02)  # three readings are of less noise than one
    assert 0 < told["de00"] < told["within"]
    lab = cli("compare", "card1.csv", "{},{},{}".format(*before["predicted"]["lab"]), "--json").json
    assert told["de00"] == pytest.approx(lab["lights"]["D65"], abs=0.02)
    assert kept(cli) == [pytest.approx(told)]
    shown = " ".join(cli("job", "show", "J1").out.split())
    assert f"ΔE00 {told['de00']:.2f} from what was foretold (0 to {told['within']:.1f} was)" in shown


@pytest.mark.slow
def test_a_card_that_came_nearer_narrows_the_next_prediction_and_is_named(cli: Cli, poured: Path) -> None:
    told = cli(*SPRAY, "--json").json["foretold"]
    found = cli(*FRESH, "--json").json["u95_by_record"]
    times = min(told["de00"] / told["expected"], 2)
    assert found == {"cards": 1, "times": pytest.approx(((3 + times**2) / 4) ** 0.5)}
    assert found["times"] < 0.95
    assert "the first card of a batch came nearer than foretold: by the bank alone 0 to" in cli(*FRESH).out
    # of the tin that was sprayed no later card is known yet
    assert cli(*PREDICT, "--json").json["u95_by_record"] == {"cards": 0, "times": 1.0}
    assert "nearer than foretold" not in cli(*PREDICT).out


@pytest.mark.slow
def test_a_card_that_is_struck_no_longer_counts_nor_one_that_is_replaced_twice(cli: Cli, poured: Path) -> None:
    number = cli(*SPRAY, "--json").json["recorded"]["number"]
    again = cli(*SPRAY, "--replaces", number, "--why", "read anew", "--json").json
    assert again["foretold"]["again"] is False
    assert cli(*FRESH, "--json").json["u95_by_record"]["cards"] == 1
    cli("job", "strike", "J1", again["recorded"]["number"], "--why", "of another panel")
    assert cli(*FRESH, "--json").json["u95_by_record"]["cards"] == 0


@pytest.mark.slow
def test_a_later_card_of_a_tin_counts_as_such(cli: Cli, poured: Path) -> None:
    cli(*SPRAY)
    head, *rows = [line for line in Path("card1.csv").read_text("utf-8").splitlines() if line[:1] != "#"]
    values = [[f"{float(value) * 1.002:.6f}" for value in row.split(",")[1:]] for row in rows]
    Path("again.csv").write_text("\n".join([head, *(",".join(["again", *of]) for of in values)]) + "\n", "utf-8")
    told = cli("job", "spray", "J1", "again.csv", "--json").json["foretold"]
    assert told["again"] is True
    assert told["by_card"] is True
    assert told["within"] < 0.6
    assert cli(*PREDICT, "--json").json["u95_by_record"]["cards"] == 1
    assert cli(*FRESH, "--json").json["u95_by_record"]["cards"] == 1


@pytest.mark.slow
def test_a_correction_keeps_it_with_the_card_it_records_and_once(cli: Cli, poured: Path) -> None:
    ran = cli(*CORRECT, "--job", "J1", "--json").json
    assert ran["foretold"]["again"] is False
    assert kept(cli) == [pytest.approx(ran["foretold"])]
    cli(*CORRECT, "--job", "J1")
    cli(*SPRAY)
    assert len(kept(cli)) == 1
    assert cli(*FRESH, "--json").json["u95_by_record"]["cards"] == 1
    alone = cli(*CORRECT, "--json").json
    assert alone["foretold"] is None


@pytest.mark.slow
def test_a_card_that_cant_be_of_its_batch_tells_nothing_of_predictions(cli: Cli, poured: Path) -> None:
    ran = cli("job", "spray", "J1", "50,60,40", "--anyway", "--json").json
    assert ran["foretold"] is None
    assert cli(*FRESH, "--json").json["u95_by_record"]["cards"] == 0


@pytest.mark.slow
def test_a_card_of_another_light_isnt_held_against_it(cli: Cli, poured: Path) -> None:
    lab = cli(*PREDICT, "--light", "A", "--json").json["predicted"]["lab"]
    ran = cli("job", "spray", "J1", "{:.2f},{:.2f},{:.2f}".format(*lab), "--json")
    assert ran.json["foretold"] is not None  # typed: taken as read in D65
    Path("warm.csv").write_text("name,L,a,b,illuminant\nwarm,{:.2f},{:.2f},{:.2f},A\n".format(*lab), "utf-8")
    ran = cli("job", "spray", "J1", "warm.csv", "--json")
    assert (ran.status, ran.json["foretold"]) == (0, None)


@pytest.mark.slow
def test_a_batch_that_was_sprayed_is_predicted_by_what_its_card_read(cli: Cli, poured: Path) -> None:
    number = cli(*SPRAY, "--json").json["recorded"]["number"]
    for tolerance, verdict in (("0.05", "outside"), ("3", "within")):
        found = cli(*PREDICT, "--tolerance", tolerance, "--json").json
        assert (found["by_card"]["spray_out"], found["against"]["verdict"]) == (number, verdict)
        assert cli(*PREDICT, "--tolerance", tolerance).out.count(f"by card #{number}, which read") == 1
    cli("job", "pour", "J1", "--to", "last", "white=20")
    assert cli(*PREDICT, "--json").json["by_card"]["since"] == [{"tint": "white", "grams": 20.0}]
    assert cli(*FRESH, "--json").json["by_card"] is None


BESIDE = ("judge", "--difference=0.3,-0.1,-0.2", "--u95", 0.4, "--job", "J1")


@pytest.mark.slow
def test_a_first_card_beside_its_piece_narrows_the_ranges_of_the_next_recipe(cli: Cli, poured: Path) -> None:
    cli("job", "new", "Another roof")
    mixed = ("mix", "--lab", "45.15,-5.01,-15.16", "--bank", "bank", "--grams", 500, "--job", "J2")
    before, of_spectrum = cli(*mixed, "--json").json, (*MIX, "--job", "J1", "--json")
    assert before["by_record"] == cli(*of_spectrum).json["by_record"] == {"cards": 0, "times": 1.0}
    told = cli(*BESIDE, "--json").json["correction"]["foretold"]
    assert told["beside"] is True
    assert (told["again"], told["by_card"]) == (False, False)
    assert told["de00"] < 0.5 * told["expected"]
    assert told["within"] == pytest.approx(before["recipes"][0]["intervals"]["D65"]["high"], rel=0.35)
    assert kept(cli) == [pytest.approx(told)]
    shown = " ".join(cli("job", "show", "J1").out.split())
    assert f"ΔE00 {told['de00']:.2f} from its piece (0 to {told['within']:.1f} was foretold)" in shown
    # another job, whose tins nothing is known of
    after = cli(*mixed, "--json").json
    assert after["by_record"]["cards"] == 1
    assert after["by_record"]["times"] == pytest.approx(((3 + (told["de00"] / told["expected"]) ** 2) / 4) ** 0.5)
    for key in ("intervals", "expected_de00"):
        was, now = (found["recipes"][0][key] for found in (before, after))
        wide = (was, now) if key == "expected_de00" else (was["D65"]["high"], now["D65"]["high"])
        assert wide[1] == pytest.approx(after["by_record"]["times"] * wide[0], rel=0.1)
    assert "the first card of a batch came nearer than foretold: the ranges below are 0.8" in cli(*mixed).out
    assert cli(*of_spectrum).json["by_record"]["cards"] == 0  # a piece that was read is foretold otherwise
    assert cli(*FRESH, "--json").json["u95_by_record"]["cards"] == 0  # of a batch's own colour it says nothing


@pytest.mark.slow
def test_a_later_card_beside_its_piece_tells_nothing_of_what_a_bank_foretells(cli: Cli, poured: Path) -> None:
    cli(*BESIDE)
    correction = [one["number"] for one in cli("job", "show", "J1", "--json").json["entries"]][-2]
    cli("job", "pour", "J1", "--as", correction)
    assert cli("judge", "--difference=0.2,-0.1,-0.1", "--u95", 0.4, "--job", "J1", "--json").status in (0, 1)
    assert [bool(one) for one in kept(cli)] == [True, False]
