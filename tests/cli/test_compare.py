"""`compare`: the difference in numbers and words, the verdict in the exit status, the JSON others rely on."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import colour
import pytest

from tests.conftest import Ran
from tests.helpers.door_files import HOUSE_NM, smooth, spectra_csv, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
KEYS = {"de00", "de76", "delta", "lights", "metamerism", "words", "verdict", "tolerance", "converted", "warnings"} | {
    "u95",
    "sure",
}


def test_two_typed_colours(cli: Cli) -> None:
    ran = cli("compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9", "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert set(found) == KEYS
    one, two = (52.1, -3.0, 4.2), (51.8, -2.6, 4.9)
    assert found["de00"] == pytest.approx(float(colour.delta_E(one, two, method="CIE 2000")), abs=1e-6)
    assert found["de76"] == pytest.approx(float(colour.delta_E(one, two, method="CIE 1976")), abs=1e-6)
    assert set(found["delta"]) == {"L", "a", "b", "C", "H"}
    # trial minus standard
    assert [found["delta"][axis] for axis in "Lab"] == pytest.approx([-0.3, 0.4, 0.7], abs=1e-6)
    assert found["lights"] == {"D65": found["de00"]}
    assert found["metamerism"] is None
    assert (found["verdict"], found["tolerance"]) == ("within", 1.0)
    assert found["warnings"] == ["only Lab is known, so they are judged under D65, 10° alone"]


def test_two_spectra_are_judged_in_every_light_and_the_worst_decides(cli: Cli, bench: Path) -> None:
    found = cli("compare", "target.csv", "card1.csv", "--json").json
    assert set(found) == KEYS
    assert list(found["lights"]) == ["D65", "A", "F11"]
    assert found["de00"] == found["lights"]["D65"]
    assert found["metamerism"] > 0
    assert found["words"] == ["cleaner", "redder", "lighter"]
    assert found["warnings"] == []
    worst = max(found["lights"].values())
    assert worst > found["de00"]
    between = (found["de00"] + worst) / 2
    ran = cli("compare", "target.csv", "card1.csv", "--tolerance", between, "--json")
    assert (ran.status, ran.json["verdict"]) == (1, "outside")
    ran = cli("compare", "target.csv", "card1.csv", "--tolerance", between, "--light", "D65", "--json")
    assert (ran.status, ran.json["verdict"], ran.json["metamerism"]) == (0, "within", None)
    lights = cli("compare", "target.csv", "card1.csv", "--light", "led-b3,F2", "--light", "F2", "--json").json["lights"]
    assert list(lights) == ["LED-B3", "F2"]


def test_the_observer_asked_for_is_used(cli: Cli, bench: Path) -> None:
    ten, two = (cli("compare", "target.csv", "card1.csv", "--observer", n, "--json").json for n in (10, 2))
    assert ten["de00"] != pytest.approx(two["de00"], abs=1e-5)


def test_it_is_told_in_words_with_its_exit_status(cli: Cli, bench: Path) -> None:
    ran = cli("compare", "target.csv", "card1.csv")
    assert (ran.status, ran.err) == (0, "")
    assert "the trial is cleaner, redder, lighter" in ran.out
    assert re.search(r"ΔE00 by light: D65 0\.8\d   A 0\.9\d   F11 0\.9\d\n", ran.out)
    assert "within the tolerance of 1 (worst light F11)" in ran.out
    ran = cli("compare", "target.csv", "card1.csv", "--tolerance", "0.5")
    assert (ran.status, ran.err) == (1, "")
    assert "outside the tolerance of 0.5 (worst light F11)" in ran.out
    assert "no difference the eye can see" in cli("compare", "50,0,0", "50,0,0").out


def test_lab_stands_in_place_of_trial_or_of_both(cli: Cli, bench: Path) -> None:
    typed = cli("compare", "50,0,0", "51,0,0", "--json").json
    assert cli("compare", "--lab", "50,0,0", "--lab", "51,0,0", "--json").json == typed
    assert cli("compare", "50,0,0", "--lab", "51,0,0", "--json").json == typed
    dark = cli("compare", "--lab", "-0,-3,4", "50,0,0", "--json").json
    assert dark["delta"]["L"] == -50


def test_a_typed_colour_is_taken_under_the_first_light(cli: Cli, bench: Path) -> None:
    ran = cli("compare", "target.csv", "45,-5,-15", "--light", "A", "--light", "D65", "--json").json
    assert list(ran["lights"]) == ["A"]
    assert "only Lab is known, so they are judged under A, 10° alone" in ran["warnings"]
    write(bench / "lab.csv", "name,L,a,b,light\nx,50,0,0,A\n")
    error = cli("compare", "lab.csv", "50,0,0").error
    assert "the two are Lab under different conditions (A, 10° and D65, 10°); give both under one light" in error


def test_percent_is_noted(cli: Cli, bench: Path) -> None:
    write(bench / "percent.csv", spectra_csv([("tin", [100 * v for v in smooth(HOUSE_NM)])]))
    write(bench / "plain.csv", spectra_csv([("tin", smooth(HOUSE_NM))]))
    found = cli("compare", "plain.csv", "percent.csv", "--json").json
    assert found["de00"] == pytest.approx(0, abs=1e-5)
    assert found["warnings"] == ["percent.csv: read as percent, since every value exceeds 1.5"]
    assert "note: percent.csv: read as percent" in cli("compare", "plain.csv", "percent.csv").out


def test_what_it_found_is_recorded_with_its_files(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    ran = cli("compare", "target.csv", "card1.csv", "--tolerance", "0.5", "--job", "J1")
    assert (ran.status, ran.err) == (1, "")
    assert "recorded in J1 as #1, #2, #3" in ran.out
    standard, trial, verdict = cli("job", "show", "J1", "--json").json["entries"]
    assert [entry["kind"] for entry in (standard, trial, verdict)] == ["reading", "reading", "verdict"]
    assert (standard["entry"]["role"], trial["entry"]["role"]) == ("standard", "trial")
    assert [source["name"] for source in standard["sources"]] == ["target.csv"]
    found = cli("compare", "target.csv", "card1.csv", "--tolerance", "0.5", "--json").json
    assert verdict["entry"]["verdict"] == found["verdict"] == "outside"
    assert verdict["entry"]["lights"] == pytest.approx(found["lights"], abs=1e-6)


_LOADED = """
import sys
from finishmatch.cli import run
assert run(["compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9"]) == 0
heavy = {"scipy", "sqlalchemy", "alembic", "matplotlib", "colour", "jinja2", "csv", "sqlite3"}
heavy = (heavy | {"finishmatch.optics.fit", "finishmatch.mix"}) & set(sys.modules)
sys.exit(f"loaded: {heavy}" if heavy else 0)
"""


def test_two_typed_colours_load_nothing_heavy() -> None:
    ran = subprocess.run([sys.executable, "-c", _LOADED], capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stderr) == (0, "")


def test_help_loads_no_command() -> None:
    code = (
        "import sys\nfrom finishmatch.cli import run\nassert run(['--help']) == 0\n"
        "sys.exit(','.join({'numpy', 'finishmatch.cli.mix'} & set(sys.modules)) or 0)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stderr) == (0, "")
