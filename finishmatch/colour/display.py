"""How a colour looks on a screen: CIELAB to sRGB and back, for swatches and prints, never for judging a match."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.cielab import lab_to_xyz, xyz_to_lab
from finishmatch.colour.difference import de00
from finishmatch.colour.grid import Floats
from finishmatch.colour.tristimulus import white_point

# IEC 61966-2-1
_XYZ_TO_RGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


def lab_to_srgb(lab: Floats) -> Floats:
    """Return sRGB levels 0 to 255, shape (..., 3), of CIELAB colours; colours outside the screen's gamut are clipped.

    The Lab of any light and observer is shown as if the eye had adapted to the screen's own white, which is what
    a swatch on a screen is for.
    """
    linear = np.clip(_linear(lab), 0, 1)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    levels: Floats = np.rint(255 * encoded)
    return levels


def _linear(lab: Floats) -> Floats:
    """Return linear sRGB, 0 to 1 inside the gamut, of CIELAB colours."""
    linear: Floats = lab_to_xyz(lab, white_point("D65", 2)) / 100 @ _XYZ_TO_RGB.T
    return linear


def srgb_to_lab(levels: Floats) -> Floats:
    """Return CIELAB, shape (..., 3), of sRGB levels 0 to 255, under the screen's own white."""
    encoded = np.asarray(levels, dtype=float) / 255
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    xyz = linear @ np.linalg.inv(_XYZ_TO_RGB).T * 100
    return xyz_to_lab(xyz, white_point("D65", 2))


def lab_to_hex(lab: Floats) -> str:
    """Return one CIELAB colour, shape (3,), as "#rrggbb" for a swatch."""
    red, green, blue = (int(level) for level in lab_to_srgb(np.asarray(lab, float)))
    return f"#{red:02x}{green:02x}{blue:02x}"


def lost_on_screen(lab: Floats) -> float:
    """Return by how much, ΔE00, a screen shows another colour than the one meant, shape (3,): 0 inside its gamut."""
    linear = _linear(np.asarray(lab, float))
    clipped = np.clip(linear, 0, 1)
    if np.allclose(linear, clipped, atol=1e-4):
        return 0.0
    shown = xyz_to_lab(clipped @ np.linalg.inv(_XYZ_TO_RGB).T * 100, white_point("D65", 2))
    return float(de00(np.asarray(lab, float), shown))
