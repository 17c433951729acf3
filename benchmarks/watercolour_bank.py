"""Real paint as a bank: measured watercolours written into a folder that `bank fit` and `predict` take as they are.

A swatch's washes are its parts, the paper is its ground. How large a swatch is isn't told, so its millilitres, times a
thousand, stand both for grams (of a paint of which a gram leaves a millilitre) and, summed, for the build in µm: K and
S then are those of a swatch's area. `bank.toml` says 45/0, since the readings hold no gloss.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from benchmarks.watercolour_data import PIGMENTS, Floats, Samples
from finishmatch.colour import WAVELENGTHS_NM

PAPER = "paper"
PER_ML = 1000.0
OURS = slice(2, 33)  # 400 to 700 nm, of 380 to 780


def parts_of_swatch(millilitres: Floats) -> dict[str, float]:
    """Return the parts of a swatch, (13,), by pigment, as a batch."""
    return {PIGMENTS[i]: float(PER_ML * millilitres[i]) for i in np.flatnonzero(millilitres)}


def build_um(millilitres: Floats) -> float:
    """Return what stands for the build of a swatch."""
    return float(PER_ML * millilitres.sum())


def write_watercolours(folder: Path, samples: Samples, paper: Floats) -> Path:
    """Write swatches as a bank folder, and return it.

    Parameters
    ----------
    folder : Path
        Made here.
    samples : Samples
    paper : ndarray, shape (41,)
    """
    folder.mkdir()
    about = 'name = "watercolours"\ngeometry = "45/0"\nbinder_index = 1.5\n'
    (folder / "bank.toml").write_text(about, encoding="utf-8")
    head = ("tint", "role", "colour_index", "density_kg_l", "volume_solids", "price_per_kg", "stock_g")
    _table(folder / "tints.csv", head, ((name, "tint", "", "1", "1", "0", "1000000") for name in PIGMENTS))
    names = [f"swatch {i}" for i in range(len(samples.millilitres))]
    weighed = [
        (name, tint, f"{grams:.4f}")
        for name, millilitres in zip(names, samples.millilitres, strict=True)
        for tint, grams in parts_of_swatch(millilitres).items()
    ]
    _table(folder / "panels.csv", ("panel", "tint", "grams"), weighed)
    read = (
        (name, PAPER, f"{build_um(millilitres):.4f}", "fraction", *_cells(values))
        for name, millilitres, values in zip(names, samples.millilitres, samples.reflectance, strict=True)
    )
    bands = tuple(f"{nm:.0f}" for nm in WAVELENGTHS_NM)
    _table(folder / "readings.csv", ("panel", "ground", "build_um", "unit", *bands), read)
    _table(folder / "grounds.csv", ("ground", "unit", *bands), [(PAPER, "fraction", *_cells(paper))])
    return folder


def _cells(values: Floats) -> list[str]:
    return [f"{value:.6f}" for value in np.clip(values[OURS], 1e-4, 1.2)]


def _table(path: Path, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    path.write_text("\n".join(",".join(row) for row in [head, *rows]) + "\n", encoding="utf-8")
