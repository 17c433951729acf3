"""The words of the GHS on a tin: its signal word and the codes of its hazard statements, as tints.csv gives them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from importlib import resources

SIGNALS = ("Danger", "Warning")  # the stronger first
_CODE = re.compile(r"(EUH|H)[ -]?(\d{3})([A-Za-z]{0,2})", re.IGNORECASE)


def ghs_word(word: str) -> str:
    """Return a signal word or code as it is written ("Danger", "H360D"), or "" for any other word."""
    if word.capitalize() in SIGNALS:
        return word.capitalize()
    code = _CODE.fullmatch(word)
    return f"{code[1].upper()}{code[2]}{code[3]}" if code else ""


def on_the_tin(words: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what a tin holds, and its words of the GHS: the signal word first, then its codes in order."""
    every = tuple(words)
    ghs = {word for word in map(ghs_word, every) if word}
    signal = tuple(word for word in SIGNALS if word in ghs)[:1]
    codes = sorted(ghs - set(SIGNALS), key=lambda code: (code.startswith("E"), code))
    return tuple(word for word in every if not ghs_word(word)), (*signal, *codes)


def ghs_said(words: Iterable[str]) -> str:
    """Return words of the GHS in full: "Danger: May cause cancer. (H350)"; "" for none.

    References
    ----------
    Regulation (EC) 1272/2008 (CLP), annex III; from memory: the tin and its data sheet win.
    """
    signal, codes = [], []
    for word in words:
        if word in SIGNALS:
            signal.append(word)
        else:
            statement = _statements().get(word.upper(), "")
            codes.append(f"{statement} ({word})" if statement else word)
    return ": ".join(part for part in (" ".join(signal), " ".join(codes)) if part)


def ghs_codes(words: Iterable[str]) -> str:
    """Return words of the GHS as they are: "Danger: H350, H373."; "" for none."""
    every = tuple(words)
    signal, codes = [word for word in every if word in SIGNALS], [word for word in every if word not in SIGNALS]
    return ": ".join(part for part in (" ".join(signal), ", ".join(codes)) if part) + ("." if every else "")


@cache
def _statements() -> dict[str, str]:
    text = resources.files("finishmatch.readings").joinpath("data/ghs_statements.csv").read_text("utf-8")
    rows = [line.split(",", 1) for line in text.splitlines() if line and not line.startswith("#")][1:]
    return {code.upper(): statement for code, statement in rows}
