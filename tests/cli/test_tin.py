"""A newly opened tin is tried by a letdown: `job tin` tells its tinting strength, and `mix` which tins are worth it."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import reflectance_to_lab
from finishmatch.ledger import open_ledger
from finishmatch.optics import predicted_reflectance
from finishmatch.steps import spray_outs_counted as counting
from finishmatch.steps.bank import FittedBank, open_bank
from finishmatch.steps.bank_with_cards import BankWithCards
from finishmatch.steps.todays_tins import TodaysTins, tins_in
from tests.cli.test_taught import lots, used
from tests.conftest import Ran
from tests.helpers.door_files import MIX, spectra_csv, write
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PANEL = "blue 20/80"
TIN = ("job", "tin", "J1", PANEL)


def made(bench: Path, strength: float, panel: str = PANEL) -> tuple[Any, Any]:
    """What the bank makes of a panel, and of one whose tint is so many times as strong: reflectance."""
    fitted = open_bank(bench / "bank")
    grams = dict(next(one.grams for one in fitted.bank.panels if one.name == panel))
    own = fitted.fit.optics.chosen(list(grams))
    factors = np.array([1.0 if name == "white" else strength for name in grams])
    weights = np.array(list(grams.values()))
    return predicted_reflectance(own, weights), predicted_reflectance(own.strengthened(factors), weights)


def differs(bench: Path, strength: float, panel: str = PANEL) -> str:
    """How a letdown of such a tin differs from its panel, as it is typed."""
    before, after = (reflectance_to_lab(one) for one in made(bench, strength, panel))
    return ",".join(f"{value:.3f}" for value in after - before)


@pytest.fixture
def roof(bench: Path, home: Path) -> Path:
    """A job with a target, of a bank whose tins bear lots."""
    lots(bench, "A", blue="B7")
    put_ledger(home, ["job new Roof", shlex.join([*MIX, "--job", "J1"])])
    return bench


@pytest.mark.parametrize("strength", [0.5, 0.8, 1.0, 1.3])
def test_a_letdown_seen_beside_its_panel_tells_how_strong_the_tin_is(cli: Cli, roof: Path, strength: float) -> None:
    found = cli(*TIN, "--difference", differs(roof, strength), "--json").json
    assert found["against"] == "white"
    assert found["strengths"]["blue"]["factor"] == pytest.approx(strength, rel=0.04)
    assert 0.005 < found["strengths"]["blue"]["sd"] < 0.06
    entry = found["recorded"]["entry"]
    assert entry["spray_out"] is None
    assert (entry["letdown"]["panel"], entry["letdown"]["parts"]) == (
        PANEL,
        [{"tint": "blue", "grams": 20}, {"tint": "white", "grams": 80}],
    )


def test_what_is_printed_names_the_tin_and_its_tinting_strength(cli: Cli, roof: Path) -> None:
    out = cli(*TIN, "--difference", differs(roof, 0.8), "--u95", 0.3).out
    assert "by a letdown of blue 20.0 g, white 80.0 g, drawn as the panel blue 20/80" in out
    assert "blue of lot B7: tinting strength 8" in out
    assert "% of the panels' tin, 95 in 100 within" in out
    assert "no lot in tints.csv" not in out


def test_a_letdown_that_was_read_tells_it_too(cli: Cli, roof: Path) -> None:
    _, after = made(roof, 0.8)
    card = write(roof / "letdown.csv", spectra_csv([("letdown", list(after))] * 3))
    found = cli(*TIN, "--read", card, "--json").json
    assert found["strengths"]["blue"]["factor"] == pytest.approx(0.8, rel=0.03)
    assert found["recorded"]["entry"]["letdown"]["reflectance"] == pytest.approx(after, abs=1e-6)


def test_what_was_weighed_otherwise_than_in_the_panel_is_counted(cli: Cli, roof: Path) -> None:
    more = cli(*TIN, "--difference", differs(roof, 0.8), "--weighed", "blue=25", "--weighed", "white=80", "--json").json
    assert more["strengths"]["blue"]["factor"] == pytest.approx(0.8 * 20 / 25, rel=0.05)


@pytest.mark.slow
def test_mix_names_the_tins_to_try_and_then_takes_them_as_they_are(cli: Cli, roof: Path) -> None:
    before = cli(*MIX, "--job", "J1", "--json").json
    first = before["recipes"][0]
    asked = [one["tint"] for one in before["tins_to_try"]]
    assert first["first_pour"] is not None
    assert set(asked) == {part["tint"] for part in first["parts"]} - {"white"}
    assert {one["lot"] for one in before["tins_to_try"] if one["tint"] == "blue"} == {"B7"}
    said = cli(*MIX, "--job", "J1").out
    assert "or try the tins before anything is poured" in said
    for one in before["tins_to_try"]:
        assert f"{one['tint']} as the panel {one['panel']}" in said
        cli("job", "tin", "J1", one["panel"], "--difference", differs(roof, 0.8, one["panel"]))
    after = cli(*MIX, "--job", "J1", "--json").json
    assert after["tins_to_try"] == []
    assert (after["recipes"][0]["first_pour"] or {"share": 1.0})["share"] > first["first_pour"]["share"]
    highs = [document["recipes"][0]["intervals"]["D65"]["high"] for document in (before, after)]
    assert highs[1] < 0.4 * highs[0]
    grams = [{part["tint"]: part["grams"] for part in one["recipes"][0]["parts"]} for one in (before, after)]
    share = [of["blue"] / of["white"] for of in grams]
    assert share[1] == pytest.approx(share[0] / 0.8, rel=0.1)
    numbers = [str(one["spray_out"]) for one in after["strengths_from"]]
    assert f"from letdowns {' and '.join([', '.join(f'#{n}' for n in numbers[:-1]), f'#{numbers[-1]}'])} are used" in (
        cli(*MIX, "--job", "J1").out
    )


def test_a_new_tin_of_the_white_is_tried_by_one_letdown_of_a_tint_that_is_known(cli: Cli, roof: Path) -> None:
    """A white a quarter stronger makes a letdown of any tint as that tint four fifths as strong would."""
    for one in cli(*MIX, "--job", "J1", "--json").json["tins_to_try"]:
        cli("job", "tin", "J1", one["panel"], "--difference", differs(roof, 1.0, one["panel"]))
    known = cli(*MIX, "--job", "J1", "--json").json
    assert known["tins_to_try"] == []
    lots(roof, "A", blue="B7", white="W2")
    before = cli(*MIX, "--job", "J1", "--json").json
    (asked,) = before["tins_to_try"]
    assert before["recipes"][0]["first_pour"] is not None
    tried = cli("job", "tin", "J1", asked["panel"], "--difference", differs(roof, 0.8, asked["panel"]), "--json").json
    assert not any("before" in said for said in tried["warnings"])
    after = cli(*MIX, "--job", "J1", "--json").json
    assert after["tins_to_try"] == []
    wide = [document["recipes"][0]["intervals"]["D65"]["high"] for document in (before, after)]
    assert wide[1] < 0.6 * wide[0]
    of = [{part["tint"]: part["grams"] for part in one["recipes"][0]["parts"]} for one in (known, after)]
    for tint in set(of[0]) - {"white"}:
        assert of[1][tint] / of[1]["white"] == pytest.approx(1.25 * of[0][tint] / of[0]["white"], rel=0.1)


def test_a_tin_with_a_lot_is_known_in_another_job_and_a_struck_letdown_is_gone(cli: Cli, roof: Path) -> None:
    number = cli(*TIN, "--difference", differs(roof, 0.8), "--json").json["recorded"]["number"]
    cli("job", "new", "Door")
    known = used(cli, job="J2")
    assert known["blue"]["factor"] / known["white"]["factor"] == pytest.approx(0.8, rel=0.04)
    cli("job", "strike", "J1", number, "--why", "the wrong tin")
    assert used(cli, job="J2") == {}


def test_without_a_lot_it_counts_in_its_job_alone_and_says_so(cli: Cli, bench: Path, home: Path) -> None:
    cli("job", "new", "Roof")
    cli(*MIX, "--job", "J1")
    assert "blue, white: no lot in tints.csv, so what is found counts in this job alone" in (
        cli(*TIN, "--difference", differs(bench, 0.8)).out
    )
    cli("job", "new", "Door")
    assert used(cli, job="J2") == {}
    said = cli(*TIN, "--difference", differs(bench, 1.4)).out  # another tin, told of as the same one
    assert "blue was in a card or letdown before, and both count" in said


def test_what_was_not_said_of_a_letdown_is_as_in_the_panel(cli: Cli, roof: Path) -> None:
    found = cli(*TIN, "--difference", differs(roof, 0.8), "--weighed", "blue=25", "--json").json
    parts = {part["tint"]: part["grams"] for part in found["recorded"]["entry"]["letdown"]["parts"]}
    assert parts == {"blue": 25, "white": 80}
    assert found["warnings"][0] == f"taken as in the panel {PANEL}: white 80 g"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (("blue 2/8", "--difference", "1,0,0"), "PANEL 'blue 2/8': is no panel of"),
        (("blue masstone", "--difference", "1,0,0"), "is of one tint alone, which shows no strength"),
        ((PANEL, "--difference", "2,9,12"), "no strength of blue and white makes it differ so: ΔE00"),
        ((PANEL,), "the letdown: is neither read nor seen; give --read, --seen or --difference"),
        ((PANEL, "--difference", "1,0,0", "--read", "50,0,0"), "is given beside a reading"),
        ((PANEL, "--difference", "1,0,0", "--weighed", "blue=3", "--weighed", "black=9"), "is of other tints than"),
        (
            (PANEL, "--difference", "1,0,0", "--weighed", "bleu=3"),
            "--weighed: the bank has no tint 'bleu'; did you mean",
        ),
        (
            (PANEL, "--difference", "1,0,0", "--weighed", "blue=3", "--weighed", "white=0"),
            "--weighed: is without white",
        ),
        ((PANEL, "--read", "45,60,30"), "the letdown"),
        (
            (PANEL, "--difference", "1,0,0", "--weighed", "blue=2kg", "--weighed", "white=80"),
            "times as strong against the other",
        ),
        ((PANEL, "--difference", "1,0,0", "--weighed", "blue=200", "--weighed", "white=80"), "the letdown: "),
        ((), "PANEL: is missing; name the panel of the bank"),
    ],
)
def test_what_cannot_be_a_letdown_of_these_tins_is_refused(
    cli: Cli, roof: Path, refused: Callable[..., str], line: tuple[str, ...], said: str
) -> None:
    assert said in refused("job", "tin", "J1", *line)


def test_a_tin_that_would_be_too_strong_is_refused_only_where_that_is_sure(cli: Cli, roof: Path) -> None:
    told = (*TIN, "--difference", differs(roof, 1.0 / 4.3))
    assert "times as strong against the other" in cli(*told, "--u95", "0.3").error
    assert cli(*told, "--u95", "3", "--json").json["strengths"]["blue"]["sd"] > 0.1


def test_a_recipe_made_before_a_tin_was_tried_is_to_be_made_again(cli: Cli, roof: Path) -> None:
    assert "is not poured yet" in cli("job", "show", "J1").out
    number = cli(*TIN, "--difference", differs(roof, 0.8), "--json").json["recorded"]["number"]
    out = cli("job", "show", "J1").out
    assert f"strength #{number} tried a tin after recipe #" in " ".join(out.split())
    assert "is not poured yet" not in out
    assert "finishmatch mix" in cli("next").out
    cli(*MIX, "--job", "J1")
    assert "is not poured yet" in cli("job", "show", "J1").out


def test_a_letdown_with_a_clear_in_it_is_one_of_two_tints(cli: Cli, roof: Path) -> None:
    tints, panels = roof / "bank" / "tints.csv", roof / "bank" / "panels.csv"
    write(tints, tints.read_text("utf-8") + "thinner,clear,,0.87,0.001,5,1000,,\n")
    write(panels, panels.read_text("utf-8") + f"{PANEL},thinner,5\n")
    found = cli(*TIN, "--difference", differs(roof, 0.8), "--json").json
    assert found["strengths"]["blue"]["factor"] == pytest.approx(0.8, rel=0.05)
    assert list(found["strengths"]) == ["blue"]
    asked = cli(*MIX, "--job", "J1", "--without", "violet", "--json").json["tins_to_try"]
    assert "blue" not in [one["tint"] for one in asked]


def test_one_letdown_is_not_counted_twice(cli: Cli, roof: Path, refused: Callable[..., str]) -> None:
    line = (*TIN, "--difference", differs(roof, 0.9))
    number = cli(*line, "--json").json["recorded"]["number"]
    assert f"the letdown: is recorded already, as #{number}" in refused(*line)


def test_a_job_that_knows_no_bank_asks_for_one(cli: Cli, bench: Path, home: Path, refused: Callable[..., str]) -> None:
    cli("job", "new", "Roof")
    assert "no bank is known to this job; name it once with --bank FOLDER" in refused(*TIN, "--difference", "1,0,0")
    shutil.copytree(bench / "bank", bench / "mine")
    assert cli(*TIN, "--difference", differs(bench, 0.9), "--bank", "mine").status == 0


def counted(cli: Cli, job: str) -> int:
    """From how many letdowns the strengths of today's tins are."""
    return len(cli(*MIX, "--job", job, "--json").json["strengths_from"])


