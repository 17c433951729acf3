"""Where chart, card and samples lie in a photograph, in pixels of the upright picture, for a face that draws them."""

from __future__ import annotations

from typing import Any

from finishmatch.colour import Floats
from finishmatch.photo.find.chart import outline, patch_corners
from finishmatch.photo.overlay import upright_within
from finishmatch.photo.read import PhotoReading
from finishmatch.photo.reference import INNER_SHARE


def outlines_of(reading: PhotoReading) -> dict[str, Any]:
    """Return the JSON object of what was found in a photograph and where."""
    chart = reading.chart
    patches = [] if chart is None else list(chart.to_px(patch_corners(INNER_SHARE)))
    if chart is None and reading.reference is not None:
        patches = list(reading.reference.quads)
    samples = [(one.name, one.quad, True) for one in reading.regions]
    samples += [(one.name, one.quad, False) for one in reading.lost]
    return {
        "size": list(reading.picture.size),
        "chart": None if chart is None else _corners(chart.to_px(outline())),
        "card": None if reading.card is None else _corners(reading.card.outline),
        "patches": [
            {"number": number, "outline": _corners(quad), "used": number in reading.patches}
            for number, quad in enumerate(patches, start=1)
        ],
        "samples": [
            {"name": name, "outline": _corners(quad), "upright": list(upright_within(quad)), "read": read}
            for name, quad, read in samples
        ],
    }


def _corners(quad: Floats) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in quad]
