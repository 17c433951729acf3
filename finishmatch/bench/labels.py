"""Parameters as they are called on the page, where a message of the rooms below names one in backticks."""

from __future__ import annotations

import re

_NAMED = re.compile(r"`([a-z_][a-z0-9_]*)`")
_CALLED = {
    "build_um": "build",
    "builds": "the build readings",
    "count": "how many",
    "grams": "grams",
    "lab": "the colour",
    "pick": "which colour",
    "reached": "open to",
    "seen_on": "seen on",
    "size_mm": "size",
    "depth_um": "depth",
    "supersedes": "in place of",
    "tin_l": "the tin",
    "tolerance": "tolerance",
    "without": "left out",
    "why": "why",
    "anyway": "«take it as it is»",
    "running": "running totals",
}


def in_words(text: str) -> str:
    """Return a text in which parameters stand as they are called on the page."""
    return _NAMED.sub(lambda named: _CALLED.get(named[1], named[1].replace("_", " ")), text)
