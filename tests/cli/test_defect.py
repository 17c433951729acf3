"""`finishmatch defect advise`, `kinds` and `checks` of a defect as it is typed."""

from __future__ import annotations

import json

import pytest

from finishmatch.cautions import REWORK, SOLVENTS
from finishmatch.cli import run
from finishmatch.defects import common_rework_figures
from tests.helpers.defect_lines import FULL, tell

pytest_plugins = ["tests.helpers.defect_fixtures"]


def test_typed_layers_give_the_documented_json(capsys) -> None:
    status, out = tell(capsys, f"advise 'craters' {FULL} --depth-um 35 --count 4 --size-mm 1.5 --json")
    told = json.loads(out)
    assert status == 0
    assert {"kind", "breakthrough", "anywhere", "options", "advice", "reason", "warnings", "cautions"} <= set(told)
    assert told["kind"] == "cratering"
    assert told["advice"] == told["options"][0]["option"]
    assert 0 < told["breakthrough"] < told["anywhere"] < 1
    assert told["cautions"] == list(REWORK)
    wanted = {"option", "chance_of_success", "breakthrough", "film_left_um", "why", "first", "if_it_fails"}
    for option in told["options"]:
        assert wanted <= set(option)
        assert set(option["film_left_um"]) == {"mean", "low", "high"}


@pytest.mark.parametrize(
    ("typed", "shown"), [("62,5", "62.5"), ("62,58,60", "62, 58, 60"), ("62 58", "62, 58"), ("2.5 mil", "63.5")]
)
def test_a_decimal_comma_in_a_layers_builds_is_one_reading(capsys, typed: str, shown: str) -> None:
    line = ["defect", "advise", "crater", "--layer", f"primer={typed}", "--layer", "colour=50", "--depth-um", "20"]
    assert run(line) in (0, 1)
    (row,) = (row.split(maxsplit=2) for row in capsys.readouterr().out.splitlines() if row.split()[:1] == ["primer"])
    assert row[2].rpartition(" ")[0].strip() == shown


@pytest.mark.parametrize(
    ("defect", "status", "advice"),
    [
        ("--depth-um 12 --count 1", 0, "rub out and polish"),
        ("--depth-um 70", 0, "level with fill, then flat and polish"),
        ("--depth-um 70 --count 60", 1, "sand and recoat the colour"),
        ("--reached primer", 1, "back to primer and paint again"),
        ("--depth-um 45 --keep-um 10", 0, "rub out and polish"),
        ("--depth-um 45 --max-risk 0.6", 0, "rub out and polish"),
        ("--depth-um 30 --depth-error-um 50", 0, "level with fill, then flat and polish"),
    ],
)
def test_the_answer_and_its_exit_status(capsys, defect: str, status: int, advice: str) -> None:
    found, out = tell(capsys, f"advise crater {FULL} {defect}")
    assert found == status
    assert f"Advice: {advice}" in out


def test_a_rim_makes_any_pit_suspect(capsys) -> None:
    _, plain = tell(capsys, f"advise pinhole {FULL} --depth-um 12 --json")
    _, rimmed = tell(capsys, f"advise pinhole {FULL} --depth-um 12 --rim --json")
    assert not json.loads(plain)["contamination_suspected"]
    assert json.loads(rimmed)["contamination_suspected"]
    assert json.loads(rimmed)["causes"][0].startswith("silicone, oil or wax")


def test_the_cautions_stand_under_the_advice_and_the_log(capsys, job: str) -> None:
    for line in (f"advise crater {FULL} --depth-um 35", f"log crater --job {job} --panel roof --depth-um 35"):
        _, out = tell(capsys, line)
        assert all(caution in out for caution in REWORK)


def test_the_age_of_the_finish_and_the_shops_hour_count(capsys) -> None:
    line = f"advise crater {FULL} --depth-um 70 --count 1"
    old = json.loads(tell(capsys, f"{line} --age-days 30 --json")[1])["options"][0]
    young = json.loads(tell(capsys, f"{line} --age-days 2 --cure-days 10 --window-days 1 --json")[1])["options"][0]
    assert (old["wait_days"], young["wait_days"]) == (3, 11)
    dear = json.loads(tell(capsys, f"{line} --age-days 30 --hour-cost 90 --json")[1])["options"][0]
    assert dear["cost"] == pytest.approx(old["cost"] + 30 * old["hours"])


def test_the_kinds_are_listed_and_told(capsys) -> None:
    _, out = tell(capsys, "kinds")
    assert len(out.splitlines()) > 25
    _, out = tell(capsys, "kinds 'craters'")
    assert "also called: crater" in out
    assert "contamination is suspected" in out
    _, out = tell(capsys, "kinds --json")
    assert {"name", "synonyms", "look", "causes", "shows", "remedies", "rating"} <= set(json.loads(out)["kinds"][0])


def test_the_checks_are_listed_and_told_with_their_cautions(capsys) -> None:
    _, out = tell(capsys, "checks")
    assert "water break" in out
    assert "bare centre" in out
    _, out = tell(capsys, "checks 'wipe test'")
    assert "comes out as: cures it, no change" in out
    assert SOLVENTS in out
    _, out = tell(capsys, "checks lamp")
    assert "!" not in out


def test_places_make_the_readings_nearby_count_for_more(capsys) -> None:
    layers = "--layer primer=62,58,60 --layer colour=80@100/100,98@500/100,101@300/300,104@500/500,99@100/500"
    seen = f"advise run {layers} --depth-um 20 --count 6"
    _, plain = tell(capsys, f"{seen} --json")
    _, thin = tell(capsys, f"{seen} --at 110/110 --over 60/60 --json")
    _, thick = tell(capsys, f"{seen} --at 480/480 --over 60/60 --json")
    risks = [json.loads(out)["breakthrough"] for out in (thick, plain, thin)]
    assert risks == sorted(risks)


def test_the_steps_may_be_chosen(capsys) -> None:
    risks = [
        json.loads(tell(capsys, f"advise crater {FULL} --depth-um 40 --steps {steps} --json")[1])["breakthrough"]
        for steps in ("polish", "P2000,compound,polish", "800,1200,1500,2000,compound,polish")
    ]
    assert risks == sorted(risks)
    assert risks[0] < risks[2]


def test_more_readings_are_asked_for_where_they_would_settle_it(capsys) -> None:
    line = "advise crater --layer primer=60,61,62 --layer colour=98,104 --depth-um 33 --count 1"
    told = json.loads(tell(capsys, f"{line} --json")[1])
    assert told["more_readings"] >= 1
    assert f"{told['more_readings']} more reading" in tell(capsys, line)[1].replace("one more", "1 more")
    assert json.loads(tell(capsys, f"advise crater {FULL} --depth-um 12 --count 1 --json")[1])["more_readings"] == 0


def test_the_next_check_is_told_with_what_it_tells(capsys) -> None:
    _, out = tell(capsys, f"advise crater {FULL} --depth-um 30")
    assert "check next: water break: flood the bare" in " ".join(out.split())
    assert "(5 min)" in " ".join(out.split())
    assert "bits" not in out
    _, out = tell(capsys, f"advise crater {FULL} --depth-um 30 --detail")
    assert "bits, 5 min" in " ".join(out.split())


def test_the_help_names_the_figures_of_the_data_file(capsys) -> None:
    figures = common_rework_figures()
    _, out = tell(capsys, "advise --help")
    text = " ".join(out.split())
    assert f"clear {figures.keep_um['clear']:g}, colour {figures.keep_um['colour']:g}" in text
    assert f"default: {figures.max_risk:g}]" in text
