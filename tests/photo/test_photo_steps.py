"""The steps that read photographs and keep the card serve any face: plain values in, one frozen result out."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.cli.common import _plain
from finishmatch.errors import InputError
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.steps.photo.read_photo import PhotoRequest, read_photo
from finishmatch.steps.photo.shop_card import CardRequest, shop_card
from tests.conftest import ROOT, Ran
from tests.helpers.photo_frames import frame, write_jpeg
from tests.helpers.same_numbers import same_json

Cli = Callable[..., Ran]


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    return write_jpeg(frame(), tmp_path / "photo.jpg")


def test_a_photograph_is_read_as_the_command_reads_it(cli: Cli, photo: Path) -> None:
    where = frame().regions["blue"]
    said: list[str] = []

    def progress(doing: str) -> object:
        said.append(doing)
        return pytest.MonkeyPatch.context()

    read = read_photo(photo, PhotoRequest(region=(Region("blue", quad_of(*where)),)), progress=progress)
    assert said == ["reading photo.jpg"]
    assert read.recorded == ()
    shown = cli("photo", "read", photo, f"--region=blue={','.join(map(str, where))}", "--json").json
    same_json(_plain(read.as_dict()), shown)
    with pytest.raises(dataclasses.FrozenInstanceError):
        read.why = "another"


def test_a_parameter_that_is_wrong_is_named_as_the_library_knows_it(photo: Path) -> None:
    with pytest.raises(InputError, match="`within`"):
        read_photo(photo, PhotoRequest(within=0))
    with pytest.raises(InputError, match="`skip_patch` 25"):
        read_photo(photo, PhotoRequest(skip_patch=(25,)))


def test_the_card_is_registered_without_a_face(home: Path, tmp_path: Path) -> None:
    form = tmp_path / "form.csv"
    before = shop_card(CardRequest(form=str(form)))
    assert (before.written, before.card, before.registered_now) == ((str(form),), None, False)
    kept = shop_card(CardRequest(register=str(ROOT / "swatches/cardprint.csv"), name="office printer"))
    assert kept.registered_now
    assert kept.as_dict()["registered"]["name"] == "office printer"
    later = shop_card()
    assert (later.registered_now, later.as_dict()["registered"]) == (False, kept.as_dict()["registered"])
