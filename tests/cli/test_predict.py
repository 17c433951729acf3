"""`predict`: what a batch will look like, what if something is added, and the way back by adding only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import finishmatch as fm
from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, snapshot, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PREDICT = ("predict", "batch1.csv", "--bank", "bank")
GREY = ("predict", "white=300", "blue=20", "black=9.8", "--bank", "bank")


def test_what_a_card_will_look_like_is_said_with_how_surely(cli: Cli, bench: Path) -> None:
    ran = cli(*PREDICT, "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert set(found["lights"]) == {"D65", "A", "F11"}
    assert found["predicted"]["lab"] == found["lights"]["D65"]
    assert (len(found["predicted"]["wavelengths"]), len(found["predicted"]["reflectance"])) == (31, 31)
    assert 2 < found["u95"] < 6  # tins nothing was sprayed of differ by 15 %
    assert (found["against"], found["way_back"], found["change"]) == (None, None, None)
    text = cli(*PREDICT).out
    assert "a card of these 499.9 g" in text
    assert f"expect 0 to {found['u95']:.1f} from this" in text
    assert "! The product's data sheet" in text


def test_parts_may_be_typed_and_are_those_of_the_file(cli: Cli, bench: Path) -> None:
    typed = ("predict", "white=444.2", "blue=28.7g", "soft black=25.4", "violet = 1.6", "--bank", "bank", "--json")
    assert cli(*typed).json == cli(*PREDICT, "--json").json


def test_the_library_predicts_the_same(cli: Cli, bench: Path) -> None:
    pour = {"black": 12.0}
    told = fm.predict("bank", {"white": 300, "blue": 20, "black": 9.8}, pour=pour)
    ran = cli(*GREY, "--pour", "black=12", "--json").json
    assert told.against is not None
    assert told.lab == pytest.approx(ran["predicted"]["lab"], abs=1e-5)
    assert told.against.way_back.additions == tuple((p["tint"], p["grams"]) for p in ran["way_back"]["additions"])
    assert told.as_dict().keys() == ran.keys()


def test_what_an_addition_does_is_said_and_it_is_the_same_as_pouring_it(cli: Cli, bench: Path) -> None:
    ran = cli(*GREY, "--add", "black=5", "--add", "white=10", "--json")
    whole = cli("predict", "white=310", "blue=20", "black=14.8", "--bank", "bank", "--json").json
    assert ran.status == 0
    assert ran.json["lights"] == {light: pytest.approx(lab, abs=1e-5) for light, lab in whole["lights"].items()}
    assert ran.json["grams"] == pytest.approx(344.8)
    assert ran.json["change"]["words"][0] == "darker"
    assert "against the batch as written it comes out darker" in cli(*GREY, "--add", "black=5").out
    # the colours themselves: as the library predicts them one by one
    plain = cli(*GREY, "--json").json
    assert ran.json["predicted"]["lab"][0] < plain["predicted"]["lab"][0]


def test_the_way_back_of_a_slip_comes_back_to_what_was_meant(cli: Cli, bench: Path) -> None:
    line = (*GREY, "--pour", "black=10.8")
    ran = cli(*line, "--json")
    found = ran.json
    assert (ran.status, found["against"]["meant"], found["against"]["verdict"]) == (0, True, "outside")
    back = found["way_back"]
    assert back["reachable"]
    assert 0 < back["growth"] <= 0.2
    assert all(part["grams"] * 10 == pytest.approx(round(part["grams"] * 10), abs=1e-6) for part in back["additions"])
    # what was added being added, the batch is inside the tolerance of what was meant, as predict itself sees it
    added = [word for part in back["additions"] for word in ("--add", f"{part['tint']}={part['grams']}")]
    after = cli(*line, *added, "--json").json
    assert after["against"]["verdict"] == "within"
    assert after["against"]["lights"] == pytest.approx(back["lights"], abs=1e-5)
    assert after["way_back"]["additions"] == []
    write(bench / "meant.csv", "tint,grams\nwhite,300\nblue,20\nblack,9.8\n")
    poured = ("predict", "white=300", "blue=20", "black=10.8", "--bank", "bank", "--meant", "meant.csv", "--json")
    assert cli(*poured).json["way_back"] == back
    assert "the way back" in cli(*line).out


def test_a_slip_too_large_to_come_back_from_is_an_honest_no(cli: Cli, bench: Path) -> None:
    ran = cli(*GREY, "--pour", "black=21.8", "--json")
    back = ran.json["way_back"]
    assert (ran.status, back["reachable"]) == (1, False)
    assert back["growth"] <= 0.2 + 1e-9
    assert back["growth_needed"] is None or back["growth_needed"] > 0.2
    text = cli(*GREY, "--pour", "black=21.8").out
    assert "there is none within the growth limit; the nearest is" in text
    assert "what adding more buys" in text
    if back["growth_needed"] is not None:
        more = cli(*GREY, "--pour", "black=21.8", "--max-growth", back["growth_needed"] + 0.1, "--json")
        assert (more.status, more.json["way_back"]["reachable"]) == (0, True)


def test_against_a_target_the_difference_is_that_of_the_prediction(cli: Cli, bench: Path) -> None:
    ran = cli(*PREDICT, "--target", "target.csv", "--json")
    predicted = fm.predict("bank", "batch1.csv")
    truth = fm.compare("target.csv", predicted.reflectance).verdict
    assert ran.status == 0
    assert ran.json["against"]["lights"] == pytest.approx(truth.lights, abs=1e-5)
    assert (ran.json["against"]["verdict"], ran.json["against"]["tolerance"]) == ("within", 0.5)
    assert "the way back: nothing to add" in cli(*PREDICT, "--target", "target.csv").out
    outside = cli(*PREDICT, "--target", "target.csv", "--add", "soft black=3", "--json").json
    assert outside["against"]["verdict"] == "outside"
    assert outside["way_back"]["additions"]


def test_the_jobs_target_and_what_its_spray_outs_showed_are_used(cli: Cli, bench: Path, home: Path) -> None:
    cli("job", "new", "Roof")
    assert cli(*PREDICT, "--job", "J1", "--json").json["against"] is None  # it has no target yet
    cli(*MIX, "--job", "J1")
    known = cli(*PREDICT, "--job", "J1", "--json").json
    assert known["against"]["name"] == cli(*PREDICT, "--target", "target.csv", "--json").json["against"]["name"]
    cli(*CORRECT, "--job", "J1")
    before = snapshot(home)
    surer = cli(*PREDICT, "--job", "J1", "--json").json
    assert snapshot(home) == before  # nothing is recorded
    assert set(surer["strengths_used"]) == {"white", "blue", "soft black", "violet"}
    assert surer["u95"] < known["u95"]
    card = fm.read_target("card1.csv")
    off = np.subtract(surer["predicted"]["lab"], card.lab_in("D65", 10))
    assert np.linalg.norm(off) < 0.5
    assert "strengths of today's tins from spray-out" in cli(*PREDICT, "--job", "J1").out


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (("predict", "whit=300", "--bank", "bank"), "no tint 'whit'; did you mean white?"),
        (("predict", "white=3,500", "--bank", "bank"), "write it with a decimal point"),
        (("predict", "white=-3", "--bank", "bank"), "-3 g is not possible; give grams, 0 to 1,000,000"),
        (("predict", "white=1e9", "--bank", "bank"), "1e+09 g is not possible; give grams, 0 to 1,000,000"),
        (("predict", "white=nan", "--bank", "bank"), "'nan' is not a number of grams"),
        (("predict", "=3", "--bank", "bank"), "is not a part"),
        (("predict", "white=0", "--bank", "bank"), "nothing was poured"),
        (("predict", "nowhere.csv", "--bank", "bank"), "nowhere.csv"),
        (("predict", "batch1.csv", "white=3", "--bank", "bank"), "stands among other parts"),
        ((*PREDICT, "--pour", "black=3"), "the batch holds no black"),
        ((*PREDICT, "--pour", "blue=3", "--pour", "blue=4"), "names a tint twice"),
        (("predict", "blue=3", "blue=4", "--bank", "bank", "--pour", "blue=3"), "the batch holds blue 2 times"),
        ((*PREDICT, "--add", "blak=3"), "--add: the bank has no tint 'blak'; did you mean black?"),
        ((*PREDICT, "--target", "target.csv", "--meant", "batch1.csv"), "a batch is held against one colour"),
        ((*PREDICT, "--target", "target.csv", "--tolerance", "0"), "--tolerance"),
        ((*PREDICT, "--target", "target.csv", "--max-growth", "-1"), "--max-growth"),
        ((*PREDICT, "--ground", "black"), "--build"),
        ((*PREDICT, "--job", "J7"), "there is no ledger yet"),
    ],
)
def test_what_is_wrong_is_refused_in_one_line(refused: Callable[..., str], line: tuple[str, ...], told: str) -> None:
    assert told in refused(*line)
