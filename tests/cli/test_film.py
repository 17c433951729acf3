"""`mix` over a ground: how well the film hides, what the best ground saves, and when the ground is in the way."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.cli.mix.shown import _saved
from finishmatch.colour import reflectance_to_xyz
from finishmatch.mix.hiding_build import GroundChoice
from finishmatch.optics import Backing, fit_bank, ground_in_contact, predicted_reflectance
from finishmatch.readings import read_bank
from tests.conftest import Ran
from tests.helpers.door_files import MIX

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PALE = ("mix", "82,-2,-6", "--bank", "bank", "--grams", 500)


def test_the_contrast_ratio_is_that_of_the_film_that_was_asked_for(cli: Cli, bench: Path) -> None:
    """Y over black over Y over white: ISO 6504-3."""
    bank = read_bank(bench / "bank")
    optics, grounds = fit_bank(bank).optics, dict(bank.grounds)
    film = ("--ground", "black", "--build", 20)
    found = cli(*PALE, *film, "--json").json
    for recipe in found["recipes"]:
        grams = np.zeros(len(optics.names))
        for part in recipe["parts"]:
            grams[optics.index(part["tint"])] = part["grams"]
        over = [
            reflectance_to_xyz(
                predicted_reflectance(
                    optics.over(Backing(name, 20, ground_in_contact(grounds[name], 1.5, True))), grams
                )
            )[1]
            for name in ("black", "white")
        ]
        assert recipe["contrast_ratio"] == pytest.approx(over[0] / over[1], abs=1e-4)
        assert (recipe["contrast_ratio"] >= 0.98) == (recipe["hiding_build_um"] <= 20)
    assert f"contrast ratio of the film {found['recipes'][0]['contrast_ratio']:.3f}" in cli(*PALE, *film).out


def test_without_a_build_there_is_no_contrast_ratio(cli: Cli, bench: Path) -> None:
    assert {recipe["contrast_ratio"] for recipe in cli(*MIX, "--json").json["recipes"]} == {None}
    assert "contrast ratio of the film" not in cli(*MIX).out


def test_what_the_best_ground_saves_is_told(cli: Cli, bench: Path) -> None:
    ran = cli(*PALE, "--coat", 10)
    best, *_, most = cli(*PALE, "--coat", 10, "--json").json["grounds"]
    less, coats = most["build_um"] - best["build_um"], most["coats"] - best["coats"]
    told = f"over {best['ground']} the film can be {less:.0f} µm thinner than over {most['ground']}, {coats} coat"
    assert told in ran.out


@pytest.mark.parametrize(
    ("choices", "told"),
    [
        ((), ""),
        ((GroundChoice("grey", 20.0, 1),), ""),
        ((GroundChoice("grey", 20.0, 1), GroundChoice("black", 20.4, 1)), ""),
        (
            (GroundChoice("grey", 20.0, 1), GroundChoice("black", 24.0, 1)),
            "over grey the film can be 4 µm thinner than",
        ),
        ((GroundChoice("grey", 20.0, 1), GroundChoice("black", 54.0, 3)), "thinner than over black, 2 coats less"),
        ((GroundChoice("grey", 90.0, 4), GroundChoice("black", None, None)), "over grey it hides; black shows through"),
    ],
)
def test_what_is_saved_in_words(choices: tuple[GroundChoice, ...], told: str) -> None:
    saved = _saved(choices)
    assert told in saved
    assert bool(told) == bool(saved)


def test_a_film_too_thin_for_its_ground_is_the_reason_given(cli: Cli, bench: Path) -> None:
    ran = cli(*PALE, "--ground", "black", "--build", 8, "--json")
    assert (ran.status, ran.json["within"]) == (1, False)
    assert re.match(r"a film of 8 µm lets the black ground through, and one that hides reaches it", ran.json["why"])
    assert cli(*PALE, "--json").status == 0
