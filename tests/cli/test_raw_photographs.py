"""A phone's raw photograph goes through the same doors as its JPEG, and the answer says that it is raw."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from booth.dng_writer import Sensor, counted, dng, mosaic
from booth.photo_booth import Photograph
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.ledger import open_ledger
from finishmatch.ledger.home import ledger_home
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from tests.helpers.photo_frames import PAINTS, frame

Cli = Callable[..., Any]
SENSOR = Sensor(balance=(1.9, 1.0, 1.6), preview=True, place=((315, 2, b"A person\0"),))


@pytest.fixture(scope="module")
def taken() -> Photograph:
    """Four paints as a sensor gets them."""
    return frame(encoding="linear", matrixed=False)


@pytest.fixture
def raw(taken: Photograph, tmp_path: Path) -> Path:
    """Its raw file, in which the white of the light isn't balanced."""
    path = tmp_path / "IMG_0001.DNG"
    path.write_bytes(dng(mosaic(counted(taken.values / SENSOR.balance, SENSOR), SENSOR), SENSOR))
    return path


def regions(taken: Photograph, **names: str) -> list[str]:
    """The options that mark paints, by what each is called."""
    return [
        part
        for name, paint in names.items()
        for part in ("--region", f"{name.replace('_', '-')}={','.join(map(str, taken.regions[paint]))}")
    ]


def test_its_colours_are_read_and_it_is_kept_without_what_it_says_of_people(
    cli: Cli, taken: Photograph, raw: Path
) -> None:
    cli("job", "new", "Wing")
    marked = regions(taken, **{name.replace(" ", "_"): name for name in PAINTS})
    ran = cli("photo", "read", raw, *marked, "--job", "J1")
    assert ran.status == 0
    assert "raw: the sensor's own values, without the camera's tone curve or sharpening" in ran.out
    found = cli("photo", "read", raw, *marked, "--json").json
    assert [one["kind"] for one in found["photographs"]] == ["raw"]
    truth = {name.replace(" ", "-"): reflectance_to_lab(spectrum) for name, spectrum in PAINTS.items()}
    off = [float(de00(truth[one["name"]], np.array(one["lab"]))) for one in found["regions"]]
    assert np.median(off) < 1.2
    with open_ledger(ledger_home()) as ledger:
        ((name, sha256),) = ledger.entries(ledger.jobs()[0])[0].sources
        kept = ledger.source_bytes(sha256)
    assert name == raw.name
    assert b"A person" in raw.read_bytes()
    assert b"A person" not in kept
    (raw.parent / "kept.dng").write_bytes(kept)
    again = cli("photo", "read", raw.parent / "kept.dng", *marked, "--json").json
    assert again["regions"] == found["regions"]


def test_the_difference_of_a_card_beside_its_standard_is_seen_in_it(taken: Photograph, raw: Path) -> None:
    """What `correct` and `judge` take, at the terminal and on the bench page."""
    seen = read_seen(SeenRequest(seen=(raw,), region=regions(taken, standard="blue", spray_out="blue again")[1::2]))
    one, two = (reflectance_to_lab(PAINTS[name]) for name in ("blue", "blue again"))
    assert np.abs(np.array(seen.seen[0].delta) - (two - one)).max() < 0.5


def test_several_photographs_say_how_many_are_raw(cli: Cli, taken: Photograph, raw: Path) -> None:
    plain = raw.parent / "plain.jpg"
    plain.write_bytes(frame().jpeg())
    ran = cli("photo", "read", raw, plain, *regions(taken, blue="blue"))
    assert "1 of the 2 photographs are raw" in ran.out
    (raw.parent / "cut.dng").write_bytes(raw.read_bytes()[:90_000])
    ran = cli("photo", "read", raw.parent / "cut.dng")
    assert (ran.status, ran.out) == (2, "")
    assert "cut short: some of the sensor's values are missing; copy it again" in " ".join(ran.err.split())