def test_a_letdown_that_two_jobs_have_counts_once(cli: Cli, roof: Path) -> None:
    _, after = made(roof, 0.8)
    read = write(roof / "letdown.csv", spectra_csv([("letdown", list(after))] * 3))
    cli("job", "new", "Door")
    cli(*MIX, "--job", "J2")
    for line in (("--difference", differs(roof, 0.8), "--u95", 0.4), ("--read", read)):
        first, again = (cli("job", "tin", job, PANEL, *line, "--json").json for job in ("J1", "J2"))
        assert again["strengths"]["blue"]["factor"] == pytest.approx(first["strengths"]["blue"]["factor"], rel=1e-6)
        assert again["strengths"]["blue"]["sd"] == pytest.approx(first["strengths"]["blue"]["sd"], rel=1e-6)
        assert not any("both count" in warning for warning in again["warnings"])
        for job in ("J1", "J2"):
            assert counted(cli, job) == 1
        for one, job in ((first, "J1"), (again, "J2")):
            cli("job", "strike", job, one["recorded"]["number"], "--why", "the next is another")


def test_what_is_told_of_another_tin_in_the_same_words_is_another_letdown(cli: Cli, roof: Path) -> None:
    cli(*TIN, "--difference", "1,0,0")
    lots(roof, "A", blue="B8")
    assert cli(*TIN, "--difference", "1,0,0").status == 0
    cli("job", "new", "Door")
    assert counted(cli, "J2") == 2  # both are of one white


