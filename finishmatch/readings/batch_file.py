"""A batch file: `tint,grams`, in the order poured."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.near_names import did_you_mean
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
