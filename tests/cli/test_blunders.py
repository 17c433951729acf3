"""A card or batch that can't be what it says is refused before anything is added or recorded."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, put, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
POURED = "white,444.2\nblue,28.7\nsoft black,25.4\nviolet,1.6\n"
TOTALS = "white,444.2\nblue,472.9\nsoft black,498.3\nviolet,499.9\n"
TENFOLD = "white,444.2\nblue,28.7\nsoft black,254\nviolet,1.6\n"
EXCHANGED = "white,444.2\nviolet,28.7\nsoft black,25.4\n"
SLIPS = [
    (TOTALS, "write white 444.2, blue 28.7, soft black 25.4, violet 1.6"),
    (TENFOLD, "25.4 g of soft black were poured, not 254 g: the decimal point"),
    (EXCHANGED, "its violet, 28.7 g, was blue"),
]


@pytest.mark.parametrize(("batch", "told"), SLIPS)
def test_correct_names_the_slip_and_writes_nothing(
    refused: Callable[..., str], cli: Cli, bench: Path, batch: str, told: str
) -> None:
    cli("job", "new", "Roof")
    write(bench / "slip.csv", "tint,grams\n" + batch)
    line = (*put(CORRECT, "batch1.csv", "slip.csv"), "--job", "J1")
    error = refused(*line)
    assert told in error
    assert "with --anyway it is taken as it is" in error
    ran = cli(*line, "--anyway", "--json")
    assert ran.status in (0, 1)
    assert (
        any(told.split(" write ", maxsplit=1)[0][:20] in warning for warning in ran.json["warnings"]) or batch == TOTALS
    )
    assert any("it is taken as it is" in warning for warning in ran.json["warnings"])


def test_job_spray_names_the_batch_that_fits(refused: Callable[..., str], cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    write(bench / "orange.csv", "tint,grams\nwhite,100\nviolet,60\n")
    assert cli("job", "pour", "J1", "batch1.csv", "--bank", "bank").status == 0
    assert cli("job", "pour", "J1", "orange.csv").status == 0
    cli("mix", "target.csv", "--bank", "bank", "--grams", "500")  # so that the fit is kept
    error = refused("job", "spray", "J1", "card1.csv", "--bank", "bank")
    assert "fits batch #1" in error
    assert cli("job", "spray", "J1", "card1.csv", "--batch", "1").status == 0
    ran = cli("job", "spray", "J1", "card1.csv", "--batch", "2", "--anyway", "--json")
    assert ran.status == 0
    assert any("it is taken as it is" in warning for warning in ran.json["warnings"])


def test_a_card_without_a_batch_is_recorded_and_shows_nothing(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    ran = cli("job", "spray", "J1", "card1.csv", "--bank", "bank", "--json")
    assert (ran.status, ran.json["learnt"]) == (0, None)
    assert "it isn't known what was in the tin" in ran.json["why_not_learnt"]
    assert "--batch" in cli("correct", "target.csv", "--bank", "bank", "--sprayed", "card1.csv").error
