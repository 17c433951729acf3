"""A card and its standard the wrong way round: asked about before an amount is named, which would spoil the paint."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from booth.photo_booth import Sample, Shot, photograph
from finishmatch.colour import reflectance_to_lab
from finishmatch.optics import predicted_reflectance
from finishmatch.readings.any_file import read_readings
from finishmatch.steps.bank import open_bank
from tests.conftest import ROOT
from tests.helpers.photo_frames import SMALL, write_jpeg

Cli = Callable[..., Any]
SWATCHES = ROOT / "swatches"
TARGET, BANK = SWATCHES / "target.csv", SWATCHES / "bank"
TIN = ("--bank", BANK, "--batch", SWATCHES / "batch1.csv")
STANDARD = next(iter(read_readings(TARGET).values()))
PARTS = {"white": 444.2, "blue": 28.8, "violet": 1.3, "soft black": 25.4}
FIRST, SECOND = "80,36,230,110", "345,36,230,110"


def sprayed(**also: float) -> np.ndarray:
    """A card of the batch with grams more of some tints, shape (31,)."""
    fitted, parts = (
        open_bank(BANK),
        {name: grams + also.get(name.replace(" ", "_"), 0) for name, grams in PARTS.items()},
    )
    return predicted_reflectance(fitted.usable_optics.chosen(list(parts)), np.array(list(parts.values())))


def both(path: Path, card: np.ndarray, seed: int = 7) -> Path:
    """A photograph of the target and, to the right of it, a card."""
    placed = [
        Sample(name, spectrum, x_mm=x_mm, y_mm=26, w_mm=190, h_mm=90)
        for name, spectrum, x_mm in (("standard", STANDARD.reflectance, 60), ("card", card, 262))
    ]
    return write_jpeg(photograph(placed, Shot(**SMALL, seed=seed)), path)  # type: ignore[arg-type]


def places(standard: str, card: str) -> tuple[str, ...]:
    """Where the two are said to lie."""
    return ("--region", f"standard={standard}", "--region", f"spray-out={card}")


def poured(cli: Cli, **also: float) -> None:
    """A job whose tin holds the batch, with grams more of some tints."""
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    assert cli("mix", TARGET, "--bank", BANK, "--grams", 500, "--max-tints", 2, "--recipes", 1).status in (0, 1)
    parts = [f"{name}={grams + also.get(name.replace(' ', '_'), 0):g}" for name, grams in PARTS.items()]
    assert cli("job", "pour", *parts).status == 0


def entries(cli: Cli) -> int:
    return len(cli("job", "show", "--json").json["entries"])


def test_the_two_named_the_wrong_way_round_are_asked_about_and_nothing_is_recorded(cli: Cli, tmp_path: Path) -> None:
    """A tin that came out much too light: with the two exchanged the answer would make it lighter still."""
    photo = both(tmp_path / "two.jpg", sprayed(white=420))
    poured(cli)
    before = entries(cli)
    asked = cli("judge", "--seen", photo, *places(SECOND, FIRST))
    assert "two.jpg: the card lies ΔE00" in asked.error
    assert "card and standard look exchanged, and what is found by it goes the wrong way" in asked.error
    assert "name it so, or photograph them anew; with --anyway it is taken as it is" in asked.error
    assert entries(cli) == before
    taken = cli("judge", "--seen", photo, *places(SECOND, FIRST), "--anyway")
    said = " ".join(taken.out.split())
    assert said.index("look first: two.jpg") < said.index("the card is outside") < said.index("as sprayed")
    assert said.count("card and standard look exchanged") == 1
    right = cli("judge", "--seen", photo, *places(FIRST, SECOND), "--fresh-tins", "--json")
    assert right.status == 1
    assert right.json["correction"]["look_first"] == []
    assert "white" not in [one["tint"] for one in right.json["correction"]["additions"]]


def test_a_difference_typed_the_other_way_round_is_asked_about(cli: Cli) -> None:
    """Far more white was poured than was meant: the card can't come out darker for it."""
    poured(cli, white=420)
    told = reflectance_to_lab(sprayed(white=420)) - reflectance_to_lab(STANDARD.reflectance)
    way = ["--difference=" + ",".join(f"{value:.2f}" for value in sign * told) for sign in (1, -1)]
    before = entries(cli)
    asked = cli("judge", way[1], "--u95", 0.5)
    assert "--difference: by what was poured it should be lighter" in asked.error
    assert "it looks turned round" in asked.error
    assert "give trial minus standard; with --anyway it is taken as it is" in asked.error
    assert entries(cli) == before
    assert cli("judge", way[0], "--u95", 0.5, "--json").json["correction"]["look_first"] == []


def test_where_it_may_well_be_it_is_said_before_the_amounts(cli: Cli, tmp_path: Path) -> None:
    photo = both(tmp_path / "two.jpg", sprayed(white=100))
    seen = ("correct", TARGET, *TIN, "--seen", photo)
    found = cli(*seen, *places(SECOND, FIRST), "--json").json
    (said,) = found["look_first"]
    assert "card and standard look exchanged; if so, what is found by it goes the wrong way: see which" in said
    assert said in found["warnings"]
    shown = " ".join(cli(*seen, *places(SECOND, FIRST)).out.split())
    assert shown.index("look first: two.jpg") < shown.index("as sprayed")
    assert shown.count("if so, what is found by it goes the wrong way") == 1
    assert cli(*seen, *places(FIRST, SECOND), "--json").json["look_first"] == []


def test_what_the_record_knows_of_a_tin_tells_two_that_differ_little_apart(cli: Cli, tmp_path: Path) -> None:
    """By itself such a photograph could show either; a card of that tin was seen the other way round before."""
    card = next(iter(read_readings(SWATCHES / "card1.csv").values())).reflectance
    assert card is not None
    photo = both(tmp_path / "two.jpg", card)
    wrong = ("correct", TARGET, "--seen", photo, *places(SECOND, FIRST))
    assert cli(*wrong, *TIN, "--json").json["look_first"] == []
    poured(cli)
    first = cli("judge", "--seen", both(tmp_path / "first.jpg", card, seed=8), *places(FIRST, SECOND), "--json")
    assert first.json["correction"]["look_first"] == []
    assert "by what was poured it should be cleaner and lighter, and it is seen dirtier" in cli(*wrong).error
