"""A photograph is kept without where it was taken, unless that is wished."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from finishmatch.errors import InputError
from finishmatch.ledger import NoteEntry, open_ledger
from finishmatch.photo.without_place import place_kept

GPS = 0x8825


def _photograph(folder: Path) -> Path:
    """A photograph whose file says where it was taken."""
    exif = Image.Exif()
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (51.0, 28.0, 38.0)
    path = folder / "shed.jpg"
    Image.fromarray(np.arange(64 * 80 * 3, dtype=np.uint8).reshape(64, 80, 3)).save(path, exif=exif)
    return path


def _kept(home: Path, photograph: Path) -> bytes:
    """What a new job keeps of a photograph."""
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        ledger.record(job, NoteEntry("as found"), sources=[photograph])
        ((_, sha256),) = ledger.entries(job)[0].sources
        return ledger.source_bytes(sha256)


def test_what_is_kept_of_a_photograph_does_not_say_where_it_was_taken(tmp_path: Path) -> None:
    photograph = _photograph(tmp_path)
    kept = _kept(tmp_path / "home", photograph)
    with Image.open(photograph) as before, Image.open(io.BytesIO(kept)) as after:
        assert before.getexif().get_ifd(GPS)
        assert not after.getexif().get_ifd(GPS)
        assert np.array_equal(np.asarray(before), np.asarray(after))


def test_it_is_kept_as_it_is_where_that_is_wished(tmp_path: Path) -> None:
    photograph = _photograph(tmp_path)
    with place_kept():
        assert _kept(tmp_path / "home", photograph) == photograph.read_bytes()


@pytest.mark.parametrize("name", ["cut.jpg", "camera.dng"])
def test_a_photograph_from_which_the_place_can_not_be_taken_is_not_kept(tmp_path: Path, name: str) -> None:
    photograph = tmp_path / name
    photograph.write_bytes(_photograph(tmp_path).read_bytes()[:900])
    with open_ledger(tmp_path / "home") as ledger:
        job = ledger.new_job("Roof")
        with pytest.raises(InputError, match="may say where it was taken"):
            ledger.record(job, NoteEntry("as found"), sources=[photograph])
        assert ledger.entries(job) == []
    with place_kept():
        assert _kept(tmp_path / "home", photograph) == photograph.read_bytes()
