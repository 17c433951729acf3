"""Write the spectra of the 24-patch chart that finishmatch/photo/data holds, from colour-science's tables.

Run: python tools/make_chart.py. The spectra of the chart as it was made until November 2014 are the published mean of
thirty charts read with one instrument. Of the one made since then its maker's CIELAB (D50, 2°) alone is published:
each spectrum of the older chart is bent smoothly until it has that colour. Patches are numbered from 1, row by row,
from the brown one.
"""

from __future__ import annotations

import csv
from pathlib import Path

import colour
import numpy as np

from finishmatch.colour import Floats, lab_to_xyz, reflectance_to_xyz, white_point
from finishmatch.colour.bent_to import bent_to, logits
from finishmatch.colour.grid import SIZE

SOURCE = next(iter(colour.SDS_COLOURCHECKERS))  # the first set that colour-science carries: the mean of thirty charts
NEWER = next(name for name in colour.CCS_COLOURCHECKERS if "24" in name and "After November 2014" in name)
OUT = Path(__file__).parent.parent / "finishmatch/photo/data"
KNOWN = "# date: 2026-11-30\n# known: verified\n"
OLDER_HEAD = (
    "# Reflectance of the 24 patches of the usual chart as made until November 2014, row by row from the brown one.\n"
    "# The published mean of thirty charts, as carried by colour-science; made by make_chart.\n"
    "# source: published mean of thirty charts, by colour-science\n"
)
NEWER_HEAD = (
    "# Reflectance of the 24 patches of the usual chart as made since November 2014, row by row from the brown one.\n"
    "# The older chart's spectra, bent smoothly to the CIELAB (D50, 2 degrees) published of the newer; by make_chart.\n"
    "# source: values published by the chart's maker, by colour-science; the spectra's shape is the older chart's\n"
)


def published_lab(name: str = NEWER) -> Floats:
    """Return the published CIELAB of a chart, D50 and 2°, shape (24, 3)."""
    chart = colour.CCS_COLOURCHECKERS[name]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    return np.asarray(colour.XYZ_to_Lab(xyz, chart.illuminant), dtype=float)


def older() -> Floats:
    """Return the mean of thirty charts, shape (24, 31)."""
    grid = colour.SpectralShape(400, 700, 10)
    return np.array([one.copy().align(grid).values for one in colour.SDS_COLOURCHECKERS[SOURCE].values()])


def newer() -> Floats:
    """Return the older chart's spectra bent to the newer one's colours, shape (24, 31)."""
    eye = np.array([reflectance_to_xyz(band, "D50", 2) for band in np.eye(SIZE)]) / 100
    wanted = lab_to_xyz(published_lab(), white_point("D50", 2)) / 100
    spectra, misses = bent_to(logits(older()), eye, wanted)
    assert misses.max() < 1e-9
    return spectra


def main() -> None:
    """Write the tables."""
    for name, head, spectra in (
        ("chart24.csv", OLDER_HEAD, older()),
        ("chart24_since_2014.csv", NEWER_HEAD, newer()),
    ):
        with (OUT / name).open("w", newline="", encoding="utf-8") as handle:
            handle.write(head + KNOWN)
            writer = csv.writer(handle, lineterminator="\n")
            writer.writerow(["patch", *range(400, 701, 10)])
            for number, spectrum in enumerate(spectra, start=1):
                writer.writerow([number, *(f"{value:.6g}" for value in spectrum)])


if __name__ == "__main__":
    main()
