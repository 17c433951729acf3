"""A tin that a card was sprayed of: `predict` goes by that card, as `correct` does, and by what was added since."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import de00
from finishmatch.readings import read_readings
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import MIX, snapshot, spectra_csv, write
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
SWATCHES = ROOT / "swatches"
PREDICT = ("predict", "--job", "J1")
TYPED = ("predict", "batch1.csv", "--job", "J1")  # the same tin, as if it were another
TIGHT = ("--tolerance", "0.1")
OFF = "--difference=0.32,-0.12,-1.43"  # of the first card, as an instrument read both
SHARED = ("additions", "before", "lights", "growth", "growth_needed", "chance", "intervals", "scale_needed", "trade")
BY_THE_BANK = "this goes by the bank, not by spray-out"


@pytest.fixture
def poured(bench: Path, home: Path) -> Path:
    """A job whose recipe was asked for and poured."""
    put_ledger(home, ["job new Roof", shlex.join([*MIX, "--job", "J1"]), "job pour J1 batch1.csv"])
    return bench


def line(ran: Ran, begins: str) -> str:
    """The line that begins so."""
    return next(one.strip() for one in ran.out.splitlines() if one.strip().startswith(begins))


def same_way(ours: dict[str, Any], theirs: dict[str, Any], but: Sequence[str] = ()) -> None:
    """Two corrections are one, but for some fields."""
    for name in {*SHARED, "reachable", "why", "letdowns", "fills_to"} - {*but}:
        one, other = (shown(found[name]) for found in (ours, theirs))
        assert one == other, name


def shown(value: Any) -> Any:
    """A value with its numbers to the fourth digit."""
    if isinstance(value, dict):
        return {key: shown(one) for key, one in value.items()}
    if isinstance(value, list):
        return [shown(one) for one in value]
    return pytest.approx(value, abs=1e-4) if isinstance(value, float) else value


@pytest.mark.slow
@pytest.mark.parametrize("tolerance", ["0.1", "0.5"])
def test_the_way_back_is_what_the_correction_says(cli: Cli, home: Path, poured: Path, tolerance: str) -> None:
    number = cli("job", "spray", "J1", "card1.csv", "--json").json["recorded"]["number"]
    before = snapshot(home)
    ours = cli(*PREDICT, "--tolerance", tolerance, "--json").json
    assert snapshot(home) == before  # nothing is recorded
    theirs = cli("correct", "--job", "J1", "--tolerance", tolerance, "--json").json
    same_way(ours["way_back"], theirs)
    assert ours["way_back"]["additions"]
    (card,) = read_readings("card1.csv").values()
    assert ours["predicted"]["reflectance"] == pytest.approx(card.repeats.mean(axis=0), abs=1e-5)
    assert ours["against"]["lights"] == pytest.approx(theirs["before"], abs=1e-4)
    told = ours["by_card"]
    assert told == {"spray_out": number, "tells": "colour", "de00": pytest.approx(0.89, abs=0.02), "since": []}
    assert told["de00"] == pytest.approx(theirs["foretold"]["de00"], abs=1e-3)  # one number wherever it is told
    said = cli(*PREDICT)
    assert line(said, "by card") == f"by card #{number}, which read ΔE00 0.9 from the bank's word"
    assert BY_THE_BANK not in said.out
    assert ours["u95"] < 0.6 * cli(*TYPED, "--json").json["u95"]


@pytest.mark.slow
def test_of_a_part_that_was_poured_first_the_rest_is_poured_alike(cli: Cli, poured: Path) -> None:
    pour = cli(*MIX, "--job", "J1", "--json").json["recipes"][0]["first_pour"]
    parts = [f"{part['tint']}={part['grams']}" for part in pour["parts"]]
    cli("job", "pour", "J1", "--to", "new", *parts)
    cli("job", "spray", "J1", "card1.csv")
    ours = cli(*PREDICT, *TIGHT, "--json").json
    theirs = cli("correct", "--job", "J1", *TIGHT, "--json").json
    same_way(ours["way_back"], theirs)
    assert theirs["fills_to"] == pytest.approx(500, abs=0.5)
    assert "fills it up to 500.0 g" in cli(*PREDICT, *TIGHT).out


@pytest.mark.slow
def test_a_card_known_as_lab_only_is_gone_by_in_its_light(cli: Cli, poured: Path) -> None:
    cli("job", "spray", "J1", "45.6,-5.0,-15.9")
    ours = cli(*PREDICT, *TIGHT, "--json").json
    theirs = cli("correct", "--job", "J1", *TIGHT, "--json").json
    same_way(ours["way_back"], theirs)
    assert ours["predicted"]["lab"] == pytest.approx([45.6, -5.0, -15.9], abs=1e-4)
    assert set(ours["lights"]) == {"D65", "A", "F11"}
    assert set(ours["against"]["lights"]) == {"D65"}
    assert any("judged under D65, 10° alone" in said for said in ours["warnings"])


@pytest.mark.slow
def test_of_a_card_that_was_seen_only_the_difference_is_known(cli: Cli, poured: Path) -> None:
    cli("judge", "--job", "J1", OFF, "--u95", "0.3")
    entries = cli("job", "show", "J1", "--json").json["entries"]
    number = next(one["number"] for one in entries if one["kind"] == "spray-out")
    ours = cli(*PREDICT, *TIGHT, "--json").json
    theirs = cli("correct", "--job", "J1", *TIGHT, "--json").json
    same_way(ours["way_back"], theirs)
    assert ours["by_card"] == {"spray_out": number, "tells": "difference", "de00": None, "since": []}
    assert ours["against"]["tolerance"] == 0.3  # nearer isn't told
    bank = cli(*TYPED, *TIGHT, "--json").json
    assert ours["predicted"] == bank["predicted"]
    assert ours["against"]["lights"]["D65"] != pytest.approx(bank["against"]["lights"]["D65"], abs=0.02)
    said = f"by the bank; how it differs from Saltmarsh Blue by card #{number}, as it was seen beside it"
    assert line(cli(*PREDICT), "by the bank") == said
    other = cli(*PREDICT, "--target", "45,-5,-15", "--json").json
    assert other["by_card"] is None
    assert any("it was only seen beside the job's target" in one for one in other["warnings"])
    assert "spray a card" not in cli(*PREDICT).out  # there is one
    # with what is added the seen difference goes on from where it was
    added = [word for part in theirs["additions"] for word in ("--add", f"{part['tint']}={part['grams']}")]
    after = cli(*PREDICT, *TIGHT, *added, "--json").json
    assert after["against"]["lights"] == pytest.approx(theirs["lights"], abs=1e-4)
    assert after["against"]["verdict"] == "within"


@pytest.mark.slow
def test_a_card_too_thin_to_hide_is_gone_by_as_it_would_read_if_it_hid(cli: Cli, poured: Path) -> None:
    over = cli(*TYPED, "--ground", "white", "--build", 8, "--json").json["predicted"]["reflectance"]
    write(poured / "thin.csv", spectra_csv([("thin", [value * 1.03 for value in over])]))
    cli("job", "spray", "J1", "thin.csv", "--ground", "white", "--build-um", 8)
    ours = cli(*PREDICT, *TIGHT, "--json").json
    theirs = cli("correct", "--job", "J1", *TIGHT, "--json").json
    same_way(ours["way_back"], theirs, but=("before", "why"))
    assert theirs["why"] == f"if it hid: {ours['way_back']['why']}"
    (said,) = [one for one in ours["warnings"] if "its ground shows through" in one]
    assert said in theirs["warnings"]
    known = float(said.split("known to ±")[1].split(";")[0])
    assert ours["u95"] > known - 0.05  # what the ground leaves open is counted too
    hides = ours["predicted"]["reflectance"]
    assert np.abs(np.subtract(hides, over)).max() > 0.005


@pytest.mark.slow
def test_a_later_card_is_held_against_the_one_before_it_where_both_hide(cli: Cli, poured: Path) -> None:
    cli("job", "spray", "J1", "card1.csv")
    for build_um, by_card in ((60, True), (8, False)):
        over = cli(*TYPED, "--ground", "white", "--build", build_um, "--json").json["predicted"]["reflectance"]
        write(poured / "later.csv", spectra_csv([("later", over)]))
        ran = cli("job", "spray", "J1", "later.csv", "--ground", "white", "--build-um", build_um, "--json").json
        assert (ran["foretold"]["again"], ran["foretold"]["by_card"]) == (True, by_card)


@pytest.mark.slow
def test_what_was_added_since_changes_it_by_the_bank(cli: Cli, poured: Path) -> None:
    cli("job", "spray", "J1", "card1.csv")
    theirs = cli("correct", "--job", "J1", *TIGHT, "--json").json
    parts = [f"{part['tint']}={part['grams']}" for part in theirs["additions"]]
    added = [word for part in parts for word in ("--add", part)]
    asked = cli(*PREDICT, *TIGHT, *added, "--json").json
    assert asked["against"]["lights"] == pytest.approx(theirs["lights"], abs=1e-4)
    assert asked["change"]["lights"]["D65"] > 0.3
    cli("job", "pour", "J1", *parts)
    ran = cli(*PREDICT, *TIGHT, "--json").json
    assert [ran[name] for name in ("predicted", "u95", "against", "way_back", "by_card")] == [
        asked[name] for name in ("predicted", "u95", "against", "way_back", "by_card")
    ]
    assert ran["by_card"]["since"] == theirs["additions"]
    grams = sum(part["grams"] for part in theirs["additions"])
    assert line(cli(*PREDICT), "by card").endswith(f"from the bank's word, and {grams:.4g} g added since")
    # the card that then is sprayed is held against that
    lab = ran["predicted"]["lab"]
    told = cli("job", "spray", "J1", "{:.4f},{:.4f},{:.4f}".format(lab[0] + 0.3, *lab[1:]), "--json").json["foretold"]
    assert (told["again"], told["by_card"]) == (True, True)
    assert told["within"] == pytest.approx(ran["u95"], rel=0.02)
    assert told["de00"] == pytest.approx(float(de00(np.array(lab), np.add(lab, [0.3, 0, 0]))), abs=0.002)


@pytest.mark.slow
def test_the_second_card_comes_within_what_the_first_makes_of_it(cli: Cli, home: Path) -> None:
    mixed = f"mix {SWATCHES / 'target.csv'} --bank {SWATCHES / 'bank'} --grams 500 --max-tints 3 --job J1"
    sprayed = [f"job pour J1 {SWATCHES / 'batch1.csv'}", f"job spray J1 {SWATCHES / 'card1.csv'}"]
    put_ledger(home, ["job new Roof", mixed, *sprayed])
    by_bank = cli("predict", SWATCHES / "batch2.csv", "--job", "J1", "--json").json
    cli("job", "pour", "J1", "--to", "last", "red oxide=2.0")
    by_card = cli(*PREDICT, "--json").json
    assert (by_bank["parts"], by_bank["by_card"]) == (by_card["parts"], None)
    (card,) = read_readings(SWATCHES / "card2.csv").values()
    near, far = (float(de00(np.array(one["predicted"]["lab"]), card.lab_in("D65", 10))) for one in (by_card, by_bank))
    assert near < by_card["u95"] < by_bank["u95"]
    assert near < far + 0.02
    told = cli("job", "spray", "J1", SWATCHES / "card2.csv", "--json").json["foretold"]
    assert told["de00"] == pytest.approx(near, abs=1e-3)
    assert (told["by_card"], told["within"]) == (True, pytest.approx(by_card["u95"], rel=0.05))  # read thrice
    again = cli("correct", "--job", "J1", "--json").json["foretold"]
    assert again == pytest.approx(told)  # what was foretold then


@pytest.mark.slow
@pytest.mark.parametrize(
    ("asked", "why"),
    [
        (("--ground", "black", "--build", 30), "it is of another film than is asked for"),
        (("--fresh-tins",), "it is of the tins before these"),
        (("--pour", "white=400"), "it is of a tin that held more of a tint than this"),
    ],
)
def test_where_its_card_tells_nothing_of_it_the_bank_does(
    cli: Cli, poured: Path, asked: tuple[str, ...], why: str
) -> None:
    number = cli("job", "spray", "J1", "card1.csv", "--json").json["recorded"]["number"]
    ours, typed = (cli(*line, *asked, "--json").json for line in (PREDICT, TYPED))
    assert ours["by_card"] is None
    assert [ours[name] for name in ("predicted", "way_back")] == [typed[name] for name in ("predicted", "way_back")]
    assert f"{BY_THE_BANK} #{number}: {why}" in ours["warnings"]
    assert not any(BY_THE_BANK in said for said in typed["warnings"])


@pytest.mark.slow
def test_a_card_that_cant_be_of_its_batch_changes_no_prediction_of_it(cli: Cli, poured: Path) -> None:
    before = cli(*PREDICT, "--json").json
    number = cli("job", "spray", "J1", "50,60,40", "--anyway", "--json").json["recorded"]["number"]
    ours = cli(*PREDICT, "--json").json
    assert ours["by_card"] is None
    assert [ours[name] for name in ("predicted", "u95", "strengths_from")] == [
        before[name] for name in ("predicted", "u95", "strengths_from")
    ]
    (said,) = [one for one in ours["warnings"] if BY_THE_BANK in one]
    assert said.startswith(f"{BY_THE_BANK} #{number} or what it showed of the tins: it can't be of this batch")


@pytest.mark.slow
def test_what_was_meant_is_foretold_by_the_same_card(cli: Cli, bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Door", "job pour J1 batch1.csv", "job spray J1 card1.csv --bank bank"])
    slip = cli(*PREDICT, "--pour", "soft black=27.4", "--json").json
    assert (slip["against"]["meant"], slip["by_card"]["since"]) == (True, [{"tint": "soft black", "grams": 2.0}])
    assert slip["against"]["lights"] == pytest.approx(slip["change"]["lights"], abs=1e-4)
    assert slip["way_back"]["reachable"]
    added = [word for part in slip["way_back"]["additions"] for word in ("--add", f"{part['tint']}={part['grams']}")]
    after = cli(*PREDICT, "--pour", "soft black=27.4", *added, "--json").json
    assert after["against"]["lights"] == pytest.approx(slip["way_back"]["lights"], abs=1e-4)
