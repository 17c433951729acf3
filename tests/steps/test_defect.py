"""The steps of a defect take plain values or a job's entry, and return what the commands print as JSON."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import FrozenInstanceError, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cli.common import emit_json
from finishmatch.defects import film_layer
from finishmatch.errors import InputError
from finishmatch.steps.days import day_of
from finishmatch.steps.defect.advise import AdviseRequest, advise
from finishmatch.steps.defect.calibrate import calibrate
from finishmatch.steps.defect.kinds import list_checks, list_kinds
from finishmatch.steps.defect.log import LogRequest, log
from finishmatch.steps.defect.logged import FilmNotReadError
from finishmatch.steps.defect.suspect import list_suspects, mark
from finishmatch.steps.defect.trace import trace
from finishmatch.steps.job.coat import coat
from finishmatch.steps.job.film import film
from finishmatch.steps.job.open import open_job
from finishmatch.steps.job.show import show_job

Cli = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]

PRIMER, COLOUR = [62.0, 58.0, 60.0], [98.0, 104.0, 101.0, 100.0]
LAYERS = (film_layer("primer", PRIMER), film_layer("colour", COLOUR))
TYPED = ("--layer", "primer=62,58,60", "--layer", "colour=98,104,101,100")
CRATER = AdviseRequest(kind="craters", layers=LAYERS, depth_um=35, count=4, size_mm=1.5)


@pytest.fixture
def job() -> str:
    """A job with the film of its roof read (invented scenario)."""
    ref = open_job("Tarnbeck Six, Saltmarsh Blue").job.ref
    film(ref, "roof", "primer", PRIMER)
    film(ref, "roof", "colour", COLOUR)
    return ref


def _printed(capsys: Capsys, document: dict[str, Any]) -> str:
    assert capsys.readouterr().out == ""  # a step prints nothing
    emit_json(document)
    return capsys.readouterr().out


def test_advice_on_plain_values_needs_no_ledger_and_is_what_the_command_prints(
    capsys: Capsys, cli: Cli, home: Path
) -> None:
    advised = advise(replace(CRATER, signs=("rim",), max_risk=0.1, steps=("P1500", "polish"), at=(120.0, 340.0)))
    assert list(home.iterdir()) == []
    typed = ("--depth-um", 35, "--count", 4, "--size-mm", 1.5, "--seen", "rim", "--max-risk", 0.1, "--at", "120/340",
             "--steps", "P1500,polish")  # fmt: skip
    printed = cli("defect", "advise", "craters", *TYPED, *typed, "--json")
    assert _printed(capsys, advised.as_dict()) == printed.out
    assert printed.status == (0 if advised.advice.mendable else 1)
    with pytest.raises(FrozenInstanceError):
        advised.decision = 1  # type: ignore[misc]


def test_advice_on_a_defect_of_a_job_is_that_on_the_same_defect_described(job: str) -> None:
    log(LogRequest(kind="crater", panel="roof", depth_um=35, count=4, size_mm=1.5), job=job)
    of_job = advise(AdviseRequest(), job=job)
    described = advise(CRATER)
    assert of_job.as_dict() == described.as_dict() | {"job": job, "defect": of_job.case.number}


def test_a_choice_is_recorded_as_the_decision_with_its_options(job: str) -> None:
    logged = log(LogRequest(kind="crater", panel="roof", reached="primer"), job=job)
    advised = advise(AdviseRequest(choose="rub", why="the customer insists"), job=job)
    assert "open to the primer" in advised.against
    (view,) = [view for view in show_job(job).entries if view.kind == "decision"]
    assert view.number == advised.decision == advised.as_dict()["decision"]
    entry = view.as_dict()["entry"]
    assert entry["defect"] == logged.entries[0].number
    assert (entry["chosen"], entry["why"]) == ("rub out and polish", "the customer insists")
    assert [option["option"] for option in entry["options"]] == [
        option["option"] for option in advised.as_dict()["options"]
    ]


def test_what_was_found_since_a_defect_was_logged_is_recorded_in_its_place(job: str) -> None:
    logged = log(LogRequest(kind="crater", panel="roof", depth_um=30, signs=["rim"]), job=job)
    advised = advise(AdviseRequest(checks_done=["water break=breaks"]), job=job)
    assert advised.case.number != logged.entries[0].number
    (view,) = [view for view in show_job(job).entries if view.kind == "defect"]
    assert (view.number, view.supersedes) == (advised.case.number, logged.entries[0].number)
    assert view.as_dict()["entry"]["seen"] == ("rim",)


def test_a_panel_whose_film_has_not_been_read_is_named(job: str) -> None:
    logged = log(LogRequest(kind="crater", panel="bonnet", reached="clear"), job=job)
    assert "the film of the bonnet has not been read yet" in logged.warnings[0]
    with pytest.raises(FilmNotReadError, match=r"its film has not been read \(read: roof\)") as caught:
        advise(AdviseRequest(), job=job)
    assert (caught.value.job, caught.value.panel) == (job, "bonnet")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"kind": None}, "`job`"),
        ({"defect": 3}, "`defect`"),
        ({"layers": ()}, "`layers`"),
        ({"over": (300.0, 200.0)}, "`over`"),
        ({"steps": ()}, "`steps`"),
        ({"age_days": -1.0}, "`age_days`"),
        ({"hour_cost": 1e9}, "`hour_cost`"),
        ({"why": "because"}, "`choose`"),
        ({"choose": "rub", "why": "x"}, "`job`"),
    ],
)
def test_a_value_that_cant_be_is_named_by_its_field(change: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        advise(replace(CRATER, **change))
    assert field in str(caught.value)
    assert "--" not in str(caught.value)


def test_what_stands_in_a_job_is_not_described_again(job: str) -> None:
    with pytest.raises(InputError, match="`kind`: stands in the job already"):
        advise(CRATER, job=job)


@pytest.mark.parametrize(
    ("request_", "job_given", "part"),
    [
        (LogRequest(kind="crater", panel="roof"), False, "`job`: is missing"),
        (LogRequest(kind="crater", panel=" "), True, "`panel`: is missing"),
        (LogRequest(kind="crater", panel="roof", over=(1.0, 1.0)), True, "`over`: its middle is not given"),
        (LogRequest(kind="crater", panel="roof", seen_on="2999-01-01"), True, "`seen_on`: 2999-01-01 is still to come"),
        (LogRequest(kind="crater", panel="roof", depth_um=500), True, "beyond the film"),
        (LogRequest(kind="crater", panel="roof", depth_um=float("nan")), True, "is not a length"),
    ],
)
def test_a_defect_that_cant_be_is_not_logged(job: str, request_: LogRequest, job_given: bool, part: str) -> None:
    before = show_job(job).entries
    with pytest.raises(InputError) as caught:
        log(request_, job=job if job_given else None)
    assert part in str(caught.value)
    assert show_job(job).entries == before


def test_the_kinds_and_the_checks_are_what_the_commands_print(capsys: Capsys, cli: Cli) -> None:
    assert _printed(capsys, list_kinds().as_dict()) == cli("defect", "kinds", "--json").out
    assert _printed(capsys, list_kinds("craters").as_dict()) == cli("defect", "kinds", "crater", "--json").out
    assert _printed(capsys, list_checks().as_dict()) == cli("defect", "checks", "--json").out
    assert _printed(capsys, list_checks("wipe test").as_dict()) == cli("defect", "checks", "wipe test", "--json").out


def test_the_shops_steps_are_learnt_and_then_advised_by(capsys: Capsys, cli: Cli, home: Path, swatches: Path) -> None:
    before = advise(replace(CRATER, depth_um=45))
    learnt = calibrate(swatches / "removal.csv")
    assert (learnt.added, learnt.given, learnt.readings) == (48, 48, 48)
    assert learnt.file == home / "removal.csv"
    again = calibrate(swatches / "removal.csv")
    assert (again.added, again.given) == (0, 48)
    assert _printed(capsys, calibrate().as_dict()) == cli("defect", "calibrate", "--json").out
    assert advise(replace(CRATER, depth_um=45)).advice.breakthrough != before.advice.breakthrough
    with pytest.raises(InputError, match="`anew`"):
        calibrate(anew=True)


def test_marks_are_made_listed_and_taken_back_as_the_commands_print_them(
    capsys: Capsys, cli: Cli, home: Path, job: str
) -> None:
    made = mark("airline=2", "suspect", "oil in the filter", job=job)
    assert made.as_dict()["mark"]["exposure"] == "air line=2"
    assert _printed(capsys, list_suspects().as_dict()) == cli("defect", "suspects", "--json").out
    warned = coat(job, ["roof"], exposures=["air line=2"])
    assert "air line=2 is suspect since" in warned.warnings[0]
    assert "air line=2, which is suspect" in show_job(job).warnings[0]
    mark("air line=2", "cleared", "new filter")
    assert list_suspects().marks == ()
    assert [item.state for item in list_suspects(history=True).marks] == ["suspect", "cleared"]
    for why in (None, " "):
        with pytest.raises(InputError, match="`why`: no reason is given"):
            mark("gun=1", "suspect", why)


def test_without_a_ledger_nothing_is_suspect_and_none_is_made(home: Path) -> None:
    assert list_suspects().as_dict() == {"marks": []}
    assert list(home.iterdir()) == []


def test_a_trace_is_what_the_command_prints_and_says_what_it_is_doing(capsys: Capsys, cli: Cli, job: str) -> None:
    for number in range(10):
        line = 1 + number % 2
        coat(job, [f"panel {number}"], exposures=[f"air line={line}", f"cloth={number % 3}"], sprayed_on="2024-05-02")
        if line == 2:
            log(LogRequest(kind="crater", panel=f"panel {number}", seen_on="2024-05-03"), job=job)
    doing: list[str] = []

    def progress(text: str) -> Any:
        doing.append(text)
        return nullcontext()

    traced = trace(["crater"], until="2024-05-30", progress=progress)
    assert doing == ["reading the record of the coats"]
    assert traced.found.guilty[0].name == "air line=2"
    printed = cli("defect", "trace", "crater", "--until", "2024-05-30", "--json")
    assert printed.status == 0
    assert _printed(capsys, traced.as_dict()) == printed.out
    with pytest.raises(InputError, match=r"`since`: 2024-06-01 is after `until` 2024-05-01"):
        trace(since="2024-06-01", until="2024-05-01")


def test_a_day_is_today_when_none_is_given_and_never_one_to_come() -> None:
    assert date.fromisoformat(day_of("`seen_on`", None)) <= date.today()
    assert day_of("`seen_on`", " 2024-05-02 ") == "2024-05-02"
    for text in ("20240502", "soon", (date.today() + timedelta(days=2)).isoformat()):
        with pytest.raises(InputError, match="`seen_on`"):
            day_of("`seen_on`", text)
