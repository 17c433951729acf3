"""Where the words go: terminals that know no Greek, pipes that are closed, devices that are full."""

from __future__ import annotations

import codecs
import os
import shutil
import sys
from typing import TextIO

# what stands in for the signs that an old code page can't write
_PLAIN = {"Δ": "d", "µ": "u", "°": "deg", "×": "x", "…": "...", "−": "-", "–": "-", "→": "->", "≤": "<=", "≥": ">="}


def _plain_signs(error: UnicodeError) -> tuple[str, int]:
    """Return plainer signs for those an encoding lacks, "?" where there is none."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    return "".join(_PLAIN.get(sign, "?") for sign in lost), error.end


def make_writable() -> None:
    """Let standard output and error write what their encoding lacks in plainer signs, and never fail for it."""
    codecs.register_error("finishmatch.plain", _plain_signs)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="finishmatch.plain")


def writes_unicode() -> bool:
    """Return whether standard output writes every sign as it is."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    return encoding.lower().replace("-", "").replace("_", "").startswith("utf")


def shows_colour() -> bool:
    """Return whether standard output shows colours: a terminal does, unless NO_COLOR is set or it is a dumb one."""
    return sys.stdout.isatty() and colour_wanted() is not False


def colour_wanted() -> bool | None:
    """Return False where no colour is to be written, whatever the output is; None where the output decides."""
    return False if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" else None


def columns(most: int = 112) -> int:
    """Return how many columns there are to write in: the terminal's, no more than can be read with ease."""
    return max(40, min(most, shutil.get_terminal_size((100, 24)).columns))


def drop_the_rest() -> None:
    """Send what still waits for a standard stream and can't be written nowhere, so that ending doesn't fail for it."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            _lead_nowhere(stream)


def _lead_nowhere(stream: TextIO) -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, stream.fileno())
    except (AttributeError, OSError, ValueError):  # no file behind it
        pass
    finally:
        os.close(nowhere)
