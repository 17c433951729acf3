"""A day as a painter writes it: that on which something was done or seen is never one to come."""

from __future__ import annotations

import re
from datetime import date

from finishmatch.errors import InputError
from finishmatch.understood import understood

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_YEAR_FIRST = re.compile(r"(\d{4})([-./ ])(\d{1,2})\2(\d{1,2})", re.ASCII)
_DAY_FIRST = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4}|\d\d)", re.ASCII)
_EITHER_FIRST = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4}|\d\d)", re.ASCII)
_WITH_WORD = re.compile(r"(\d{1,2})\.?(?:st|nd|rd|th)?[ -]([a-z]{3,9})\.?,?[ -](\d{4})", re.ASCII | re.IGNORECASE)
_WORD_FIRST = re.compile(r"([a-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})", re.ASCII | re.IGNORECASE)


def day_of(field: str, text: str | None, *, to_come: bool = False) -> str:
    """Return a day as YYYY-MM-DD; today when None.

    Parameters
    ----------
    field : str
        What the day is, for the error.
    text : str or None
        YYYY-MM-DD; also 24.11.2026, 24/11/2026 where it can be one day only, 24 Nov 2026.
    to_come : bool
        Whether it may be a day still to come.

    Raises
    ------
    InputError
        A text that is no day, or could be two, or a day still to come.
    """
    today = date.today()
    if text is None:
        return today.isoformat()
    written = " ".join(text.split())
    found = _meant(field, written)
    if found is None:
        raise InputError(field, f"{text[:40]!r} is not a date", f"write it as {today.isoformat()}")
    if found > today and not to_come:
        raise InputError(field, f"{found.isoformat()} is still to come", f"today is {today.isoformat()}")
    if found.isoformat() != written:
        understood(field, f"{written[:30]!r} is read as {found.isoformat()}")
    return found.isoformat()


def _meant(field: str, text: str) -> date | None:
    """Return the day that a text means, or None; `InputError` when it could be two days."""
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII):
        return _day(*(int(part) for part in text.split("-")))
    if found := _YEAR_FIRST.fullmatch(text):
        return _day(int(found[1]), int(found[3]), int(found[4]))
    if found := _DAY_FIRST.fullmatch(text):  # where dots stand between, the day comes first («common practice»)
        return _day(_year(found[3]), int(found[2]), int(found[1]))
    if found := _WITH_WORD.fullmatch(text):
        return _day(int(found[3]), _month(found[2]), int(found[1]))
    if found := _WORD_FIRST.fullmatch(text):
        return _day(int(found[3]), _month(found[1]), int(found[2]))
    if found := _EITHER_FIRST.fullmatch(text):
        year, one, two = _year(found[3]), int(found[1]), int(found[2])
        days = [day for day in (_day(year, two, one), _day(year, one, two)) if day is not None]
        if len(set(days)) > 1:
            either = " or ".join(day.isoformat() for day in days)
            raise InputError(field, f"{text!r} could be two days", f"write {either}")
        return days[0] if days else None
    return None


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _year(text: str) -> int:
    """Return a year of four figures; of two it is one of this century."""
    return int(text) + (2000 if len(text) == 2 else 0)


def _month(word: str) -> int:
    """Return the number of a month, 0 for a word that is none."""
    short = word[:3].casefold()
    return _MONTHS.index(short) + 1 if short in _MONTHS else 0
