"""A ladder of gloss: `flattening,gloss`, panels with more and more flattening base, read at 60°."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.table_file import read_table

MOST_GLOSS = 200.0  # gloss units; polished metal reads more, paint doesn't


@dataclass(frozen=True)
class Rung:
    """A panel of the ladder: parts of flattening base to 100 of paint, and its readings in gloss units at 60°."""

    flattening: float
    gloss: tuple[float, ...]

    @property
    def mean(self) -> float:
        """The mean of its readings."""
        return sum(self.gloss) / len(self.gloss)


def read_ladder(path: Path) -> tuple[Rung, ...]:
    """Read a ladder.

    Parameters
    ----------
    path : Path
        UTF-8 CSV with the columns ``flattening,gloss``; rows of one flattening are repeats.

    Returns
    -------
    tuple of Rung
        By rising flattening; three at least.

    Raises
    ------
    InputError
    """
    table = read_table(Path(path), required=("flattening", "gloss"), optional=())
    rungs: dict[float, list[float]] = {}
    for row in table.rows:
        rungs.setdefault(row.number("flattening", 0, 1000), []).append(row.number("gloss", 0, MOST_GLOSS))
    if len(rungs) < 3:
        raise InputError(str(path), f"has {len(rungs)} steps of flattening", "a ladder needs three or more")
    return tuple(Rung(flattening, tuple(gloss)) for flattening, gloss in sorted(rungs.items()))
