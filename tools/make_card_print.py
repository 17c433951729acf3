"""Make the readings of a print of the spray-out card, as an office printer might lay it down: every value is invented.

Run: python tools/make_card_print.py writes swatches/cardprint.csv.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from finishmatch.colour import WAVELENGTHS_NM, Floats, reflectance_to_lab  # noqa: E402
from finishmatch.colour.display import srgb_to_lab  # noqa: E402
from finishmatch.photo.card.layout import card_layout  # noqa: E402

FILE = ROOT / "swatches/cardprint.csv"
NOTE = "# invented data, four made-up inks on a made-up paper, no real print"
SEED = 1935
READING_SD = 0.0006
REPEATS = 2


def _hill(middle_nm: float, width_nm: float) -> Floats:
    return np.exp(-(((WAVELENGTHS_NM - middle_nm) / width_nm) ** 2))


PAPER = 0.87 - 0.10 * np.exp(-(WAVELENGTHS_NM - 400) / 22)
SURFACE = 0.012  # what the matt surface throws back over the deepest ink
# optical density of a full layer
INKS = np.stack([1.5 * _hill(640, 75), 1.5 * _hill(540, 52), 1.4 * _hill(425, 55), np.full(31, 1.4)])


def printed(amounts: Floats) -> Floats:
    """Return the reflectance, shape (31,), of a print of cyan, magenta, yellow and black, each 0 to 1."""
    return SURFACE + (PAPER - SURFACE) * 10.0 ** -(amounts @ INKS)


def field_spectrum(srgb: tuple[int, int, int]) -> Floats:
    """Return what the printer makes of a colour: as near as its inks come, black ink alone for the greys."""
    meant = srgb_to_lab(np.array(srgb, dtype=float))
    if srgb == (255, 255, 255):
        return PAPER
    grey = len(set(srgb)) == 1
    least, most = np.zeros(4), np.array([0.0, 0.0, 0.0, 1.0]) + 1e-6 if grey else np.array([1.0, 1.0, 1.0, 0.3])

    def off(amounts: Floats) -> Floats:
        return reflectance_to_lab(printed(amounts), "D65", 2) - meant

    return printed(least_squares(off, (least + most) / 2, bounds=(least, most)).x)


def card_print() -> str:
    """Return the readings file."""
    rng = np.random.default_rng(SEED)
    lines = [NOTE, "# an office printer's spray-out card, two readings a field, specular included"]
    lines.append(",".join(["name", *(f"{nm:g}" for nm in WAVELENGTHS_NM)]))
    for patch in card_layout().patches:
        spectrum = field_spectrum(patch.srgb)
        for _ in range(REPEATS):
            read = spectrum + rng.normal(0, READING_SD, spectrum.shape)
            lines.append(",".join([patch.name, *(f"{value:.4f}" for value in read)]))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    FILE.write_text(card_print(), "utf-8")
