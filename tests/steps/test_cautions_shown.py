"""Cautions stand in full the first time they bear in a job, and in one line after that."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cautions import (
    CADMIUM,
    CANCER,
    DEFER,
    IN_SHORT,
    ISOCYANATES,
    MIXING,
    REWORK,
    SANDING,
    SPRAYING,
    TOXIC,
    mixing_cautions,
)
from finishmatch.ledger import Entry, open_ledger
from finishmatch.steps.cautions_shown import cautions_to_show
from finishmatch.steps.job.open import open_job
from tests.helpers.ledger_samples import correction, decision, every_kind, spray_out

Cli = Callable[..., Any]


def _job(*entries: Entry) -> tuple[str, list[int]]:
    job = open_job("Tarnbeck Six").job
    with open_ledger() as ledger:
        return job.ref, ledger.record_all(job, entries)


def test_every_caution_that_is_shown_has_a_name_for_the_one_line() -> None:
    assert {*MIXING, *SPRAYING, *SANDING, *REWORK, *mixing_cautions(["lead", "cadmium", "isocyanate"])} <= set(IN_SHORT)


def test_without_a_job_they_stand_in_full() -> None:
    shown = cautions_to_show(SPRAYING)
    assert (shown.full, shown.again) == (SPRAYING, "")


def test_what_an_entry_showed_is_named_and_the_rest_stands_in_full() -> None:
    job, _ = _job(spray_out())
    shown = cautions_to_show(REWORK, job)
    assert shown.full == tuple(caution for caution in REWORK if caution not in SPRAYING)
    assert shown.again == "isocyanates, nitrocellulose, solvents; the data sheet comes first"


def test_the_entry_that_is_told_of_showed_nothing_yet() -> None:
    job, numbers = _job(spray_out())
    assert cautions_to_show(SPRAYING, job, numbers).full == SPRAYING


@pytest.mark.parametrize(("entry", "bearing"), [(correction(), MIXING), (decision(), REWORK), (spray_out(), SPRAYING)])
def test_each_kind_of_work_shows_its_own(entry: Entry, bearing: tuple[str, ...]) -> None:
    job, _ = _job(entry)
    assert cautions_to_show(bearing, job).full == ()


def test_a_poison_stands_in_full_until_a_recipe_of_the_job_held_it() -> None:
    bearing = (TOXIC, CANCER, ISOCYANATES, *MIXING)
    job, _ = _job(*every_kind())
    assert cautions_to_show(bearing, job, by_tints=lambda _names: ()).full == (TOXIC, CANCER)
    shown = cautions_to_show(bearing, job, by_tints=lambda names: mixing_cautions([CADMIUM] if list(names) else []))
    assert (shown.full, shown.again.split(", ")[0]) == ((), IN_SHORT[TOXIC])


def test_the_second_recipe_of_a_job_says_them_in_one_line(cli: Cli, swatches: Path) -> None:
    cli("job", "new", "Tarnbeck Six")
    mix = ("mix", swatches / "target.csv", "--bank", swatches / "bank", "--grams", 500, "--max-tints", 2, "--job", "J1")
    first, second = cli(*mix).out, cli(*mix).out
    assert f"  ! {DEFER}" in first
    assert "as before" not in first
    assert DEFER not in second
    assert "  ! as before: solvents; the data sheet comes first" in second


def test_what_lies_ahead_in_a_job_counts_the_tins_that_are_handled_then(cli: Cli, swatches: Path) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("job", "pour", "J1", "white=200", "brown umber=3", "--bank", swatches / "bank")
    shown = cli("job", "show", "J1").out
    assert f"  ! {SPRAYING[0]}" in shown
    assert "  ! as before: a tint that poisons, solvents; the data sheet comes first" in shown
    assert f"  ! {TOXIC}" in cli("job", "show", "J1", "--history").out
