"""The steps of a job return what was recorded, in the JSON form that the commands print, and print nothing."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cli.common import emit_json
from finishmatch.cli.job.next_command import next_command
from finishmatch.errors import InputError
from finishmatch.ledger import JobView, Nth, OpenItem, open_ledger
from finishmatch.steps.job.coat import coat
from finishmatch.steps.job.film import film
from finishmatch.steps.job.list import list_jobs
from finishmatch.steps.job.note import note
from finishmatch.steps.job.open import open_job
from finishmatch.steps.job.outcome import outcome
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.show import show_job
from finishmatch.steps.record import InPlaceOf
from tests.helpers.ledger_samples import DEFECT, RECIPE, decision, every_kind

Cli = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def job() -> str:
    """A job of the bench."""
    return open_job("Tarnbeck Six, roof", vehicle="Tarnbeck Six", colour="Saltmarsh Blue").job.ref


@pytest.fixture
def batch(tmp_path: Path) -> Path:
    """A batch file in the order poured."""
    path = tmp_path / "batch.csv"
    path.write_text("tint,grams\nwhite,150\nblue,93.75\nblack,6.25\n")
    return path


def _printed(capsys: Capsys, document: dict[str, Any]) -> str:
    assert capsys.readouterr().out == ""  # a step prints nothing
    emit_json(document)
    return capsys.readouterr().out


def _same_entry(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Compare two recordings of one fact; only number and time differ."""
    volatile = ("number", "made_at")
    one, other = json.loads(json.dumps(one)), json.loads(json.dumps(other))
    return one.keys() == other.keys() and all(one[key] == other[key] for key in one if key not in volatile)


def test_a_job_is_opened_and_listed_as_the_commands_print_it(capsys: Capsys, cli: Cli, home: Path) -> None:
    opened = open_job("Roof", vehicle="Tarnbeck Six", note="rush")
    assert opened.ledger == home / "ledger.db"
    assert opened.as_dict()["job"]["ref"] == "J1"
    assert _printed(capsys, list_jobs().as_dict()) == cli("job", "list", "--json").out
    with pytest.raises(FrozenInstanceError):
        opened.ledger = home  # type: ignore[misc]


def test_listing_makes_no_ledger_and_nothing_is_recorded_without_one(home: Path, batch: Path) -> None:
    assert list_jobs().as_dict() == {"jobs": []}
    for step in (
        lambda: show_job("J1"),
        lambda: note("J1", "half dried"),
        lambda: pour("J1", batch),
        lambda: film("J1", "roof", "primer", [60]),
        lambda: coat("J1", ["roof"], exposures=["gun=1"]),
        lambda: outcome("J1", "fine"),
    ):
        with pytest.raises(InputError, match="there is no ledger yet"):
            step()
    with pytest.raises(InputError, match="title: is empty"):
        open_job(" ")
    assert list(home.iterdir()) == []


def test_a_job_is_shown_as_the_command_prints_it_but_for_the_command_that_comes_next(
    capsys: Capsys, cli: Cli, home: Path, job: str
) -> None:
    with open_ledger(home) as ledger:
        ledger.record_all(ledger.find_job(job), every_kind())
    shown = show_job(job, history=True)
    document = shown.as_dict()
    for item, found in zip(document["open"], shown.story.open, strict=True):
        assert set(item) == {"number", "kind", "what"}
        item["next"] = next_command(shown.story.job, found)
    assert _printed(capsys, document) == cli("job", "show", job, "--history", "--json").out


