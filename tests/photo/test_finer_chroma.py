"""The chroma of a JPEG's blocks is read more finely than a decoder gives it out, and never made worse."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from finishmatch.photo.open.finer_chroma import BLOCK, FinerChroma, chroma_rounding, finer_chroma
from finishmatch.photo.open.upright import upright

WIDE, HIGH = 160, 96


def _file(values: np.ndarray, **how: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.clip(np.rint(values), 0, 255).astype(np.uint8)).save(out, "JPEG", **how)  # type: ignore[arg-type]
    return out.getvalue()


def _off(colour: np.ndarray, noise: float, seed: int, **how: object) -> tuple[float, float]:
    """By how much the mean of an even picture is off as decoded, and with the finer chroma, steps of one channel."""
    r = np.random.default_rng(seed)
    values = colour + noise * r.standard_normal((HIGH, WIDE, 3))
    data = _file(values, **how)
    decoded = np.asarray(Image.open(io.BytesIO(data)))
    chroma = finer_chroma(data, (WIDE, HIGH), 1)
    assert chroma is not None
    y, x = (part.ravel() for part in np.mgrid[8 : HIGH - 8, 8 : WIDE - 8])
    found = chroma_rounding(chroma, x, y, decoded[y, x].T, 1)
    mean, true = decoded[y, x].mean(axis=0), np.rint(values)[y, x].mean(axis=0)
    return float(np.abs(mean - true).max()), float(np.abs(mean + found.shift - true).max())


@pytest.mark.parametrize("how", [{"quality": 92}, {"quality": 97}, {"quality": 92, "progressive": True}])
def test_the_mean_of_an_even_sample_comes_nearer(how: dict[str, object]) -> None:
    r = np.random.default_rng(3)
    before, after = np.transpose([_off(r.uniform(90, 150, 3), 1.2, i, **how) for i in range(30)])
    assert np.median(after) < 0.6 * np.median(before)
    assert np.percentile(after, 90) < 0.7 * np.percentile(before, 90)


def test_where_noise_is_kept_nothing_is_lost() -> None:
    r = np.random.default_rng(4)
    before, after = np.transpose([_off(r.uniform(90, 150, 3), 2.0, i, quality=100, subsampling=0) for i in range(20)])
    assert np.median(after) <= np.median(before) + 0.05


@pytest.mark.parametrize("orientation", range(1, 9))
def test_blocks_are_found_however_the_camera_was_held(orientation: int) -> None:
    file = np.stack(np.mgrid[:HIGH, :WIDE] // BLOCK, axis=-1).astype(np.uint8)
    turned = upright(lambda top, end: np.dstack([file, file[..., :1]])[top:end], (HIGH, WIDE, 3), orientation)
    high, wide = turned.shape[:2]
    chroma = FinerChroma(file[::BLOCK, ::BLOCK], orientation, (wide, high), 1.0)
    y, x = (part.ravel() for part in np.mgrid[:high, :wide])
    which, held = chroma.blocks_of(x, y)
    assert (held[which] == turned[y, x, :2]).all()


def test_a_block_that_holds_something_else_has_no_say() -> None:
    values = np.full((HIGH, WIDE, 3), [120.0, 110.0, 90.0])
    values[:, 84:] = [60.0, 140.0, 170.0]
    data = _file(values, quality=95)
    decoded = np.asarray(Image.open(io.BytesIO(data)))
    chroma = finer_chroma(data, (WIDE, HIGH), 1)
    assert chroma is not None
    y, x = (part.ravel() for part in np.mgrid[10:80, 20:84])
    found = chroma_rounding(chroma, x, y, decoded[y, x].T, 1)
    mean = decoded[y, x].mean(axis=0)
    assert np.abs(mean + found.shift - values[0, 0]).max() < np.abs(mean - values[0, 0]).max()


def test_colours_beyond_what_it_can_hold_are_as_decoded_and_doubted() -> None:
    data = _file(np.full((HIGH, WIDE, 3), [210.0, 20.0, 20.0]), quality=92)
    chroma = finer_chroma(data, (WIDE, HIGH), 1)
    assert chroma is not None
    decoded = np.asarray(Image.open(io.BytesIO(data)))
    y, x = (part.ravel() for part in np.mgrid[8:80, 8:80])
    found = chroma_rounding(chroma, x, y, decoded[y, x].T, 1)
    assert (found.shift == 0).all()
    assert found.covariance[2, 2] == pytest.approx(1.772**2 / 12, rel=0.01)


def test_a_file_that_has_none_is_as_decoded() -> None:
    whole = _file(np.full((HIGH, WIDE, 3), 120.0), quality=92)
    grey = io.BytesIO()
    Image.new("L", (WIDE, HIGH), 90).save(grey, "JPEG")
    for data in (b"", whole[:200], grey.getvalue(), _file(np.full((HIGH, WIDE, 3), 120.0), keep_rgb=True)):
        assert finer_chroma(data, (WIDE, HIGH), 1) is None
    assert finer_chroma(whole, (WIDE + 8, HIGH), 1) is None
