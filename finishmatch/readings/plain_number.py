"""Numbers as a painter writes them, how those written otherwise are meant, and the hint where that isn't certain."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from finishmatch.understood import understood

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
# as nearly every number of a file is written, without a sign or an exponent: within bounds, whatever its digits are
_SIMPLE = re.compile(r"\d{1,9}(\.\d{1,12})?(;\d{1,9}(\.\d{1,12})?)*", re.ASCII)
_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", re.ASCII)  # 1,500: fifteen hundred, or one and a half
# thousands set apart, and the decimal sign beside them
_GROUPED = (
    (re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+|[+-]?\d{1,3}(,\d{3}){2,}", re.ASCII), "."),
    (re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?\d{1,3}(\.\d{3}){2,}", re.ASCII), ","),
    (re.compile(r"[+-]?\d{1,3}([ '’\u00a0\u202f]\d{3})+(\.\d+)?", re.ASCII), "."),
    (re.compile(r"[+-]?\d{1,3}([ '’\u00a0\u202f]\d{3})+,\d+", re.ASCII), ","),
)
_LOOK_ALIKE = str.maketrans("OoQlI|", "000111")
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
MOST, LEAST = 1e15, 1e-15  # nothing at a bench is larger, or nearer to 0 without being 0
_MOST_DIGITS = 12  # of what counts: entries, coats


def plain_number(text: str) -> float:
    """Return a number written with plain digits and a decimal point.

    What is above `MOST` is infinite, for whoever asked to refuse; what is nearer to 0 than `LEAST` is 0.

    Raises
    ------
    ValueError
        For anything else, also for what Python alone would read: nan, 1_000, digits of other scripts.
    """
    if not _PLAIN.fullmatch(text.strip()):
        raise ValueError(text)
    return _bounded(text)


def simple_numbers(texts: Sequence[str]) -> list[float] | None:
    """Return numbers that are all written with digits and a decimal point alone, or None where one isn't.

    They are what `plain_number` makes of each; a spectrum is read in one go.
    """
    if not _SIMPLE.fullmatch(";".join(texts)):
        return None
    try:
        return [float(text) for text in texts]
    except ValueError:  # a cell with a semicolon in it
        return None


def counted(text: str) -> int:
    """Return what counts, as the number of an entry, written with plain digits alone.

    Raises
    ------
    ValueError
        For anything else, also for more digits than anything has that is counted.
    """
    text = text.strip()
    if not (text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS):
        raise ValueError(text)
    return int(text)


def _bounded(text: str) -> float:
    value = float(text)
    if abs(value) > MOST:
        return math.copysign(math.inf, value)
    return value if abs(value) >= LEAST else 0.0


def meant_number(text: str, *, share: bool = False, comma: bool = False) -> tuple[float, str]:
    """Return the number that is meant, and how it is written where that isn't plainly: "a decimal comma", or "".

    Parameters
    ----------
    text : str
        As written: "0,8", "1 234,5", "−3"; with `share` also "30 %".
    share : bool
        Whether it is a share of one, so that percent make sense.
    comma : bool
        Whether the comma is known to be the decimal sign, as in a spreadsheet with semicolons.

    Raises
    ------
    ValueError
        When it is no number, or could be two.
    """
    text = text.strip()
    if not comma and _PLAIN.fullmatch(text):
        return _bounded(text), ""
    if share and text.endswith("%"):
        return meant_number(text[:-1], comma=comma)[0] / 100, "percent"
    if text[:1] in "−–" and text[1:2].isdigit():
        return -meant_number(text[1:], comma=comma)[0], "a minus sign"
    either = bool(_EITHER.fullmatch(text))
    if comma and either and "." in text:
        raise ValueError(text)
    if _PLAIN.fullmatch(text):
        return _bounded(text), ""
    if _COMMA.fullmatch(text) and (comma or not either):
        return _bounded(text.replace(",", ".")), "a decimal comma"
    for pattern, decimal in _GROUPED:
        if pattern.fullmatch(text):
            kept = "".join(letter for letter in text if letter.isdigit() or letter in f"+-{decimal}")
            return _bounded(kept.replace(",", ".")), "thousands set apart"
    raise ValueError(text)


def understood_number(where: str, text: str, *, share: bool = False, comma: bool = False) -> float:
    """Return the number that is meant; where it isn't written plainly, `where` is said to be understood so.

    Raises
    ------
    ValueError
        As `meant_number`.
    """
    value, how = meant_number(text, share=share, comma=comma)
    if how:
        understood(where, f"{text.strip()[:20]!r} is read as {value:g}", how)
    return value


def is_boundless(text: str) -> bool:
    """Whether a text is one of the words that stand for no number of a scale: nan, inf."""
    return text.strip().lstrip("+-").casefold() in ("nan", "inf", "infinity")


def number_hint(text: str) -> str:
    """Return the mend for a text that isn't a plain number."""
    text = text.strip()
    if _EITHER.fullmatch(text):
        whole, part = re.split("[.,]", text)
        return f"is it {whole}{part} or {whole}.{part}? write it with a decimal point, or without a sign for thousands"
    if _DAY.match(text):
        return "the spreadsheet took it for a date: type it anew, as a number"
    if "," in text:
        return "write it with a decimal point"
    if "−" in text or "–" in text:
        return "write the minus as -"
    if "%" in text:
        return "write it without %"
    if text.translate(_LOOK_ALIKE) != text and _PLAIN.fullmatch(text.translate(_LOOK_ALIKE)):
        return "is a letter in it where a 0 or a 1 is meant?"
    if _PLAIN.fullmatch("".join(text.split())) or _PLAIN.fullmatch(text.replace("..", ".")):
        return "take out the blank" if ".." not in text else "take out a point"
    return "write a number"