def test_each_fact_of_the_bench_is_returned_as_the_ledger_holds_it(cli: Cli, home: Path, job: str, batch: Path) -> None:
    with open_ledger(home) as ledger:
        recipe = ledger.record(ledger.find_job(job), RECIPE)
    poured = pour(job, batch).as_dict()
    assert poured["recorded"]["entry"]["recipe"] == recipe
    assert _same_entry(poured["recorded"], cli("job", "pour", job, batch, "--json").json["recorded"])
    read = film(job, "roof", "primer", [62, 58.5], places=["left", "right"]).as_dict()
    typed = ("--panel", "roof", "--layer", "primer", "--build", "62,58.5", "--place", "left", "--place", "right")
    assert _same_entry(read["recorded"], cli("job", "film", job, *typed, "--json").json["recorded"])
    noted = note(job, " half dried ").as_dict()
    assert _same_entry(noted["recorded"], cli("job", "note", job, "half dried", "--json").json["recorded"])
    met = coat(job, ["roof", "bonnet"], exposures=["airline=2"], sprayed_on="2024-05-02")
    alike = cli("job", "coat", job, "--panel", "roof", "--panel", "bonnet", "--like", "last", "--sprayed-on",
                "2024-05-02", "--json").json  # fmt: skip
    assert all(map(_same_entry, met.as_dict()["recorded"], alike["recorded"]))
    assert met.as_dict().keys() == alike.keys()


def test_what_replaces_an_entry_says_so(job: str) -> None:
    first = note(job, "half dried")
    second = note(job, "dried through", in_place_of=InPlaceOf(first.entries[0].number, "cut it open"))
    assert second.replaced == first.entries[0].number
    assert second.as_dict()["recorded"]["reason"] == "cut it open"
    assert [view.number for view in show_job(job).entries] == [second.entries[0].number]
    layer = film(job, "roof", "primer", [60], position=2)
    mended = film(job, "roof", "filler", [60], in_place_of=InPlaceOf(layer.entries[0].number, "it is filler"))
    assert mended.as_dict()["recorded"]["entry"]["position"] == 2


def test_the_outcome_joins_the_one_decision_that_waits(home: Path, job: str) -> None:
    with open_ledger(home) as ledger:
        ledger.record_all(ledger.find_job(job), [DEFECT, decision(Nth(0))])
    recorded = outcome(job, "no crater came back", result="right").as_dict()["recorded"]
    assert (recorded["entry"]["outcome"], recorded["entry"]["result"]) == ("no crater came back", "right")
    assert show_job(job).story.open == ()


@pytest.mark.parametrize(
    ("step", "fields"),
    [
        (lambda job: film(job, "roof", "primer", [0]), ["`builds`"]),
        (lambda job: film(job, "roof", "primer", [6000]), ["`builds`"]),
        (lambda job: coat(job, ["roof"]), ["`exposures`"]),
        (lambda job: coat(job, ["roof"], like="previous"), ["`like`"]),
        (lambda job: coat(job, ["roof"], exposures=["gun=1"], sprayed_on="soon"), ["`sprayed_on`"]),
        (lambda job: coat(job, ["a", "b"], exposures=["gun=1"], in_place_of=InPlaceOf(1, "x")), ["`supersedes`"]),
        (lambda job: note(job, "x", in_place_of=InPlaceOf(None, "x")), ["`why`", "`supersedes`"]),
        (lambda job: outcome(job, "fine", decision=9), ["`decision`"]),
    ],
)
def test_what_is_wrong_is_named_by_its_field_and_nothing_is_recorded(
    job: str, step: Callable[[str], object], fields: list[str]
) -> None:
    with pytest.raises(InputError) as caught:
        step(job)
    assert all(field in str(caught.value) for field in fields)
    assert "--" not in str(caught.value)
    assert show_job(job, history=True).entries == ()


@pytest.mark.parametrize(
    ("needs", "begins"),
    [
        ("recipe", "finishmatch mix "),
        ("batch", "finishmatch job pour J7 "),
        ("spray-out", "finishmatch job spray J7 "),
        ("verdict", "finishmatch compare "),
        ("correction", "finishmatch correct "),
        ("decision", "finishmatch defect advise "),
        ("outcome", "finishmatch job outcome J7 TEXT --decision 3"),
    ],
)
def test_the_terminal_has_a_command_for_all_that_can_be_open(needs: str, begins: str) -> None:
    command = next_command(JobView(7, "Roof", "", "", "", "2026-03-01T08:00:00Z"), OpenItem(3, "kind", "what", needs))
    assert command.startswith(begins)
    assert "J7" in command