def test_what_is_wrong_with_a_letdown_that_was_read_is_told_of_a_letdown(
    cli: Cli, roof: Path, refused: Callable[..., str]
) -> None:
    def read_as(of: Any) -> Path:
        return write(roof / "letdown.csv", spectra_csv([("letdown", list(of))] * 3))

    tenfold = (*TIN, "--read", read_as(made(roof, 0.1)[1]))
    assert "the letdown (letdown): isn't of what was weighed, as written; it is if 2 g of blue" in (
        said := refused(*tenfold)
    )
    assert "if so write blue 2 or if so write white 800 with --weighed" in said
    weighed = ("--weighed", "blue=2", "--weighed", "white=80")
    assert cli(*tenfold, *weighed).status == 0  # what it says to do
    other = (*TIN, "--read", read_as(made(roof, 1.0, "violet 20/80")[0]))
    assert "was violet" in (said := refused(*other))
    assert "if so name the panel that it was drawn as" in said
    grey = (*TIN, "--read", read_as(np.linspace(0.1, 0.9, 31)))
    assert "can't be of what was weighed into it, whatever the strength of its tins" in (said := refused(*grey))
    assert "check that it was drawn as that panel, and what was weighed; with --anyway" in said
    assert "the letdown can't be of what was weighed into it" in cli(*grey, "--anyway").out
    for word in ("batch", "card", "spray-out"):
        assert word not in said


