"""When a defect began: a change of its rate at some day, against one rate throughout; and the counts to draw it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln, logsumexp

Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Period:
    """Coats of a stretch of time and how many of them were bad; `label` is its month, week or day."""

    label: str
    coats: int
    bad: int


@dataclass(frozen=True)
class Onset:
    """When the rate changed.

    Parameters
    ----------
    chance : float
        That it changed at all at one day, against one rate throughout, both held equally likely beforehand.
    day, earliest, latest : date or None
        The likeliest first day of the new rate, and the span that holds it 95 times in 100; None with one day only.
    before, after : float
        Share of bad coats before that day and from it on.
    periods : tuple of Period
        For the chart, oldest first; stretches without a coat are left out.
    """

    chance: float
    day: date | None
    earliest: date | None
    latest: date | None
    before: float
    after: float
    periods: tuple[Period, ...]

    @property
    def began(self) -> bool:
        """Whether it is likelier than not that the defect began, or grew, at some day."""
        return self.day is not None and self.chance > 0.5 and self.after > self.before


def find_onset(day: Whole, bad: Flags) -> Onset:
    """Find when a defect began.

    Parameters
    ----------
    day : ndarray of int, shape (n,)
        Proleptic ordinals.
    bad : ndarray of bool, shape (n,)

    Returns
    -------
    Onset

    Notes
    -----
    Rates before and after have flat priors, so what a split says is a product of two beta integrals; every day on which
    something was sprayed may be the first of the new rate (common practice for a change point of counts).
    """
    days, first = np.unique(day, return_inverse=True)
    coats = np.bincount(first)
    bads = np.bincount(first[bad], minlength=len(days))
    periods = _periods(days, coats, bads)
    overall = float(bads.sum() / coats.sum())
    if len(days) < 2:
        return Onset(0.0, None, None, None, overall, overall, periods)
    n, s = coats.cumsum()[:-1], bads.cumsum()[:-1]
    N, S = coats.sum(), bads.sum()
    split = betaln(s + 1, n - s + 1) + betaln(S - s + 1, N - n - S + s + 1)
    steady = betaln(S + 1, N - S + 1)
    changed = logsumexp(split) - np.log(len(split))
    chance = float(1 / (1 + np.exp(np.clip(steady - changed, -700, 700))))
    posterior = np.exp(split - logsumexp(split))
    at = int(np.argmax(posterior))
    reached = posterior.cumsum()
    low, high = (int(np.searchsorted(reached, q)) for q in (0.025, 0.975))
    likeliest, earliest, latest = (date.fromordinal(int(days[min(i, len(split) - 1) + 1])) for i in (at, low, high))
    before, after = float(s[at] / n[at]), float((S - s[at]) / (N - n[at]))
    return Onset(chance, likeliest, earliest, latest, before, after, periods)


def _periods(days: Whole, coats: Whole, bads: Whole) -> tuple[Period, ...]:
    span = int(days[-1] - days[0])
    counted: dict[str, list[int]] = {}
    for ordinal, number, wrong in zip(days, coats, bads, strict=True):
        when = date.fromordinal(int(ordinal))
        if span > 1100:
            label = f"{when.year}"
        elif span > 120:
            label = f"{when:%Y-%m}"
        elif span > 21:
            year, week, _ = when.isocalendar()
            label = f"{year} week {week:02d}"
        else:
            label = when.isoformat()
        into = counted.setdefault(label, [0, 0])
        into[0] += int(number)
        into[1] += int(wrong)
    return tuple(Period(label, *numbers) for label, numbers in counted.items())
