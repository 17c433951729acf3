"""A photograph that is given once more as a copy, turned or as a messenger sends it, is one photograph still."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.cli.test_seen import PLACES, SWATCHES, TARGET, TIN, another_of

Cli = Callable[..., Any]
PHOTO = SWATCHES / "photo.jpg"
SENT = {"turned": (90, 1.0, 95), "sent": (0, 0.6, 80)}  # degrees to the left, scale, quality


@pytest.fixture
def copies(tmp_path: Path) -> dict[str, tuple[Path, tuple[str, ...]]]:
    """Copies of the bundled photograph by how they were made, each with where the two lie in it."""
    found = {}
    with Image.open(PHOTO) as picture:
        wide = picture.width
        for how, (degrees, scale, quality) in SENT.items():
            copy = picture.resize((round(wide * scale), round(picture.height * scale))).rotate(degrees, expand=True)
            copy.save(tmp_path / f"{how}.jpg", quality=quality, icc_profile=picture.info.get("icc_profile"))
            places = []
            for said in PLACES[1::2]:
                name, _, box = said.partition("=")
                x, y, w, h = map(int, box.split(","))
                if degrees:
                    x, y, w, h = y, wide - x - w, h, w
                places += ["--region", f"{how}.jpg:{name}={','.join(str(int(scale * n)) for n in (x, y, w, h))}"]
            found[how] = (tmp_path / f"{how}.jpg", tuple(places))
    return found


@pytest.mark.parametrize("how", SENT)
def test_it_is_refused_beside_the_first(cli: Cli, copies: dict[str, tuple[Path, tuple[str, ...]]], how: str) -> None:
    copy, places = copies[how]
    first = tuple(one.replace("standard=", "photo.jpg:standard=").replace("spray-out=", "photo.jpg:spray-out=")
                  for one in PLACES)  # fmt: skip
    ran = cli("correct", TARGET, *TIN, "--seen", PHOTO, "--seen", copy, *first, *places)
    assert (
        "one photograph is named twice, once as a copy of it that was turned, made smaller or saved anew" in ran.error
    )
    assert f"(photo.jpg and {how}.jpg)" in ran.error
    lamp = cli("correct", TARGET, *TIN, "--seen", PHOTO, "--seen-under", f"A={copy}", *first, *places)
    assert "one photograph is given for D65 and for A, once as a copy of it that was turned" in lamp.error
    read = cli("photo", "read", PHOTO, copy, *first, *places)
    assert "name each once, by the file as the camera made it" in read.error
    assert "it is photo.jpg" in read.error


@pytest.mark.parametrize("how", SENT)
def test_it_is_the_same_card_when_it_is_given_later(
    cli: Cli, copies: dict[str, tuple[Path, tuple[str, ...]]], how: str, tmp_path: Path
) -> None:
    copy, places = copies[how]
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 2, "--recipes", 1)
    assert cli("job", "pour", SWATCHES / "batch1.csv").status == 0
    assert cli("judge", PHOTO, *PLACES, "--json").json["correction"]["warnings"] is not None
    again = cli("judge", copy, *places, "--json").json["correction"]
    said = [one for one in again["warnings"] if "is given again as a copy" in one]
    assert len(said) == 1
    assert "the two are one photograph" in said[0]
    assert "what a messenger sends tells less than the file as the camera made it" in said[0]
    assert cli("mix", "--grams", 200, "--max-tints", 2, "--recipes", 1, "--json").json["bank_today"]["cards"] == 1
    another_of(tmp_path / "another.jpg")
    other = cli("judge", tmp_path / "another.jpg", *PLACES, "--json").json["correction"]
    assert not [one for one in other["warnings"] if "is given again as a copy" in one]
    assert cli("job", "pour", SWATCHES / "batch2.csv").status == 0
    assert "is recorded as the card of batch" in cli("judge", copy, *places).error
    cli("job", "new", "Wing")
    cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 2, "--recipes", 1, "--job", "J2")
    assert cli("job", "pour", "J2", SWATCHES / "batch1.csv").status == 0
    elsewhere = cli("judge", copy, *places, "--job", "J2", "--json").json["correction"]["warnings"]
    assert [one for one in elsewhere if "of J1 Tarnbeck Six is given as a card of this job too" in one]
