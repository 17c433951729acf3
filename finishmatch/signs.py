"""Names are text: what steers a terminal or turns the direction of writing is refused at the door or shown as signs."""

from __future__ import annotations

import re

from finishmatch.errors import InputError

# control characters but for tabs and line ends, marks of direction, separators and fillers that nobody sees; what
# joins the letters of a script or of a picture, as U+200D, is no such sign
_UNSEEN = (
    "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"
    "\U0001d173-\U0001d17a\U000e0000-\U000e007f"
    "\ud800-\udc7f\udd00-\udfff"  # halves of a pair; the others stand for bytes of a file's name that is no UTF-8
)
_STEERS = re.compile(f"[{_UNSEEN}]")
_STEERS_OR_MOVES = re.compile(f"[\t\r\ud800-\udfff{_UNSEEN}]")
_BLANKS_OF_LINES = re.compile(r"[\t\r\n]")


def unseen_sign(text: str, begin: int = 0) -> re.Match[str] | None:
    """Return the first sign from a place on that no name has: one that steers a terminal or turns the direction."""
    return _STEERS.search(text, begin)


def check_signs(where: str, text: str) -> None:
    """See that a text holds letters and signs that can be seen, tabs and line ends, or raise `InputError`."""
    if found := unseen_sign(text):
        raise InputError(where, f"has a character that can't be seen (U+{ord(found[0]):04X})", "retype it")


def check_name(where: str, text: str) -> None:
    """See that a text is one line of what can be seen, as a name is, or raise `InputError`."""
    check_signs(where, text)
    if _BLANKS_OF_LINES.search(text):
        raise InputError(where, "has a tab or a line end in it", "write it in one line, with blanks")


def shown(text: str) -> str:
    r"""Return a text for a terminal: what would steer it is written as its number, as JSON does (\u001b)."""
    return _STEERS_OR_MOVES.sub(_numbered, text)


def _numbered(found: re.Match[str]) -> str:
    number = ord(found[0])
    if number < 0x10000:
        return f"\\u{number:04x}"
    high, low = divmod(number - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"
