"""The bundled scenario is what its tool makes, holds together, and says that it is invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.readings import read_bank, read_readings
from tests.conftest import ROOT
from tests.helpers.same_numbers import same_numbers
from tools import make_swatches

SWATCHES = ROOT / "swatches"


def mean_lab(name: str) -> np.ndarray:
    return reflectance_to_lab(read_readings(SWATCHES / "evidence.csv")[name].repeats.mean(axis=0))


def test_the_bundled_bank_is_what_its_tool_makes(tmp_path: Path) -> None:
    make_swatches.write_lowmere_bank(tmp_path)
    made, kept = read_bank(tmp_path), read_bank(SWATCHES / "bank")
    assert made.tints == kept.tints
    assert [(p.name, p.grams, p.ground, p.build_um) for p in made.panels] == [
        (p.name, p.grams, p.ground, p.build_um) for p in kept.panels
    ]
    for one, other in zip(made.panels, kept.panels, strict=True):
        np.testing.assert_allclose(one.repeats, other.repeats, atol=2e-6)


def test_the_bundled_evidence_is_what_its_tool_makes(tmp_path: Path) -> None:
    make_swatches.write_evidence(tmp_path / "evidence.csv")
    made, kept = read_readings(tmp_path / "evidence.csv"), read_readings(SWATCHES / "evidence.csv")
    assert {name: reading.repeats.shape[0] for name, reading in kept.items()} == {"tin": 5, "bracket": 4, "door": 3}
    for name, reading in kept.items():
        np.testing.assert_allclose(made[name].repeats, reading.repeats, atol=2e-6)


def test_the_bundled_readings_before_and_after_are_what_their_tool_makes(tmp_path: Path) -> None:
    make_swatches.write_removals(tmp_path / "removal.csv")
    same_numbers((tmp_path / "removal.csv").read_text("utf-8"), (SWATCHES / "removal.csv").read_text("utf-8"))


def test_the_bundled_photograph_is_what_its_tool_makes() -> None:
    with Image.open(SWATCHES / "photo.jpg") as kept:
        off = np.asarray(kept).astype(int) - make_swatches.picture_of(SWATCHES).uint8()
    assert np.abs(off).mean() < 2


def test_the_bundled_sheet_of_panels_is_what_its_tool_makes() -> None:
    with Image.open(SWATCHES / "panels.jpg") as kept:
        off = np.asarray(kept).astype(int) - np.rint(255 * make_swatches.sheet_of(SWATCHES))
    assert np.abs(off).mean() < 2


def test_every_file_says_that_it_is_invented() -> None:
    files = [SWATCHES / "evidence.csv", SWATCHES / "removal.csv", *sorted((SWATCHES / "bank").glob("*.*"))]
    for file in files:
        if file.suffix in (".csv", ".toml"):
            assert file.read_text("utf-8").startswith("# invented data"), file


def test_the_bank_has_believable_tints() -> None:
    """Lightness and chroma within what the trade knows of paints read with the specular part («common practice»)."""
    bank = read_bank(SWATCHES / "bank")
    assert len(bank.tints) >= 14
    assert all(0.95 <= t.density_kg_l <= 2 and 0.25 <= t.volume_solids <= 0.5 and t.stock_g >= 300 for t in bank.tints)
    lab = {p.name: reflectance_to_lab(p.reflectance) for p in bank.panels if p.hides}
    assert lab["white masstone"][0] > 96
    assert 23 < lab["black masstone"][0] < 27
    assert np.hypot(*lab["clean yellow masstone"][1:]) > 70
    assert np.hypot(*lab["scarlet 20/80"][1:]) > 45


def test_the_evidence_disagrees_as_the_story_has_it() -> None:
    tin, bracket, door = (mean_lab(name) for name in ("tin", "bracket", "door"))
    assert tin[0] == pytest.approx(45, abs=3)
    assert tin[2] < -12
    assert 0.4 < de00(tin, bracket) < 0.9
    assert 3 < de00(tin, door) < 5


def test_a_card_from_todays_tins_strays_and_is_the_same_every_time(tmp_path: Path) -> None:
    batch = [("white", 440.0), ("soft black", 25.0), ("blue", 29.0), ("violet", 2.0)]
    as_drawn = make_swatches.spray(batch, strengths={}, seed=5).mean(axis=0)
    today = make_swatches.spray(batch, seed=5).mean(axis=0)
    assert de00(reflectance_to_lab(as_drawn), reflectance_to_lab(today)) > 0.5
    make_swatches.write_spray_out(tmp_path / "card.csv", "first card", batch, seed=5)
    written = read_readings(tmp_path / "card.csv")["first card"]
    np.testing.assert_allclose(written.repeats.mean(axis=0), today, atol=1e-6)


def test_what_is_poured_in_two_pours_is_one_batch() -> None:
    once = make_swatches.spray({"white": 100.0, "blue": 10.0}, seed=2)
    twice = make_swatches.spray([("white", 60.0), ("blue", 10.0), ("white", 40.0)], seed=2)
    np.testing.assert_allclose(once, twice, atol=1e-12)
