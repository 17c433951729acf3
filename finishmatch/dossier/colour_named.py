"""A colour in words for who has no instrument: how light, how clean, which hue."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.cielab import lab_to_lch

# hue angles of CIELAB, degrees, up to which a name holds; chroma and lightness likewise («common practice»)
_HUES = (
    (20.0, "pinkish red"), (45.0, "red"), (70.0, "orange"), (105.0, "yellow"), (125.0, "yellow-green"),
    (172.0, "green"), (222.0, "blue-green"), (296.0, "blue"), (325.0, "violet"), (350.0, "purple"),
    (360.1, "pinkish red"),
)  # fmt: skip
_CLEANNESS = ((12.0, "greyish"), (26.0, "muted"), (52.0, "clear"), (1000.0, "vivid"))
_DEPTHS = ((22.0, "very dark"), (40.0, "dark"), (60.0, "of middle depth"), (78.0, "light"), (1000.0, "pale"))
_NEUTRALS = ((18.0, "black"), (40.0, "dark grey"), (65.0, "middle grey"), (88.0, "light grey"), (1000.0, "white"))
_NEUTRAL_CHROMA = 4.0
_BROWN_TO_L, _BROWN_HUES = 45.0, (35.0, 80.0)
_CREAM_FROM_L, _CREAM_HUES, _CREAM_TO_C = 78.0, (60.0, 110.0), 26.0


def colour_named(lab: Floats) -> str:
    """Return what a colour is called in plain words, with its article: "a muted blue of middle depth"."""
    lightness, chroma, hue = (float(value) for value in lab_to_lch(np.asarray(lab, float)))
    hue %= 360
    if chroma < _NEUTRAL_CHROMA:
        return f"a {_up_to(lightness, _NEUTRALS)}"
    name = _up_to(hue, _HUES)
    if _BROWN_HUES[0] <= hue <= _BROWN_HUES[1] and lightness < _BROWN_TO_L:
        name = "brown"
    elif lightness >= _CREAM_FROM_L and _CREAM_HUES[0] <= hue <= _CREAM_HUES[1] and chroma < _CREAM_TO_C:
        return "a cream"
    clean, depth = _up_to(chroma, _CLEANNESS), _up_to(lightness, _DEPTHS)
    return f"a {clean} {name} {depth}" if depth.startswith("of") else f"a {depth}, {clean} {name}"


def _up_to(value: float, names: tuple[tuple[float, str], ...]) -> str:
    return next(name for most, name in names if value < most)
