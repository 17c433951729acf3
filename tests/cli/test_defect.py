"""`finishmatch defect`: from the command line, typed and from a job of the ledger."""

from __future__ import annotations

import json
import shlex
from datetime import date, timedelta
from pathlib import Path

import pytest

from finishmatch.cautions import REWORK, SOLVENTS
from finishmatch.cli import run

FULL = "--layer primer=62,58,60 --layer colour=98,104,101,100"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def job(capsys: pytest.CaptureFixture[str]) -> str:
    """A job with the film of its roof read (invented scenario)."""
    for line in (
        'job new "Tarnbeck Six, Saltmarsh Blue"',
        "job film J1 --panel roof --layer primer --build 62,58,60",
        "job film J1 --panel roof --layer 'colour coat' --build 98,104",
        "job film J1 --panel Roof --layer 'colour coat' --build 101,100",
    ):
        assert run(shlex.split(line)) == 0
    capsys.readouterr()
    return "J1"


def tell(capsys: pytest.CaptureFixture[str], line: str) -> tuple[int, str]:
    """Run a command and return its status and standard output; nothing may be on standard error."""
    status = run(["defect", *shlex.split(line)])
    out, err = capsys.readouterr()
    assert err == ""
    return status, out


def refused(capsys: pytest.CaptureFixture[str], line: str) -> str:
    """Run a command that must be refused and return its one line."""
    assert run(["defect", *shlex.split(line)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("finishmatch: ")
    assert len(err.splitlines()) == 1
    return err


def test_typed_layers_give_the_documented_json(capsys) -> None:
    status, out = tell(capsys, f"advise 'fish eyes' {FULL} --depth-um 35 --count 4 --size-mm 1.5 --json")
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


def test_a_defect_is_logged_advised_and_decided_in_a_job(capsys, job: str) -> None:
    status, out = tell(
        capsys,
        f"log 'Fish-Eyes' --job {job} --panel roof --place 'front left, by the gutter' --count 12 --size-mm 1.5 "
        "--reached primer --exposure airline=2 --exposure 'polish=yes' --seen-on 2024-05-02 --json",
    )
    recorded = json.loads(out)["recorded"]
    assert status == 0
    assert recorded["entry"] == {
        "kind": "cratering",
        "panel": "roof",
        "place": "front left, by the gutter",
        "count": 12,
        "size_mm": 1.5,
        "depth_um": None,
        "layer_reached": "primer",
        "seen_on": "2024-05-02",
        "exposures": [{"kind": "air line", "value": "2"}, {"kind": "polish in the room", "value": "yes"}],
        "met_on": [],
        "seen": [],
        "checks": [],
        "rating": "",
        "at_mm": [],
        "over_mm": [],
    }
    status, out = tell(capsys, f"advise --job {job}")
    assert status == 1
    assert "98, 104, 101, 100" in out  # both visits to the gauge count as repeats of one layer
    status, out = tell(capsys, f"advise --job {job} --choose 'back to primer' --why 'silicone on the primer' --json")
    told = json.loads(out)
    assert (status, told["defect"]) == (1, recorded["number"])
    assert run(["job", "show", job, "--json"]) == 0
    story = json.loads(capsys.readouterr().out)
    (decision,) = [entry for entry in story["entries"] if entry["kind"] == "decision"]
    assert decision["number"] == told["decision"]
    assert decision["entry"]["defect"] == recorded["number"]
    assert decision["entry"]["chosen"] == "back to primer and paint again"
    assert decision["entry"]["why"] == "silicone on the primer"
    assert [option["option"] for option in decision["entry"]["options"]] == [o["option"] for o in told["options"]]
    assert not [item for item in story["open"] if item["kind"] == "defect"]


def test_a_choice_against_the_advice_is_recorded_and_said_to_be(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel roof --count 1 --reached primer")
    status, out = tell(capsys, f"advise --job {job} --choose rub --why 'the customer insists'")
    assert status == 1
    assert "against the advice: it is open to the primer" in out


def test_typed_and_logged_defects_give_the_same_answer(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel ROOF --count 3 --depth-um 33")
    _, logged = tell(capsys, f"advise --job {job} --json")
    film = FULL.replace("colour=", "'colour coat'=")
    _, typed = tell(capsys, f"advise crater {film} --count 3 --depth-um 33 --json")
    logged_told = json.loads(logged)
    for key in ("job", "defect"):
        logged_told.pop(key)
    assert logged_told == json.loads(typed)


def test_a_defect_seen_anew_replaces_the_earlier_one(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 70 --count 1")
    _, first = tell(capsys, f"advise --job {job} --json")
    number = json.loads(first)["defect"]
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 12 --count 1 --supersedes {number} --why 'measured'")
    _, second = tell(capsys, f"advise --job {job} --json")
    assert json.loads(second)["advice"] == "rub out and polish"
    assert "is not a standing defect" in refused(capsys, f"advise --job {job} --defect {number}")


def test_a_defect_may_be_logged_before_the_film_is_read_but_not_advised(capsys, job: str) -> None:
    _, out = tell(capsys, f"log crater --job {job} --panel bonnet --reached clear")
    assert "the film of the bonnet has not been read yet" in out
    assert "its film has not been read (read: Roof, roof)" in refused(capsys, f"advise --job {job}")


def test_the_day_is_today_when_none_is_given(capsys, job: str) -> None:
    _, out = tell(capsys, f"log crater --job {job} --panel roof --json")
    seen_on = date.fromisoformat(json.loads(out)["recorded"]["entry"]["seen_on"])
    assert abs(seen_on - date.today()) <= timedelta(days=1)  # midnight may pass in between


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("log crater --panel roof", "--job: is missing"),
        ("log crater --job J1", "--panel: is missing"),
        ("log cratring --job J1 --panel roof", "did you mean cratering"),
        ("log '' --job J1 --panel roof", "its kind is not named"),
        ("log crater --job J9 --panel roof", "J9"),
        ("log crater --job J1 --panel roof --count 0", "at least 1"),
        ("log crater --job J1 --panel roof --count two", "not a valid integer"),
        ("log crater --job J1 --panel roof --size-mm -1.5", "above 0"),
        ("log crater --job J1 --panel roof --size-mm nan", "not a finite number"),
        ("log crater --job J1 --panel roof --depth-um inf", "not a finite number"),
        ("log crater --job J1 --panel roof --depth-um 1,5", "decimal point"),
        ("log crater --job J1 --panel roof --depth-um 2mil", "1 mil is 25.4 µm"),
        ("log crater --job J1 --panel roof --depth-um 500", "beyond the film, which is 161 µm deep"),
        ("log crater --job J1 --panel roof --depth-um 5 --reached primer", "both a depth and a layer"),
        ("log crater --job J1 --panel roof --reached clear", "no such layer; it has primer, colour coat"),
        ("log crater --job J1 --panel roof --exposure airline", "not KIND=VALUE"),
        ("log crater --job J1 --panel roof --seen-on yesterday", "not a date"),
        ("log crater --job J1 --panel roof --seen-on 20240502", "not a date"),
        ("log crater --job J1 --panel roof --seen-on 2999-01-01", "still to come"),
        ("log crater --job J1 --panel roof --why because", "no entry to replace"),
        ("log crater --job J1 --panel roof --supersedes 1 --why x", "is a film"),
        ("advise --job J1", "no defect is logged in it"),
        ("advise --job J1 --defect 1", "no defect is logged in it"),
        ("advise crater --job J1", "stands in the job already"),
        ("advise --job J1 --count 3", "stands in the job already"),
        ("advise", "no defect is named"),
        ("advise crater --defect 3", "needs its job"),
        ("advise crater --depth-um 30", "no build readings"),
        (f"advise crater {FULL}", "nothing says how deep"),
        (f"advise crater {FULL} --depth-um 400", "beyond the film"),
        (f"advise crater {FULL} --reached clear", "no such layer"),
        (f"advise crater {FULL} --depth-um 30 --max-risk 5%", "5 % is 0.05"),
        (f"advise crater {FULL} --depth-um 30 --max-risk 5", "5 % is 0.05"),
        (f"advise crater {FULL} --depth-um 30 --keep-um -1", "at least 0"),
        (f"advise crater {FULL} --depth-um 30 --count 0", "at least 1"),
        (f"advise crater {FULL} --depth-um 30 --choose rub --why x", "recorded in a job"),
        (f"advise crater {FULL} --depth-um 30 --why x", "no option is chosen"),
        ("advise --job J1 --choose rub", "not said why"),
        ("advise --job J1 --choose burn --why x", "choose one of"),
        ("advise crater --layer colour --depth-um 3", "is not NAME=UM"),
        ("advise crater --layer =50 --depth-um 3", "is not NAME=UM"),
        ("advise crater --layer colour= --depth-um 3", "no build readings"),
        ("advise crater --layer colour=0 --depth-um 3", "above 0"),
        ("advise crater --layer colour=50,-3 --depth-um 3", "above 0"),
        ("advise crater --layer colour=50,nan --depth-um 3", "not a finite number"),
        ("advise crater --layer colour=50,x --depth-um 3", "not a number"),
        ("advise crater --layer colour=50µm --depth-um 3", "carries a unit"),
        ("advise crater --layer treacle=50 --depth-um 3", "doesn't tell what it is"),
        ("advise crater --layer colour=50 --layer primer=60 --depth-um 3", "from the metal up"),
        ("advise crater --layer colour=50 --layer colour=60 --depth-um 3", "is given twice"),
        ("kinds cratring", "did you mean cratering"),
        ("calibrate --anew", "no FILE to begin anew"),
        (f"advise crater {FULL} --depth-um 30 --age-days -1", "between 0 and"),
        (f"advise crater {FULL} --depth-um 30 --cure-days soon", "a number of days"),
        (f"advise crater {FULL} --depth-um 30 --hour-cost 1e9", "between 0 and"),
        ("calibrate nowhere.csv", "no such file"),
        ("log crater --job J1 --panel roof --over 300/200", "it is not said where"),
        ("log crater --job J1 --panel roof --at here", "is no place"),
        (f"advise crater {FULL} --depth-um 30 --at 100/100 --over 0/200", "both are above 0"),
        (f"advise crater {FULL} --depth-um 30 --at 100/100/100", "is no place"),
        (f"advise crater {FULL} --depth-um 30 --at 1e9/1", "is no place"),
        (f"advise crater {FULL} --depth-um 30 --steps P1600x", "no step is called"),
        (f"advise crater {FULL} --depth-um 30 --steps ,", "names no step"),
        ("advise crater --layer colour=98@1/2,104 --depth-um 3", "1 places for 2 readings"),
        ("advise crater --layer colour=98@left --depth-um 3", "is no place"),
        ("checks 'water brake'", "did you mean water break"),
        ("log crater --job J1 --panel roof --seen rimm", "did you mean rim"),
        ("log crater --job J1 --panel roof --check lamp", "is not CHECK=OUTCOME"),
        ("log crater --job J1 --panel roof --rating 7", "no rating of ISO 4628-1"),
        ("log crater --job J1 --panel roof --seen-on 2024-05-02 --exposure gun=1@2024-05-03", "can't have caused it"),
        (f"advise crater {FULL} --depth-um 30 --seen rim --seen 'no rim'", "both seen and not seen"),
        (f"advise crater {FULL} --depth-um 30 --check 'air line=perhaps'", "comes out as: spots, clean"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_written(capsys, job: str, line: str, part: str) -> None:
    run(["job", "show", job, "--json"])
    before = capsys.readouterr().out
    assert part in refused(capsys, line)
    run(["job", "show", job, "--json"])
    assert capsys.readouterr().out == before


def _decided(capsys, job: str, option: str) -> None:
    tell(capsys, f"advise --job {job} --choose '{option}' --why 'it looks so'")


def test_what_broke_through_to_the_primer_is_never_polished_again(capsys, job: str) -> None:
    """«common practice»: rubbed through to the primer, the panel is painted again, whatever its depth was."""
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 12 --count 1")
    _, out = tell(capsys, f"advise --job {job}")
    assert "Advice: rub out and polish" in out
    _decided(capsys, job, "rub")
    assert run(["job", "outcome", job, "through at the edge", "--came", "broke through"]) == 0
    capsys.readouterr()
    status, out = tell(capsys, f"advise --job {job} --json")
    told = json.loads(out)
    assert status == 1
    assert told["advice"] == "back to primer and paint again"
    assert "the work on it broke through, so it is taken as open to the primer" in told["warnings"]
    ruled = {option["option"]: option["ruled_out"] for option in told["options"]}
    assert all("open to the primer" in ruled[name] for name in ("polish only", "rub out and polish", "leave as it is"))


def test_how_it_came_out_is_fed_back_into_the_next_advice(capsys, job: str) -> None:
    for number, came in enumerate(("right", "right", "failed", "right"), start=1):
        tell(capsys, f"log crater --job {job} --panel roof --depth-um 70 --count 1 --place 'spot {number}'")
        views = json.loads(tell(capsys, f"advise --job {job} --json")[1])
        _decided(capsys, job, "level")
        assert run(["job", "outcome", job, "judged after polish", "--came", came]) == 0
        capsys.readouterr()
        assert views["options"][0]["record"]["right"] == min(number - 1, 2)
    line = f"advise crater {FULL} --depth-um 70 --count 1"
    _, out = tell(capsys, line)
    assert "3 of 4" in out
    chance = json.loads(tell(capsys, f"{line} --json")[1])["options"][0]["chance_of_success"]
    assert chance == pytest.approx(8.6 / 12, abs=0.01)  # 0.7 weighing as eight jobs, and three of four
    assert run(["job", "show", job]) == 0
    assert "judged after polish (failed)" in " ".join(capsys.readouterr().out.split())


def test_an_outcome_told_anew_counts_once(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 70 --count 1")
    number = json.loads(tell(capsys, f"advise --job {job} --choose level --why x --json")[1])["decision"]
    for came in ("failed", "right"):
        assert run(["job", "outcome", job, "seen", "--came", came, "--decision", str(number)]) == 0
        number = int(capsys.readouterr().out.split("#")[1].split()[0])
    record = json.loads(tell(capsys, f"advise crater {FULL} --depth-um 70 --json")[1])["options"][0]["record"]
    assert record == {"right": 1, "failed": 0, "broke_through": 0}


def test_the_age_of_the_finish_and_the_shops_hour_count(capsys) -> None:
    line = f"advise crater {FULL} --depth-um 70 --count 1"
    old = json.loads(tell(capsys, f"{line} --age-days 30 --json")[1])["options"][0]
    young = json.loads(tell(capsys, f"{line} --age-days 2 --cure-days 10 --window-days 1 --json")[1])["options"][0]
    assert (old["wait_days"], young["wait_days"]) == (3, 11)
    dear = json.loads(tell(capsys, f"{line} --age-days 30 --hour-cost 90 --json")[1])["options"][0]
    assert dear["cost"] == pytest.approx(old["cost"] + 30 * old["hours"])


def test_the_age_counts_from_the_last_coat_noted_of_the_panel(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 70 --count 1")
    fresh = json.loads(tell(capsys, f"advise --job {job} --json")[1])["options"][0]
    for days in (40, 3):
        day = (date.today() - timedelta(days=days)).isoformat()
        assert run(shlex.split(f"job coat {job} --panel Roof --exposure gun=1 --sprayed-on {day}")) == 0
    capsys.readouterr()
    noted = json.loads(tell(capsys, f"advise --job {job} --json")[1])["options"][0]
    assert fresh["wait_days"] - noted["wait_days"] == pytest.approx(3, abs=1)  # midnight may pass in between
    typed = json.loads(tell(capsys, f"advise --job {job} --age-days 30 --json")[1])["options"][0]
    assert typed["wait_days"] == 3


def test_several_defects_are_told_apart_by_number(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 12")
    tell(capsys, f"log run --job {job} --panel roof")
    line = refused(capsys, f"advise --job {job}")
    assert "say which: --defect N" in line
    numbers = [int(word.strip("#(),;")) for word in line.split() if word.strip("(").startswith("#")]
    kinds = [json.loads(tell(capsys, f"advise --job {job} --defect {number} --json")[1])["kind"] for number in numbers]
    assert kinds == ["cratering", "sagging"]


def test_without_a_ledger_nothing_is_made(capsys, home: Path) -> None:
    assert "there is no ledger yet" in refused(capsys, "log crater --job J1 --panel roof")
    assert "there is no ledger yet" in refused(capsys, "advise --job J1")
    assert not home.exists()


def test_the_kinds_are_listed_and_told(capsys) -> None:
    _, out = tell(capsys, "kinds")
    assert len(out.splitlines()) > 25
    _, out = tell(capsys, "kinds 'fish eyes'")
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


def test_what_was_seen_and_checked_is_logged_and_counts_in_the_advice(capsys, job: str) -> None:
    _, out = tell(
        capsys,
        f"log crater --job {job} --panel roof --count 3 --depth-um 30 --rating 2 --size-mm 1 --seen 'raised rim' "
        "--check 'air line=clean' --exposure 'air line=2@2024-05-01' --seen-on 2024-05-02 --json",
    )
    entry = json.loads(out)["recorded"]["entry"]
    assert (entry["seen"], entry["rating"], entry["met_on"]) == (["rim"], "2(S4)", ["2024-05-01"])
    assert entry["checks"] == [{"check": "air line", "outcome": "clean"}]
    _, out = tell(capsys, f"advise --job {job}")
    assert "against: air line: clean" not in out.split("oil or water")[0]
    first = json.loads(tell(capsys, f"advise --job {job} --json")[1])
    more = json.loads(tell(capsys, f"advise --job {job} --check 'water break=breaks' --seen 'one place' --json")[1])
    assert more["defect"] > first["defect"]  # what was found since is recorded in its place
    assert more["ranked"][0]["chance"] > first["ranked"][0]["chance"]
    assert json.loads(tell(capsys, f"advise --job {job} --json")[1])["ranked"] == more["ranked"]
    again = json.loads(tell(capsys, f"advise --job {job} --check 'water break=breaks' --json")[1])
    assert again["defect"] == more["defect"]
    assert "has two outcomes" in refused(capsys, f"advise --job {job} --check 'water break=holds'")
    assert run(["job", "show", job]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "checks: air line: clean, water break: breaks" in shown


def test_places_make_the_readings_nearby_count_for_more(capsys) -> None:
    layers = "--layer primer=62,58,60 --layer colour=80@100/100,98@500/100,101@300/300,104@500/500,99@100/500"
    seen = f"advise run {layers} --depth-um 20 --count 6"
    _, plain = tell(capsys, f"{seen} --json")
    _, thin = tell(capsys, f"{seen} --at 110/110 --over 60/60 --json")
    _, thick = tell(capsys, f"{seen} --at 480/480 --over 60/60 --json")
    risks = [json.loads(out)["breakthrough"] for out in (thick, plain, thin)]
    assert risks == sorted(risks)


def test_a_film_read_at_places_and_a_defect_logged_at_one_are_judged_as_typed(capsys, job: str) -> None:
    for place, build in (("100/100", 80), ("500/100", 98), ("300/300", 101), ("500/500", 104)):
        assert run(shlex.split(f"job film {job} --panel wing --layer colour --build {build} --place {place}")) == 0
    tell(capsys, f"log run --job {job} --panel wing --count 6 --depth-um 20 --at 110/110 --over 60/60")
    logged = json.loads(tell(capsys, f"advise --job {job} --json")[1])
    layer = "--layer colour=80@100/100,98@500/100,101@300/300,104@500/500"
    typed = f"advise run {layer} --depth-um 20 --count 6 --at 110/110 --over 60/60 --json"
    assert json.loads(tell(capsys, typed)[1])["options"] == logged["options"]


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


REMOVALS = "panel,step,place,before_um,after_um\n" + "".join(
    f"plate {panel},{step},{place},{100 + place},{100 + place - taken}\n"
    for panel in range(4)
    for step, taken in (("1500", 5), ("cutting compound", 4))
    for place in range(4)
)


def test_the_shop_calibrates_its_steps_and_the_advice_reckons_with_them(capsys, home: Path, tmp_path: Path) -> None:
    file = tmp_path / "ours.csv"
    file.write_text(REMOVALS, "utf-8")
    line = f"advise crater {FULL} --depth-um 40 --count 1 --json"
    before = json.loads(tell(capsys, line)[1])
    status, out = tell(capsys, f"calibrate {file} --json")
    told = json.loads(out)
    assert (status, told["added"], told["readings"]) == (0, 32, 32)
    steps = {step["step"]: step for step in told["steps"]}
    assert steps["P1500"]["common_um"] < steps["P1500"]["mean_um"] < 5.5
    assert (steps["P1500"]["readings"], steps["P1500"]["panels"], steps["P2000"]["readings"]) == (16, 4, 0)
    after = json.loads(tell(capsys, line)[1])
    assert after["breakthrough"] > before["breakthrough"]
    kept = (home / "removal.csv").read_bytes()
    assert json.loads(tell(capsys, f"calibrate {file} --json")[1])["added"] == 0  # the same file adds nothing
    assert (home / "removal.csv").read_bytes() == kept
    file.write_text(REMOVALS.splitlines()[0] + "\nplate 9,P1500,1,100,97\n", "utf-8")
    assert json.loads(tell(capsys, f"calibrate {file} --anew --json")[1])["readings"] == 1
    _, out = tell(capsys, "calibrate")
    assert "common practice, µm" in out
    assert [path.name for path in home.iterdir()] == ["removal.csv"]


@pytest.mark.parametrize(
    ("rows", "part"),
    [
        ("plate,P1500,1,100,120", "are the two swapped?"),
        ("plate,P1500x9,1,100,97", "did you mean P1500"),
        ("plate,P1500,1,abc,97", "not a number"),
        ("plate,P1500,1,nan,97", "is not a number"),
        (",P1500,1,100,97", "is empty"),
        ("plate,P1500,1,100,-97", "too small"),
        ("", "no rows"),
    ],
)
def test_readings_that_cannot_be_leave_the_shops_file_as_it_was(
    capsys, home: Path, tmp_path: Path, rows: str, part: str
) -> None:
    file = tmp_path / "ours.csv"
    file.write_text(REMOVALS, "utf-8")
    tell(capsys, f"calibrate {file}")
    kept = (home / "removal.csv").read_bytes()
    header = REMOVALS.splitlines()[0]
    file.write_text(f"{header}\nplate,P1500,1,100,97\n{rows}\n" if rows else f"{header}\n", "utf-8")
    assert part in refused(capsys, f"calibrate {file}")
    assert (home / "removal.csv").read_bytes() == kept


def test_a_disk_that_refuses_leaves_the_shops_file_as_it_was(
    capsys, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "ours.csv"
    file.write_text(REMOVALS, "utf-8")
    tell(capsys, f"calibrate {file}")
    kept = (home / "removal.csv").read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    file.write_text(REMOVALS.replace("plate", "door"), "utf-8")
    assert "can't be written: No space left" in refused(capsys, f"calibrate {file}")
    assert (home / "removal.csv").read_bytes() == kept
    assert [path.name for path in home.iterdir()] == ["removal.csv"]


def test_a_damaged_shop_file_is_named(capsys, home: Path) -> None:
    home.mkdir()
    (home / "removal.csv").write_text("panel,step\nplate,P1500\n", "utf-8")
    assert "removal.csv" in refused(capsys, f"advise crater {FULL} --depth-um 30")


def test_the_next_check_is_told_with_what_it_tells(capsys) -> None:
    _, out = tell(capsys, f"advise crater {FULL} --depth-um 30")
    assert "check next: water break: flood the bare" in " ".join(out.split())
    assert "bits, 5 min" in " ".join(out.split())


def test_the_help_names_the_figures_of_the_data_file(capsys) -> None:
    from finishmatch.defects import common_practice

    practice = common_practice()
    _, out = tell(capsys, "advise --help")
    text = " ".join(out.split())
    assert f"clear {practice.keep_um['clear']:g}, colour {practice.keep_um['colour']:g}" in text
    assert f"default: {practice.max_risk:g}]" in text
