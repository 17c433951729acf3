"""Without --tolerance a match is judged by the tolerance that its job's target has."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import ROOT, Ran
from tests.helpers.door_files import CORRECT, MIX, put

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
JOB = ("--job", "J1")


def kept(cli: Cli) -> float:
    """The tolerance of the job's last target."""
    entries = cli("job", "show", "J1", "--json").json["entries"]
    tolerance: float = [entry for entry in entries if entry["kind"] == "target"][-1]["entry"]["tolerance"]
    return tolerance


def notes(ran: Ran) -> list[str]:
    """What is said of the tolerance."""
    return [warning for warning in ran.json["warnings"] if "tolerance of" in warning]


@pytest.fixture
def job(cli: Cli, bench: Path) -> Path:
    """A job without anything in it."""
    cli("job", "new", "Roof")
    return bench


def test_a_correction_takes_the_tolerance_told_to_the_recipe_and_says_so(cli: Cli, job: Path) -> None:
    cli(*MIX, *JOB, "--tolerance", 2.5)
    ran = cli(*CORRECT, *JOB, "--json")
    assert (ran.status, ran.json["additions"]) == (0, [])  # 0.9 off
    assert notes(ran) == ["the tolerance of 2.50 is that of the job's target #2"]
    assert "note: the tolerance of 2.50 is that of the job's target #2" in cli(*CORRECT, *JOB).out
    entries = cli("job", "show", "J1", "--json").json["entries"]
    assert [entry["entry"]["tolerance"] for entry in entries if entry["kind"] == "verdict"] == [2.5, 2.5]
    # what is said now, and without a job, goes before and beside it
    ran = cli(*CORRECT, *JOB, "--tolerance", 0.5, "--json")
    assert ran.json["additions"] != []
    assert notes(ran) == []
    assert cli(*CORRECT, "--json").json["additions"] != []


def test_a_recipe_takes_it_too_and_keeps_it(cli: Cli, job: Path) -> None:
    cli(*MIX, *JOB, "--tolerance", 0.3)
    assert notes(cli(*MIX, *JOB, "--json")) == ["the tolerance of 0.30 is that of the job's target #2"]
    assert kept(cli) == 0.3


def test_a_tolerance_nobody_told_is_none(cli: Cli, job: Path) -> None:
    cli(*MIX, *JOB)
    assert kept(cli) == 1.0  # the usual one of a recipe
    assert "tolerance 1 ΔE00" not in " ".join(cli("job", "show", "J1").out.split())
    ran = cli(*CORRECT, *JOB, "--json")
    assert ran.json["additions"] != []  # the usual one of a correction is 0.5
    assert notes(ran) == []


@pytest.mark.parametrize("how", ["weighed in the job", "from its file"])
def test_a_tolerance_of_one_that_evidence_gave_is_the_jobs(cli: Cli, job: Path, how: str) -> None:
    weigh = (
        "evidence",
        "weigh",
        ROOT / "swatches/survivors.csv",
        "--without",
        "tin",
        "--why",
        "skinned",
        "--save",
        "weighed.csv",
    )
    assert cli(*weigh, *(JOB if how == "weighed in the job" else ("--job", "none"))).status == 0
    if how == "from its file":
        cli(*put(MIX, "target.csv", "weighed.csv"), *JOB)
    assert kept(cli) == 1.0  # what the eye accepts on a whole vehicle
    assert "tolerance 1 ΔE00" in " ".join(cli("job", "show", "J1").out.split())
    said = "the tolerance of 1.00 is that of the job's target #"
    assert notes(cli(*CORRECT, *JOB, "--json"))[0].startswith(said)
    assert notes(cli("predict", "white=300", "--bank", "bank", *JOB, "--json"))[0].startswith(said)


def test_the_tolerance_a_target_file_carries_goes_before_the_jobs(cli: Cli, job: Path) -> None:
    assert cli("evidence", "weigh", ROOT / "swatches/survivors.csv", "--save", "weighed.csv", *JOB).status == 0
    defended = kept(cli)
    ran = cli(*CORRECT, *JOB, "--json")  # another file, which carries none
    assert notes(ran)[0].startswith(f"the tolerance of {defended:.2f} is that of the job's target #")
    cli(*MIX, *JOB, "--tolerance", 2.5)
    ran = cli(*put(CORRECT, "target.csv", "weighed.csv"), *JOB, "--json")
    assert notes(ran) == [f"the tolerance of {defended:.2f} is the target's own, from weighed.csv"]
