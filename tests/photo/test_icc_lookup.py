"""Profiles that hold lookup tables alone are honoured: held against LittleCMS, and against a matrix profile."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from booth.icc_writer import SRGB_CURVE, lut_profile, matrix_profile
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.open.icc_profile import read_profile, srgb_curve
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import read_photograph
from tests.helpers.photo_frames import PAINTS, frame

# sRGB's primaries adapted to D50 (the profile of the ICC, from memory)
COLORANTS = np.array([[0.4361, 0.2225, 0.0139], [0.3851, 0.7169, 0.0971], [0.1431, 0.0606, 0.7141]])
KINDS = ("mft1", "mft2", "mAB Lab", "mAB XYZ")
_FROM_ROMM = np.array([[0.797675, 0.135192, 0.0313534], [0.288040, 0.711874, 0.000086], [0.0, 0.0, 0.825210]])


@pytest.mark.parametrize("kind", KINDS)
def test_a_table_means_what_littlecms_makes_of_it(kind: str) -> None:
    """Both are brought to sRGB; LittleCMS looks up between other corners, which tells a little."""
    data = lut_profile("a camera's table", kind, COLORANTS, 1.8)
    encoding = read_profile(data)
    assert encoding is not None
    assert (encoding.name, encoding.trusted) == ("a camera's table", True)
    values = np.random.default_rng(2).integers(20, 256, (40, 50, 3)).astype(np.uint8)
    srgb = matrix_profile("srgb", COLORANTS, SRGB_CURVE)
    profiles = (ImageCms.ImageCmsProfile(io.BytesIO(one)) for one in (data, srgb))
    turned = ImageCms.profileToProfile(
        Image.fromarray(values), *profiles, renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC
    )
    theirs = srgb_curve(np.asarray(turned) / 255)
    ours = encoding.linear_of(values) @ _FROM_ROMM.T @ np.linalg.inv(COLORANTS)
    inside = (theirs > 0.002) & (theirs < 0.995)
    assert inside.mean() > 0.9
    coarse = 0.02 if kind == "mft1" else 0.006  # a table of 8 bits
    np.testing.assert_allclose(ours[inside], theirs[inside], atol=coarse)


@pytest.mark.parametrize("kind", ["mft2", "mAB Lab"])
def test_a_photograph_with_a_table_is_read_like_one_with_the_curve_it_stands_for(kind: str, tmp_path: Path) -> None:
    photo, regions = frame(), [Region(name, quad_of(*frame().regions[name])) for name in PAINTS]
    linear = srgb_curve(photo.values)
    values = np.rint(255 * linear ** (1 / 1.8)).astype(np.uint8)
    profiles = {"table": lut_profile("table", kind, COLORANTS, 1.8), "curve": matrix_profile("c", COLORANTS, (1.8,))}
    found = {}
    for name, profile in profiles.items():
        Image.fromarray(values).save(tmp_path / f"{name}.png", icc_profile=profile)
        found[name] = read_photograph(open_picture(tmp_path / f"{name}.png"), regions)
    assert found["table"].picture.warnings == ()
    for one, other in zip(found["table"].regions, found["curve"].regions, strict=True):
        truth = reflectance_to_lab(PAINTS[one.name])
        assert de00(one.lab, truth) <= one.u95
        assert de00(one.lab, truth) < de00(other.lab, truth) + 0.5
    left = [float(np.median(one.fit.left_out)) for one in found.values() if one.fit is not None]
    assert left[0] < left[1] + 0.3


def test_sixteen_bits_are_looked_up_finely() -> None:
    encoding = read_profile(lut_profile("table", "mft2", COLORANTS, 1.8))
    assert encoding is not None
    ramp = np.repeat(np.arange(6000, 6400, 20, dtype=np.uint16)[:, None], 3, axis=1)
    assert (np.diff(encoding.linear_of(ramp), axis=0) > 0).all()


def test_a_table_that_makes_no_sense_is_not_used_and_that_is_said(tmp_path: Path) -> None:
    upside_down = lut_profile("table", "mft2", COLORANTS, 1.8)
    at = upside_down.index(b"mft2") + 52
    tables = np.frombuffer(upside_down, ">u2", 3 * 256, at)
    broken = upside_down[:at] + tables.reshape(3, 256)[:, ::-1].astype(">u2").tobytes() + upside_down[at + 2 * 768 :]
    assert read_profile(broken) is None
    Image.fromarray(frame().uint8()).save(tmp_path / "broken.png", icc_profile=broken)
    (note,) = open_picture(tmp_path / "broken.png").warnings
    assert "colour profile can't be used" in note


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(KINDS), st.binary(max_size=60), st.integers(120, 700))
def test_a_damaged_table_is_never_more_than_not_used(kind: str, rubbish: bytes, at: int) -> None:
    good = lut_profile("table", kind, COLORANTS, 1.8, grid=3)
    read_profile(good[:at] + rubbish + good[at + len(rubbish) :])
    read_profile(good[:at])
