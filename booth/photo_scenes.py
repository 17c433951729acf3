"""Scenes for the virtual photograph: measured and invented paints about a chart, with all that ails a picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from benchmarks import watercolour_data
from booth.dng_writer import Sensor, counted, dng, mosaic
from booth.phone_look import PLAIN, PhoneLook
from booth.photo_booth import Photograph, Sample, Shade, Shot, photograph
from booth.pigments import random_pigments
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo.open.icc_profile import linear_encoding
from finishmatch.photo.open.picture import Picture, open_picture

Floats = NDArray[np.float64]
OF_EACH = 64
CLOSE_DE00 = (0.5, 5.0)
ENCODINGS = ("sRGB", "Display P3", "none")
SEED = 417  # not that of the family of paints which the program carries


@cache
def paints() -> Floats:
    """Return 128 paints, shape (128, 31): measured watercolour washes, then invented films of one to three tints."""
    r = np.random.default_rng(SEED)
    swatches = watercolour_data.load().test.reflectance[:, 2:33]  # 400 to 700 nm
    washes = swatches[r.choice(len(swatches), OF_EACH, replace=False)]
    pigments = random_pigments(SEED, 12)
    shares = np.zeros((OF_EACH, len(pigments)))
    for row in shares:
        tints = r.choice(np.arange(1, len(pigments)), r.integers(1, 4), replace=False)
        white = r.uniform(0, 0.97) ** 0.7
        row[0], row[tints] = white, (1 - white) * r.dirichlet(np.ones(len(tints)))
    films = film_reflectance(0.35 * shares, pigments, specular_included=False)
    return np.clip(np.vstack([washes, films]), 0.005, 1.0)


def close_to(spectrum: Floats, r: np.random.Generator) -> Floats:
    """Return a paint near another: a little of a third mixed in, CLOSE_DE00 away under D65."""
    while True:
        other = paints()[r.integers(2 * OF_EACH)]
        share = r.uniform(0.02, 0.25)
        near = (1 - share) * spectrum + share * other
        if CLOSE_DE00[0] <= de00(*reflectance_to_lab(np.stack([spectrum, near]))) <= CLOSE_DE00[1]:
            return np.asarray(near)


@dataclass(frozen=True)
class Scene:
    """A photograph of twelve samples, the last two near the first two, and their spectra (12, 31)."""

    shot: Shot
    photo: Photograph
    spectra: Floats


def scene(
    camera: str, light: str, number: int, raw: bool = False, shades: tuple[Shade, ...] = (), look: PhoneLook = PLAIN
) -> Scene:
    """Return a photograph with shading to 30 %, flare, noise, perspective, and glare in every other one.

    By number the file is a JPEG in sRGB, in Display P3, or without a profile, half of these with a tone curve of the
    camera's own; raw values are linear and in the camera's own colours.
    """
    r = np.random.default_rng([number, *map(ord, camera + light)])
    chosen = paints()[r.choice(2 * OF_EACH, 10, replace=False)]
    spectra = np.vstack([chosen, [close_to(one, r) for one in chosen[:2]]])
    order = [0, 10, 1, 11, 2, 3, 4, 5, 6, 7, 8, 9]  # the close ones lie side by side
    samples = [Sample(str(one), spectra[one], *place_of(at)) for at, one in enumerate(order)]
    encoding = "linear" if raw else ENCODINGS[number % 3]
    shot = replace(
        drawn_shot(r, camera, light, shading=None if number % 2 else 0.3),
        glare=0.3 if number % 2 else 0.0,
        tone=0.15 if encoding == "none" and number % 6 == 5 else 0.0,
        encoding=encoding,
        matrixed=not raw,
        seed=number,
        shades=shades,
        look=look,
    )
    return Scene(shot, photograph(samples, shot), spectra)


def place_of(at: int) -> tuple[int, int, int, int]:
    """Return where one of twelve samples lies about the chart, in two rows: left, top, width and height, mm."""
    return 45 + 87 * (at % 6), 34 if at < 6 else 352, 66, 52


def drawn_shot(r: np.random.Generator, camera: str, light: str, shading: float | None = None) -> Shot:
    """Return how twelve samples and a chart are photographed: where it lies, shading to 30 %, flare and noise.

    `shading` None is drawn too.
    """
    return Shot(
        camera=camera,
        light=light,
        scene_mm=(600.0, 450.0),
        chart_at_mm=(150 + r.uniform(-40, 40), 113 + r.uniform(-8, 20)),
        tilt_deg=r.uniform(0, 25),
        turn_deg=r.uniform(-4, 4),
        shading=r.uniform(0.1, 0.3) if shading is None else shading,
        shading_deg=r.uniform(0, 360),
        flare=r.uniform(0.005, 0.04),
        exposure=r.uniform(0.6, 0.9),
        noise=r.uniform(0.004, 0.015),
        bench=np.full(31, r.uniform(0.1, 0.6)),
    )


def as_opened(data: bytes) -> Picture:
    """Return a JPEG file as the program opens it."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "scene.jpg"
        path.write_bytes(data)
        return open_picture(path)


def as_mosaic(values: Floats) -> Picture:
    """Return linear values, 0 to 1, by way of a phone's raw file: a mosaic of 12 bits, its white not balanced."""
    sensor = Sensor(black=(256,), white=4095, balance=(1.9, 1.0, 1.6), preview=True)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "scene.dng"
        path.write_bytes(dng(mosaic(counted(values / sensor.balance, sensor), sensor), sensor))
        return open_picture(path)


def as_linear(values: Floats) -> Picture:
    """Return linear values, 0 to 1, as the program has a raw file of 16 bits."""
    return Picture(np.rint(values * 65535).astype(np.uint16), linear_encoding(), Path("scene.tiff"))
