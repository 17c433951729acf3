"""What may be written in the ledger: finite numbers, printable text, and lists and dicts of them."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping
from typing import Any

from finishmatch.errors import InputError
from finishmatch.signs import check_name, check_signs

LARGEST_WHOLE = 2**53  # whole numbers above it don't survive JSON in every reader
LONGEST_TEXT = 100_000  # characters


def clean_text(where: str, text: str) -> str:
    """Return text in composed form; refuse what a terminal or a file can't carry."""
    if len(text) > LONGEST_TEXT:
        raise InputError(where, f"a text of {len(text)} characters is too long", f"keep it below {LONGEST_TEXT}")
    if text.isascii() and text.isprintable():
        return text
    text = unicodedata.normalize("NFC", text)
    for letter in text:
        if unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\n\t":
            raise InputError(where, f"has a character that can't be printed (U+{ord(letter):04X})", "retype it")
    return text


def clean_line(where: str, text: str) -> str:
    """Return text as one line without outer or doubled blanks."""
    return " ".join(clean_text(where, text).split())


def new_line(where: str, text: str) -> str:
    """Return a text that is to be written as one line; what steers a terminal is refused."""
    check_signs(where, text)
    return clean_line(where, text)


def new_text(where: str, text: str) -> str:
    """Return a text of several lines that is to be written; what steers a terminal is refused."""
    check_signs(where, text)
    return clean_text(where, text)


def check_new(where: str, value: Any, lines: bool = False) -> None:
    """See that what is to be written holds signs that can be seen, in one line each unless it may have more of them.

    What stands in the ledger already is read as it is.

    Raises
    ------
    InputError
        A character that steers a terminal, or a line end in a name.
    """
    if isinstance(value, str):
        (check_signs if lines else check_name)(where, value)
    elif isinstance(value, Mapping):
        for key, item in value.items():
            check_new(where, key, lines)
            check_new(where, item, lines)
    elif isinstance(value, list | tuple):
        for item in value:
            check_new(where, item, lines)


def clean_value(where: str, value: Any) -> Any:
    """Return a value made of tuples, dicts, text, finite numbers, booleans and None only.

    Parameters
    ----------
    where : str
        What the value is, for the error.
    value : any
        Sequences and arrays become tuples, mappings dicts with text keys; numbers of other libraries become plain.

    Raises
    ------
    InputError
        A number that is not finite, unprintable text, or a thing that can't be kept.
    """
    if type(value) is float and math.isfinite(value):  # most are: asked first
        return value
    if hasattr(value, "tolist"):  # arrays and numbers of numpy, without importing it
        value = value.tolist()
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return clean_text(where, value)
    if isinstance(value, int):
        if abs(value) > LARGEST_WHOLE:
            raise InputError(where, "the number is too large to keep")
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise InputError(where, f"{value} is not a number that can be kept", "measure or type it again")
        return value
    if isinstance(value, Mapping):
        return {clean_text(where, str(key)): clean_value(where, item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return tuple(clean_value(where, item) for item in value)
    raise InputError(where, f"a {type(value).__name__} can't be kept in the ledger")
