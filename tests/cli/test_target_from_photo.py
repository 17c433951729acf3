"""A target from a photograph: its doubt goes into the recipe, and a bank that counts the gloss is matched with it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.optics.surface import fresnel_normal
from finishmatch.readings import read_readings
from finishmatch.readings.evidence_file import read_evidence
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PHOTO = ROOT / "swatches/photo.jpg"
TIN = ("--region", "tin=96,92,174,131")


def piece(bench: Path, u95: str, geometry: str = "45/0") -> Path:
    """The bundled target as a flawless camera sees it, without its gloss, known to a u95."""
    target = next(iter(read_readings(bench / "target.csv").values()))
    lab = reflectance_to_lab(target.repeats.mean(axis=0) - fresnel_normal(1.5))
    cells = ",".join(f"{value:.3f}" for value in lab)
    return write(bench / "piece.csv", f"name,geometry,L,a,b,u95\npiece,{geometry},{cells},{u95}\n")


def mixed(cli: Cli, target: object, *more: object) -> dict:
    ran = cli("mix", target, "--bank", "bank", "--grams", 200, "--recipes", 1, "--json", *more)
    assert ran.status in (0, 1), ran.err
    return ran.json


def test_what_a_photograph_reads_is_saved_with_its_doubt(cli: Cli, bench: Path) -> None:
    (region,) = cli("photo", "read", PHOTO, *TIN, "--save", "piece.csv", "--json").json["regions"]
    facts = read_readings(bench / "piece.csv")["tin"].target
    assert facts is not None
    assert facts.u95 == pytest.approx(region["u95"], abs=0.005)
    assert not facts.weighed
    (sample,) = read_evidence(bench / "piece.csv")
    assert sample.u95 == facts.u95
    write(bench / "by name.csv", "name,kind,reading\ntin,leftover tin,piece.csv@tin\n")
    assert read_evidence(bench / "by name.csv")[0].u95 == facts.u95


def test_samples_of_one_photograph_are_no_surer_than_it_by_way_of_its_file(cli: Cli, bench: Path) -> None:
    both = (*TIN, "--region", "door=984,60,181,131")
    regions = cli("photo", "read", PHOTO, *both, "--save", "seen.csv", "--json").json["regions"]
    facts = read_readings(bench / "seen.csv")["door"].target
    assert facts is not None
    assert facts.pictures == ("photo.jpg",)
    assert facts.u95_own == pytest.approx(regions[1]["u95_own"], abs=0.005)
    apart = cli("photo", "read", PHOTO, *both, "--json").json["differences"][0]["u95"]
    assert regions[0]["u95_own"] == pytest.approx(apart / 2**0.5)  # two of them make that of a difference
    names = "name,kind,reading\ntin,tin,seen.csv@tin\nbracket,bracket,seen.csv@door\nrim,bracket,seen.csv@door\n"
    write(bench / "e.csv", names)
    found = cli("evidence", "weigh", "e.csv", "--json").json
    assert found["target"]["u95"] > regions[0]["u95"]
    assert sum(text.startswith("tin, bracket and rim are of one photograph") for text in found["warnings"]) == 1
    # an older file has no such columns: it is read as it was
    older = [",".join(line.split(",")[:8]) for line in (bench / "seen.csv").read_text("utf-8").splitlines()]
    write(bench / "seen.csv", "\n".join(older) + "\n")
    loose = cli("evidence", "weigh", "e.csv", "--json").json
    assert loose["target"]["u95"] < 0.8 * found["target"]["u95"]
    assert any("an evidence file may name it (picture, camera)" in text for text in loose["warnings"])


def test_a_lone_sample_has_no_part_of_its_own_to_tell(cli: Cli, bench: Path) -> None:
    (region,) = cli("photo", "read", PHOTO, *TIN, "--save", "piece.csv", "--json").json["regions"]
    assert region["u95_own"] is None
    facts = read_readings(bench / "piece.csv")["tin"].target
    assert facts is not None
    assert (facts.u95_own, facts.pictures) == (None, ("photo.jpg",))


def test_the_gloss_that_a_camera_does_not_see_is_added_for_a_bank_that_counts_it(cli: Cli, bench: Path) -> None:
    true = reflectance_to_lab(next(iter(read_readings(bench / "target.csv").values())).repeats.mean(axis=0))
    found = mixed(cli, piece(bench, "2"))
    assert de00(true, np.array(found["target"]["lab"])) < 0.02
    assert found["target"]["u95"] < 2  # the gloss is the same light for both: less of a difference is left on it
    assert any("counts the gloss: that of a glossy film is added" in warning for warning in found["warnings"])
    recipe = found["recipes"][0]
    assert de00(true, np.array(recipe["predicted"]["lab"])) < 0.5
    as_read = mixed(cli, piece(bench, "2", geometry="di8"))["target"]
    assert as_read["u95"] == pytest.approx(2)
    assert de00(true, np.array(as_read["lab"])) > 3


def test_the_doubt_of_the_target_is_in_the_range_against_the_colour_itself(cli: Cli, bench: Path) -> None:
    ranges = {}
    for u95 in ("0", "2", "6"):
        found = mixed(cli, piece(bench, u95))
        recipe = found["recipes"][0]
        ranges[u95] = recipe["intervals"]["D65"]["high"], recipe["intervals_itself"]
    assert ranges["0"][1] == {}
    assert ranges["0"][0] == pytest.approx(ranges["6"][0], rel=1e-6)
    card, known_to_2 = ranges["2"][0], ranges["2"][1]["D65"]["high"]
    known_to_6 = ranges["6"][1]["D65"]["high"]
    assert card < known_to_2 < known_to_6 < card + 6
    assert known_to_6 > 4  # the doubt of the target alone is nearly that, with the gloss
    said = cli("mix", piece(bench, "6"), "--bank", "bank", "--grams", 200, "--recipes", 1)
    assert "against the colour itself, which the target tells to ±" in said.out
    assert "judge the card by a photograph that shows both" in " ".join((said.out + said.err).split())


def test_a_reading_that_is_known_to_something_is_evidence_and_no_weighed_target(cli: Cli, bench: Path) -> None:
    cli("job", "new", "one")
    mixed(cli, piece(bench, "3"), "--job", "J1")
    shown = cli("job", "show", "J1", "--json").json["entries"]
    kept = {entry["kind"]: entry["entry"] for entry in shown}
    assert kept["reading"]["role"] == "evidence"
    assert kept["target"]["evidence"] == ["piece"]
    assert 0 < kept["target"]["u95"] < 3


def test_a_photograph_in_place_of_a_reading_is_told(refused: Callable[..., str], bench: Path) -> None:
    told = refused("mix", PHOTO, "--bank", "bank", "--grams", 200)
    assert "is a photograph, and no file of readings; read and save its colours: photo read" in told
