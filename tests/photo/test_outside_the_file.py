"""A colour that the file can't hold: what holds more is named, and never what the file is in already."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.phone_look import PhoneLook
from booth.photo_booth import Sample, Shot, photograph
from booth.photo_scenes import as_opened
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.open.icc_profile import linear_encoding
from finishmatch.photo.open.picture import RAW
from finishmatch.photo.quality import wider_than
from finishmatch.photo.read import read_photograph

NM = np.linspace(400, 700, 31)
GREEN = 0.003 + 0.8 * np.exp(-(((NM - 522) / 16) ** 2))  # narrower than any paint
SRGB, P3 = "(Display P3, raw)", "save it raw (DNG)"


@pytest.mark.parametrize(("encoding", "said"), [("sRGB", SRGB), ("none", SRGB), ("Display P3", P3)])
def test_it_is_told_what_would_hold_it(encoding: str, said: str) -> None:
    shot = Shot(encoding=encoding, look=PhoneLook(saturation=1.3))
    photo = photograph([Sample("green", GREEN, 40, 260)], shot)
    picture = as_opened(photo.jpeg(92))
    reading = read_photograph(picture, [Region("green", quad_of(*photo.regions["green"]))])
    assert not reading.regions
    assert reading.lost[0].why.startswith("its colour lies outside the file's (")
    assert said in reading.lost[0].why
    assert ("Display P3" in reading.lost[0].why) == (encoding != "Display P3")
    assert wider_than(replace(picture, kind=RAW)) == ""
    assert wider_than(replace(picture, encoding=linear_encoding())).startswith(P3)
