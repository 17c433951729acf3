"""Scripts, sheets and pictures of our own, under an address that tells their content; the sheet in every page."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from pathlib import Path

from markupsafe import Markup

STATIC = Path(__file__).parent / "static"
IN_EVERY_PAGE = "bench.css"
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_BLANKS = re.compile(r"\s+")


@cache
def edition() -> str:
    """Return what tells these files from those of any other edition of the program."""
    found = hashlib.sha256()
    for path in sorted(STATIC.iterdir()):
        found.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return found.hexdigest()[:12]


def static(name: str) -> str:
    """Return the address of a file of our own, which changes with what is in them, so that a browser may keep it."""
    return f"/static/{edition()}/{name}"


@cache
def sheet_in_page() -> Markup:
    """Return the sheet that stands in every page: a second journey over a slow network would cost half a second."""
    text = (STATIC / IN_EVERY_PAGE).read_text("utf-8")
    return Markup(_BLANKS.sub(" ", _COMMENT.sub("", text)).strip())


@cache
def sheet_allowed() -> str:
    """Return the source of a content security policy that allows that sheet, byte for byte, and no other."""
    digest = hashlib.sha256(str(sheet_in_page()).encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"
