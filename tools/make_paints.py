"""Write the paint spectra that finishmatch/photo/data holds, sprayed in the virtual booth from invented pigments.

Run: python tools/make_paints.py. They stand for what paints look like as a family when a camera's correction is made;
none is a real paint, and none is in the benchmarks that judge the correction.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from booth.pigments import WAVELENGTHS_NM, Floats, random_pigments  # noqa: E402
from booth.virtual_booth import film_reflectance  # noqa: E402
from finishmatch.colour import reflectance_to_lab  # noqa: E402

OUT = ROOT / "finishmatch/photo/data/paints.csv"
SEEDS = range(2001, 2025)
PIGMENTS, FILMS, FAR_APART = 14, 40, 240
VOLUME = 0.35  # of pigment in the dry film


def films(seed: int) -> Floats:
    """Return hiding films of one to three of a shop's pigments, most let down with white, shape (FILMS, 31)."""
    r = np.random.default_rng(seed)
    shares = np.zeros((FILMS, PIGMENTS))
    for row in shares:
        chosen = r.choice(np.arange(1, PIGMENTS), r.integers(1, 4), replace=False)
        white = r.uniform(0, 1) if r.random() < 0.7 else 0.0
        row[chosen] = r.dirichlet(np.ones(len(chosen))) * (1 - white)
        row[0] = white
    return film_reflectance(VOLUME * shares, random_pigments(seed, PIGMENTS), specular_included=False)


def spread_out(spectra: Floats, count: int) -> list[int]:
    """Return indices of colours that lie far apart: each the furthest from those before it, with a little chance."""
    r = np.random.default_rng(1)
    lab = reflectance_to_lab(spectra)
    chosen = [0]
    distance = ((lab - lab[0]) ** 2).sum(axis=1)
    while len(chosen) < count:
        nearest = int((distance * r.uniform(0.2, 1, len(distance))).argmax())
        chosen.append(nearest)
        # two spectra of one colour are both worth having: a repeat isn't at distance nought
        distance = np.minimum(distance, ((lab - lab[nearest]) ** 2).sum(axis=1) + 4)
        distance[chosen] = 0
    return chosen


def main() -> None:
    """Write the table."""
    spectra = np.vstack([films(seed) for seed in SEEDS])
    first = spread_out(spectra, FAR_APART)
    kept = np.vstack([spectra[first], np.delete(spectra, first, axis=0)])
    with OUT.open("w", newline="", encoding="utf-8") as handle:
        handle.write("# Reflectance of invented paints, adding-doubling, specular excluded; made by make_paints.\n")
        handle.write(f"# The first {FAR_APART} lie far apart.\n")
        handle.write("# source: radiative transfer of invented pigments\n# date: 2026-11-27\n# known: invented\n")
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow([f"{nm:.0f}" for nm in WAVELENGTHS_NM])
        for spectrum in kept:
            writer.writerow([f"{value:.4f}" for value in spectrum])


if __name__ == "__main__":
    main()
