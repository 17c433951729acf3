"""How long two things take against each other: in turn, in one run, so that a drifting machine doesn't matter."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def time_ratio(ours: Callable[[], object], theirs: Callable[[], object], rounds: int = 5) -> float:
    """Return the median over rounds of ours' time over theirs', run in turn after one warm-up each."""
    ours(), theirs()
    ratios = []
    for _ in range(rounds):
        times = []
        for call in (ours, theirs):
            start = time.perf_counter()
            call()
            times.append(time.perf_counter() - start)
        ratios.append(times[0] / times[1])
    return statistics.median(ratios)


def holds(measure: Callable[[], float], limit: float, tries: int = 4) -> float:
    """Return the first measured ratio within the limit, or else the last: a busy moment isn't a slow program."""
    for _ in range(tries):
        ratio = measure()
        if ratio <= limit:
            break
    return ratio
