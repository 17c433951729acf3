"""What was poured: a batch file, `tint,grams` in the order poured, or parts that are typed, `tint=grams`."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.near_names import as_known, did_you_mean, listed
from finishmatch.readings.plain_number import number_hint, understood_number
from finishmatch.readings.quantities import WEIGHT, carries_unit, quantity
from finishmatch.readings.table_file import read_table
from finishmatch.readings.volumes import Volume, volume_in
from finishmatch.understood import understood

MAX_GRAMS = 1e6
GRAMS_MEND = f"give grams, 0 to {MAX_GRAMS:,.0f}"
LEAST_GRAMS = 0.001  # less than that in all is nothing


def read_batch(path: Path, known: Collection[str] | None = None) -> tuple[tuple[str, float], ...]:
    """Read what was poured.

    Parameters
    ----------
    path : Path
        A table with the columns ``tint,grams``; a tint poured twice stands twice.
    known : collection of str or None
        The tints of the bank; a name that isn't one of them is refused. A mapping of them to their densities in kg/L
        lets a volume stand in place of a weight.

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
        tint = row.text("tint")
        volume = volume_in(row.where("grams"), row.text("grams"))
        if volume is None:
            grams = row.number("grams", 0, MAX_GRAMS)
        if known is not None:
            tint = tint_of_bank(row.where("tint"), tint, known)
        if volume is not None:
            grams = volume.grams(row.where("grams"), tint, density_of(tint, known))
        poured.append((tint, grams))
    if sum(grams for _, grams in poured) < LEAST_GRAMS:
        raise InputError(str(path), "nothing was poured: the weights come to 0", "write what was weighed out")
    return tuple(poured)


def tint_of_bank(where: str, tint: str, known: Collection[str]) -> str:
    """Return a tint as its bank calls it; other capitals and blanks are understood.

    Raises
    ------
    InputError
        The bank has none of that name.
    """
    tint = as_known(where, tint, known)
    if tint not in known:
        mend = did_you_mean(tint, known, f"the bank has {listed(sorted(known))}", most=2)
        raise InputError(where, f"the bank has no tint {tint[:40]!r}", mend)
    return tint


def density_of(tint: str, known: Collection[str] | None) -> float | None:
    """Return the density of a tint in kg/L, where the tints of the bank are known with theirs."""
    return known.get(tint) if isinstance(known, Mapping) else None


def typed_amount(text: str) -> tuple[str, float | Volume]:
    """Return the tint of a part that was typed, and its weight in grams or its volume, as in "soft black=2L".

    Raises
    ------
    InputError
        When it isn't a tint and an amount, 0 or more.
    """
    where = f"{text[:60]!r}"
    tint, equals, amount = (piece.strip() for piece in text.rstrip(" ,;").rpartition("="))
    if not (equals and tint):
        raise InputError(where, "is not a part", "write TINT=GRAMS, for example black=9.8")
    try:
        grams = understood_number(where, amount.removesuffix("g").strip())
    except ValueError:
        volume = volume_in(where, amount)
        if volume is not None:
            return tint, volume
        if not carries_unit(amount):
            raise InputError(where, f"{amount[:40]!r} is not a number of grams", number_hint(amount)) from None
        grams = quantity(where, amount, WEIGHT)
        understood(where, f"read as {grams:.6g} g")
    if not 0 <= grams <= MAX_GRAMS:
        raise InputError(where, f"{grams:g} g is not possible", GRAMS_MEND)
    return tint, grams
