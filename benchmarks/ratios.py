"""How long two things take against each other: in turn, in one run, so that a drifting machine doesn't matter."""

from __future__ import annotations

import resource
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

# what every command must import: the floor under a command, which is the interpreter's own work as most of ours is
BARE_START = "import click, numpy, sqlalchemy.orm"


@dataclass(frozen=True)
class Told:
    """A ratio that was measured.

    Parameters
    ----------
    what, peer : str
        What was measured, and the peer or the physical floor it is held against.
    ratio : float
        What was measured over its peer: less is better.
    most : float
        What it may be.
    """

    what: str
    peer: str
    ratio: float
    most: float


TOLD: list[Told] = []  # of this run, in order


def tell(what: str, peer: str, ratio: float, most: float) -> None:
    """Put a ratio into the table that is printed at the end of the run; see `Told`."""
    TOLD.append(Told(what, peer, float(ratio), float(most)))


def table(told: list[Told]) -> list[str]:
    """Return the lines of the table."""
    wide = [max(len(str(cell)) for cell in column) for column in zip(*((t.what, t.peer) for t in told), strict=True)]
    head = f"{'what is measured':{wide[0]}}  {'over':{wide[1]}}  {'ratio':>7}  {'at most':>7}"
    return [head, *(f"{t.what:{wide[0]}}  {t.peer:{wide[1]}}  {t.ratio:7.3g}  {t.most:7.3g}" for t in told)]


def time_ratio(
    ours: Callable[[], object],
    theirs: Callable[[], object],
    rounds: int = 5,
    clock: Callable[[], float] = time.perf_counter,
    warm: bool = False,
) -> float:
    """Return the median over rounds of ours' time over theirs', in turn; after one warm-up each if not `warm`."""
    if not warm:
        ours(), theirs()
    ratios = []
    for _ in range(rounds):
        times = []
        for call in (ours, theirs):
            start = clock()
            call()
            times.append(clock() - start)
        ratios.append(times[0] / times[1])
    return statistics.median(ratios)


def of_children() -> float:
    """Return the processor time of all processes that this one started and that have ended, seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def holds(measure: Callable[[], float], limit: float, tries: int = 4) -> float:
    """Return the first measured ratio within the limit, or else the last: a busy moment isn't a slow program."""
    for _ in range(tries):
        ratio = measure()
        if ratio <= limit:
            break
    return ratio
