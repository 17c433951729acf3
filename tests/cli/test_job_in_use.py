"""The job in use: commands record in it and take from it what isn't said, and what is said comes first."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.ledger import open_ledger
from tests.conftest import ROOT

Cli = Callable[..., Any]
Begin = Callable[[str], None]
BANK = ROOT / "swatches/bank"


@pytest.fixture
def in_use(cli: Cli) -> Begin:
    """Opens a job and puts it in use."""

    def begin(title: str) -> None:
        ref = cli("job", "new", title, "--json").json["job"]["ref"]
        assert cli("job", "use", ref).status == 0

    return begin


def _kinds(ref: str) -> list[str]:
    with open_ledger(create=False) as ledger:
        return [view.kind for view in ledger.entries(ledger.find_job(ref))]


def test_a_job_that_is_put_in_use_is_so_until_another_is(cli: Cli, in_use: Begin) -> None:
    in_use("Roof")
    assert cli("job", "use", "--json").json["job"]["ref"] == "J1"
    in_use("Wing")
    assert cli("job", "note", "the tin has a skin").status == 0
    cli("job", "use", "J1")
    cli("job", "note", "primer is sound")
    cli("job", "note", "rubbed down")
    assert (_kinds("J1"), _kinds("J2")) == (["note", "note"], ["note"])


def test_a_job_that_is_named_comes_before_the_one_in_use(cli: Cli, in_use: Begin) -> None:
    in_use("Roof")
    in_use("Wing")
    cli("job", "note", "J1", "of the roof")
    cli("plan", "air", "--temperature", "22C", "--humidity", "50%", "--job", "roof")
    assert (_kinds("J1"), _kinds("J2")) == (["note", "plan"], [])


def test_none_in_place_of_a_job_records_nowhere(cli: Cli, in_use: Begin) -> None:
    in_use("Roof")
    cli("plan", "air", "--temperature", "22C", "--humidity", "50%", "--job", "none")
    assert _kinds("J1") == []
    cli("plan", "air", "--temperature", "22C", "--humidity", "50%")
    assert _kinds("J1") == ["plan"]


def test_a_job_alone_is_not_taken_for_a_note(cli: Cli, in_use: Begin) -> None:
    in_use("Roof")
    assert "TEXT" in cli("job", "note", "J1").error
    assert _kinds("J1") == []


def test_without_a_job_in_use_it_is_said_how_one_is_put_in_use(cli: Cli, home: Path) -> None:
    assert "finishmatch job use JOB" in cli("job", "note", "the tin has a skin").error
    assert cli("job", "use").out.startswith("No job is in use.")
    assert not list(home.iterdir())


def test_help_asks_for_no_job(cli: Cli) -> None:
    assert cli("job", "note", "--help").status == 0


def test_a_batch_of_typed_parts_needs_no_job_in_front(
    cli: Cli, in_use: Begin, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("batch.csv").write_text("tint,grams\nwhite,300\n")
    in_use("Roof")
    assert cli("job", "pour", "batch.csv").status == 0
    assert _kinds("J1") == ["batch"]


def test_each_bay_has_a_job_of_its_own_in_use(cli: Cli, in_use: Begin, monkeypatch: pytest.MonkeyPatch) -> None:
    in_use("Roof")
    monkeypatch.setenv("FINISHMATCH_BAY", "Bay 2")
    assert cli("job", "use", "--json").json == {"job": None, "bank": None}
    in_use("Wing")
    monkeypatch.delenv("FINISHMATCH_BAY")
    assert cli("job", "use", "--json").json["job"]["ref"] == "J1"


def test_a_ledger_put_in_anothers_place_has_no_job_in_use(cli: Cli, in_use: Begin, home: Path) -> None:
    in_use("Roof")
    (home / "in-use.txt").write_text("J1 1999-01-01T08:00:00Z\n")
    assert cli("job", "use", "--json").json["job"] is None


def test_the_bank_of_a_job_is_remembered_with_it(cli: Cli, in_use: Begin, home: Path) -> None:
    in_use("Roof")
    assert cli("job", "use", "--bank", BANK, "--json").json["bank"] == str(BANK)
    error = cli("job", "use", "J1", "--bank", home / "nowhere").error
    assert "nowhere" in error
    assert cli("job", "use", "--json").json["bank"] == str(BANK)


def test_a_second_job_of_the_same_title_is_questioned(cli: Cli) -> None:
    cli("job", "new", "Tarnbeck Six, roof")
    cli("job", "note", "J1", "half dried tin")
    error = cli("job", "new", "tarnbeck six,  ROOF").error
    assert "J1 has this title already" in error
    assert "1 entry" in error
    assert "job use J1" in error
    assert "--another" in error
    assert cli("job", "new", "Tarnbeck Six, roof", "--another").status == 0
    assert len(cli("job", "list", "--json").json["jobs"]) == 2
