"""Measuring geometries as instruments and their files write them, brought to the names of the house."""

from __future__ import annotations

import re

from finishmatch.colour.grid import GEOMETRIES

# CIE 15:2018 writes di:8°, de:8°, 45°a:0°; older papers 8/d, SCI and SCE («common practice»)
_INCLUDED = re.compile(r"\b(sci|spin|incl\w*|included|specular ?included)\b|(?<![a-z])d?i:?8|8:?di|rsin")
_EXCLUDED = re.compile(r"\b(sce|spex|excl\w*|excluded|specular ?excluded)\b|(?<![a-z])d?e:?8|8:?de|rsex")
_SPHERE = re.compile(r"sphere|diffuse|(?<![a-z])d[ie]?[:/]?\(?8|8[:/]?d")
_DIRECTIONAL = re.compile(r"(?<!\d)(45[acx]?[:/ -]+0[acx]?|0[acx]?[:/ -]+45[acx]?)(?!\d)")
_ASPECULAR = re.compile(r"(?:(\d{1,3}(?:\.\d{1,3})?)[\s:/]{0,3})?(?<![a-z])as[\s:]{0,3}(-?\d{1,3}(?:\.\d{1,3})?)(?!\d)")
_LABEL = re.compile(r"(\d+(?:\.\d+)?)as(-?\d+(?:\.\d+)?)")
LIT_AT_DEG = 45.0
WITH_GLOSS = ("di8",)  # geometries that count it
AS_A_CAMERA = "45/0"  # what a photograph shows that serves: paint without its gloss
GLOSS_COUNTS = "gloss counts as colour here"  # said where two geometries are compared as they are


def geometry_named(text: str) -> str:
    """Return the house's name of a geometry, or "" when it is none of them.

    Parameters
    ----------
    text : str
        As a file or a painter writes it: "di8", "d/8 SCI", "45°a:0°", "45as15", "as110", …

    Returns
    -------
    str
        "di8", "de8", "45/0", or "45as15" for an angle off the gloss.

    References
    ----------
    CIE 15:2018; ASTM E2194 (aspecular angles).
    """
    plain = text[:200].lower().replace("°", "").replace("deg", "").replace("_", " ").strip()
    if plain in GEOMETRIES:
        return plain
    if found := _ASPECULAR.search(plain):
        return angle_label(float(found[2]), float(found[1] or LIT_AT_DEG))
    if _DIRECTIONAL.search(plain):
        return "45/0"
    tight = plain.replace(" ", "")
    included, excluded = (bool(kind.search(plain) or kind.search(tight)) for kind in (_INCLUDED, _EXCLUDED))
    if included != excluded and (_SPHERE.search(plain) or plain in ("sci", "sce", "spin", "spex")):
        return "di8" if included else "de8"
    return ""


def angle_label(aspecular: float, lit_at: float = LIT_AT_DEG) -> str:
    """Return the name of a geometry that looks so many degrees off the gloss, towards the light."""
    return f"{lit_at:g}as{aspecular:g}"


def aspecular_deg(geometry: str) -> float | None:
    """Return how many degrees off the gloss a geometry looks, when it is named by that."""
    found = _LABEL.fullmatch(geometry)
    return float(found[2]) if found else None