def tins_of(fitted: FittedBank) -> TodaysTins:
    """The tins of the job as its record shows them."""
    with open_ledger(create=False) as ledger:
        return tins_in(ledger, ledger.find_job("J1"), fitted)


def apart_sd(bank: BankWithCards) -> float:
    """How far the two tins that were sprayed of may be apart, of the logarithm (SD)."""
    assert len(bank.found.tins.names) == 2
    return float(np.sqrt(np.array([1, -1]) @ bank.found.tins.log_covariance @ np.array([1, -1])))


def test_a_letdown_and_a_card_of_its_tin_are_weighed_together(cli: Cli, roof: Path) -> None:
    """What the card is off by that isn't strength is K and S, whose shade it moves."""
    fitted = open_bank(roof / "bank")
    own = fitted.fit.optics.chosen(["white", "blue"])
    weights = np.array([300.0, 60.0])
    shade = 1 + 0.03 * np.linspace(-1, 1, 31)
    read = predicted_reflectance(own.strengthened(np.array([1.0, 0.8])), weights) * shade
    card = write(roof / "off.csv", spectra_csv([("card", list(read))] * 3))
    batch = write(roof / "off_batch.csv", "tint,grams\nwhite,300\nblue,60\n")
    assert cli("job", "pour", "J1", batch).status == 1  # it is no batch of the recipe
    assert cli("job", "spray", "J1", card).status == 0
    before, by_card = cli("predict", batch, "--bank", roof / "bank", "--job", "J1", "--json").json, tins_of(fitted)
    cli(*TIN, "--difference", differs(roof, 0.8), "--u95", 0.2)
    after = cli("predict", batch, "--bank", roof / "bank", "--job", "J1", "--json").json
    assert len(after["strengths_from"]) == len(before["strengths_from"]) + 1
    assert after["bank_today"] == before["bank_today"]
    used_of = after["strengths_used"]
    assert used_of["blue"]["factor"] / used_of["white"]["factor"] == pytest.approx(0.8, rel=0.04)
    today = tins_of(fitted)
    assert today.bank is not None
    assert today.bank.rest == ()
    assert by_card.bank is not None
    assert apart_sd(today.bank) < 0.92 * apart_sd(by_card.bank)  # what the letdown tells of them is counted
    tins = [counting.tin_name(name, lot, "J1") for name, lot in today.lots.items() if name in ("white", "blue")]
    assert set(today.bank.found.tins.names) == set(tins)
    of_card = replace(today.bank.found.fit.optics.chosen(["white", "blue"]), draws=None)
    shown = predicted_reflectance(of_card.strengthened(np.array([1.0, 0.8])), weights)
    assert np.abs(shown - read).mean() < 0.9 * np.abs(read / shade - read).mean()
