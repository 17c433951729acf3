"""What was poured: a batch file, `tint,grams` in the order poured, or parts that are typed, `tint=grams`."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.near_names import did_you_mean
from finishmatch.readings.plain_number import number_hint, plain_number
from finishmatch.readings.table_file import read_table

MAX_GRAMS = 1e6
LEAST_GRAMS = 0.001  # less than that in all is nothing


def read_batch(path: Path, known: Collection[str] | None = None) -> tuple[tuple[str, float], ...]:
    """Read what was poured.

    Parameters
    ----------
    path : Path
        UTF-8 CSV with the columns ``tint,grams``; a tint poured twice stands twice.
    known : collection of str or None
        The tints of the bank; a name that isn't one of them is refused.

    Returns
    -------
    tuple of (tint, grams)
        In the order poured; grams are never negative, and more than nothing in all.

    Raises
    ------
    InputError
    """
    table = read_table(Path(path), required=("tint", "grams"), optional=())
    poured = []
    for row in table.rows:
        tint, grams = row.text("tint"), row.number("grams", 0, MAX_GRAMS)
        if known is not None and tint not in known:
            mend = did_you_mean(tint, known, "the bank has " + ", ".join(sorted(known)[:8]), most=2)
            raise InputError(row.where("tint"), f"the bank has no tint {tint[:40]!r}", mend)
        poured.append((tint, grams))
    if sum(grams for _, grams in poured) < LEAST_GRAMS:
        raise InputError(str(path), "nothing was poured: the weights come to 0", "write what was weighed out")
    return tuple(poured)


def typed_part(text: str) -> tuple[str, float]:
    """Return the tint and the grams of a part that was typed, as in "soft black=9.8".

    Raises
    ------
    InputError
        When it isn't a tint and a plain number of grams, 0 or more.
    """
    tint, equals, weight = (piece.strip() for piece in text.rpartition("="))
    if not (equals and tint):
        raise InputError(f"{text[:60]!r}", "is not a part", "write TINT=GRAMS, for example black=9.8")
    try:
        grams = plain_number(weight.removesuffix("g").strip())
    except ValueError:
        raise InputError(f"{text[:60]!r}", f"{weight[:40]!r} is not a number of grams", number_hint(weight)) from None
    if not 0 <= grams <= MAX_GRAMS:
        raise InputError(f"{text[:60]!r}", f"{grams:g} g is not possible", "give grams, 0 or more")
    return tint, grams
