"""The same photograph with its places marked a few pixels elsewhere is the same card, and the same letdown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.conftest import ROOT

Cli = Callable[..., Any]
SWATCHES = ROOT / "swatches"
PHOTO, BANK = SWATCHES / "photo.jpg", SWATCHES / "bank"


def places(by: int) -> tuple[str, ...]:
    return ("--region", f"standard={96 + by},92,174,131", "--region", f"spray-out={984 + by},60,181,131")


def test_a_photograph_that_is_marked_elsewhere_counts_once(cli: Cli) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    assert cli("mix", SWATCHES / "target.csv", "--bank", BANK, "--grams", 500, "--max-tints", 3).status == 0
    assert cli("job", "pour", SWATCHES / "batch1.csv").status == 0
    for by in (0, 0, 1, 4):
        assert cli("judge", PHOTO, *places(by)).status == 1
    cards = [one for one in cli("job", "show", "--json").json["entries"] if one["kind"] == "spray-out"]
    assert len({one["entry"]["seen"][0]["marks"][0] for one in cards}) == len(cards) == 3
    assert cli("mix", "--grams", 200, "--max-tints", 3, "--json").json["bank_today"]["cards"] == 1


def test_a_letdown_that_is_marked_elsewhere_is_the_same(cli: Cli) -> None:
    panel = ("job", "tin", "J1", "blue 20/80", "--bank", BANK, "--seen", PHOTO, "--anyway")
    cli("job", "new", "Roof")
    assert cli(*panel, *places(0)).status == 0
    again = cli(*panel, *places(2))
    assert again.status == 2
    assert "the letdown: is recorded already" in again.err
