"""`finishmatch defect log` and `advise` in a job of the ledger: logged, advised, decided, and how it came out."""

from __future__ import annotations

import json
import re
import shlex
from datetime import date, timedelta
from pathlib import Path

import pytest

from finishmatch.cli import run
from tests.helpers.defect_lines import FULL, refused, tell

pytest_plugins = ["tests.helpers.defect_fixtures"]


def test_a_defect_is_logged_advised_and_decided_in_a_job(capsys, job: str) -> None:
    status, out = tell(
        capsys,
        f"log 'Silicone-Craters' --job {job} --panel roof --place 'front left, by the gutter' --count 12 --size-mm 1.5 "
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


def test_a_layer_whose_name_says_nothing_is_noted_and_named_anew_by_the_command_that_is_told(cli, home: Path) -> None:
    for line in ("new Roof", "use J1", "film --panel roof --layer Spachtelgrund --build 62,58"):
        noted = cli("job", *line.split())
    assert "its name doesn't say what it is" in noted.out
    assert "a word such as primer, surfacer" in noted.out
    assert "--replaces 1 --layer NAME --why TEXT" in noted.out
    for line in ("Spachtelgrund --build 60", "clear --build 90,95"):
        ran = cli("job", *f"film --panel roof --layer {line}".split())
    assert "its name" not in ran.out
    cli(*["defect", "log", "crater", "--panel", "roof", "--count", "1", "--depth-um", "10"])
    for number in (1, 2):
        for line in ("advise", "map --size 900/900"):
            told = cli("defect", *line.split()).error
            assert f"layer 'Spachtelgrund' (#{number}): its name doesn't say what it is" in told
            command = re.search(r"finishmatch (job film J1 --replaces \d --layer) NAME --why TEXT$", told)
            assert command is not None
        cli(*command[1].split(), "primer", "--why", "its name")
    assert "62, 58, 60" in cli("defect", "advise").out


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
    tell(capsys, f"log crater --job {job} --panel roof --depth-um 12 --count 1 --replaces {number} --why 'measured'")
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


def test_a_film_read_at_places_and_a_defect_logged_at_one_are_judged_as_typed(capsys, job: str) -> None:
    for place, build in (("100/100", 80), ("500/100", 98), ("300/300", 101), ("500/500", 104)):
        assert run(shlex.split(f"job film {job} --panel wing --layer colour --build {build} --place {place}")) == 0
    tell(capsys, f"log run --job {job} --panel wing --count 6 --depth-um 20 --at 110/110 --over 60/60")
    logged = json.loads(tell(capsys, f"advise --job {job} --json")[1])
    layer = "--layer colour=80@100/100,98@500/100,101@300/300,104@500/500"
    typed = f"advise run {layer} --depth-um 20 --count 6 --at 110/110 --over 60/60 --json"
    assert json.loads(tell(capsys, typed)[1])["options"] == logged["options"]


def test_what_isnt_decided_yet_says_how_it_is_recorded_and_an_outcome_how_it_counts(capsys, job: str) -> None:
    tell(capsys, f"log crater --job {job} --panel roof --count 3 --reached primer")
    _, out = tell(capsys, f"advise --job {job}")
    line = next(line.strip() for line in out.splitlines() if "--choose" in line)
    assert line.endswith('--choose "back to primer and paint again" --why TEXT')
    assert run(shlex.split(line)[1:]) == 1
    assert "as decision #" in capsys.readouterr().out
    run(["defect", "advise", "--job", job, "--defect", line.split("--defect ")[1].split()[0]])
    again = capsys.readouterr()
    assert "Advice: " in again.out
    assert "nothing is decided yet" not in again.out
    assert run(["job", "outcome", job, "it holds"]) == 0
    note = " ".join(capsys.readouterr().out.split())
    assert "later advice doesn't count it: say it with --came right, failed or broke through" in note
    number = note.split("and --decision ")[1].split()[0]
    assert run(["job", "outcome", job, "it holds", "--came", "right", "--decision", number]) == 0
    assert "doesn't count" not in capsys.readouterr().out
    _, out = tell(capsys, "advise crater --layer primer=60,62 --layer colour=98,101 --depth-um 20")
    assert "nothing is decided yet" not in out


def test_a_panel_that_was_painted_again_is_told_of_by_the_film_that_is_there_now(capsys, job: str) -> None:
    def told() -> tuple[str, str]:
        out = tell(capsys, f"advise --job {job}")[1]
        rows = [" ".join(line.split()) for line in out.splitlines()]
        return "\n".join(rows), " ".join(rows)

    assert run(["job", "film", job, "--panel", "boot", "--layer", "primer", "--build", "62,58,60"]) == 0
    assert run(["job", "film", job, "--panel", "boot", "--layer", "colour", "--build", "41,44,39"]) == 0
    tell(capsys, f"log crater --job {job} --panel boot --count 3 --reached primer")
    _decided(capsys, job, "primer")
    assert run(["job", "film", job, "--panel", "boot", "--layer", "primer", "--build", "52,50,49"]) == 0
    assert run(["job", "outcome", job, "stripped and painted again", "--came", "right"]) == 0
    tell(capsys, f"log 'dust nibs' --job {job} --panel boot --count 3 --depth-um 5")
    rows, said = told()
    assert "primer primer 52, 50, 49" in rows
    assert "colour of the boot: read before decision #" in said
    assert "(back to primer and paint again) was carried out" in said
    assert run(["defect", "map", "boot", "--job", job, "--size", "1000/800"]) in (0, 1)
    assert "read before decision #" in " ".join(capsys.readouterr().out.split())
    assert run(["job", "film", job, "--panel", "boot", "--layer", "colour", "--build", "50,52,51"]) == 0
    rows, said = told()
    assert "colour colour 50, 52, 51" in rows
    assert "was carried out" not in said
