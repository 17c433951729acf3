"""Where a defect came from: what the bad coats met more often than the good ones, and how sure that is.

One exposure at a time is tested by Fisher's exact test, and the p-values are adjusted for how many were looked at
(Benjamini and Hochberg). What stands out is then held against each other exposure in turn (`confounding`), for two
things that were always used together both stand out when one of them is guilty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import false_discovery_control

from finishmatch.defects.confounding import Trial, guilty_given, smallest_trial
from finishmatch.defects.fishers_exact import Floats, fisher_two_sided, odds_ratio
from finishmatch.defects.onset import Onset, find_onset
from finishmatch.defects.shop_record import Counts, ShopRecord, Whole, count_coats
from finishmatch.errors import InputError

SURE = 0.05  # the share of false finds that is borne, and the level of the tests within a pair; common practice
SMALL = 5  # fewer expected bad coats than this among the exposed is a small count; common practice (Cochran 1954)
_HELD = 8  # suspects that are held against each other


@dataclass(frozen=True)
class Suspect:
    """An exposure and how the coats that met it came out, beside those that did not.

    `odds_ratio` with its 95 % interval is conditional on the margins (inf where none is finite); `adjusted_p` counts
    that others were looked at too; `small` says that the counts are too small for the ratio to mean much.
    """

    kind: str
    value: str
    exposed: int
    exposed_bad: int
    others: int
    others_bad: int
    p: float
    adjusted_p: float
    odds_ratio: float
    low: float
    high: float
    small: bool

    @property
    def name(self) -> str:
        """As it is typed: air line=2."""
        return f"{self.kind}={self.value}"

    @property
    def stands_out(self) -> bool:
        """Whether it is bad more often than chance and the number of comparisons explain."""
        return self.adjusted_p <= SURE and self.worse

    @property
    def worse(self) -> bool:
        """Whether its coats came out bad more often than the others."""
        return self.exposed_bad * self.others > self.others_bad * self.exposed


@dataclass(frozen=True)
class Trace:
    """What a shop's record says of a defect.

    Parameters
    ----------
    suspects : tuple of Suspect
        Worst first: those whose coats came out worse by their p, then the others.
    coats, bad, unnoted : int
        Coats that were compared, those with the defect, and coats left out because nothing was noted of them.
    looked_at : int
        Exposures that were compared: those that some coats met and some did not.
    together : tuple of str
        Names that went with the first suspect, so that either may be it (the first included), or empty.
    rides_along : tuple of str
        Names that stood out, but no longer when the first suspect is held.
    trial : Trial or None
        The smallest trial that would settle it.
    onset : Onset
        When it began.
    """

    suspects: tuple[Suspect, ...]
    coats: int
    bad: int
    unnoted: int
    looked_at: int
    together: tuple[str, ...]
    rides_along: tuple[str, ...]
    trial: Trial | None
    onset: Onset

    @property
    def worth_showing(self) -> tuple[Suspect, ...]:
        """Those that came out worse, and the best of a kind of which none did: the rest only mirrors them."""
        worse = {suspect.kind for suspect in self.suspects if suspect.worse}
        return tuple(suspect for suspect in self.suspects if suspect.worse or suspect.kind not in worse)

    @property
    def guilty(self) -> tuple[Suspect, ...]:
        """Those that stand out."""
        return tuple(suspect for suspect in self.suspects if suspect.stands_out)


def trace(record: ShopRecord, shown: int = 12) -> Trace:
    """Find what the bad coats met more often than the good ones.

    Parameters
    ----------
    record : ShopRecord
    shown : int
        How many suspects get an odds ratio with its interval; the rest are only counted.

    Raises
    ------
    InputError
        A record without a coat, without a bad one, or without a good one.

    References
    ----------
    Fisher 1935; Benjamini and Hochberg 1995.
    """
    noted = np.zeros(len(record.day), dtype=bool)
    noted[record.coat] = True
    coats, bad = int(noted.sum()), int((record.bad & noted).sum())
    _check_comparable(coats, bad)
    counts = count_coats(record)
    differs = np.flatnonzero((counts.exposed > 0) & (counts.exposed < counts.total))
    if not len(differs):
        raise InputError(
            "defect trace",
            f"all {coats} coats met the same",
            "note what differs from coat to coat: gun, cloth, tin, day",
        )
    counts = counts.of(differs)
    p = fisher_two_sided(counts.exposed_bad, counts.exposed, counts.total_bad, counts.total)
    order = _worst_first(counts, p)[:shown]
    fair = false_discovery_control(p)
    suspects = [_suspect(record.exposures[differs[i]], counts, i, float(p[i]), float(fair[i])) for i in order]
    together, along = _confounded(record, suspects, differs[order])
    return Trace(
        suspects=tuple(suspects),
        coats=coats,
        bad=bad,
        unnoted=int((~noted).sum()),
        looked_at=len(differs),
        together=together,
        rides_along=along,
        trial=_trial(suspects, together),
        onset=find_onset(record.day[noted], record.bad[noted]),
    )


def _check_comparable(coats: int, bad: int) -> None:
    """Raise `InputError` when there are no bad coats, or no good ones, to compare."""
    if not coats:
        raise InputError("defect trace", "no coat has its exposures noted", "note them: finishmatch job coat JOB …")
    if not bad:
        raise InputError("defect trace", f"none of the {coats} coats has this defect", "there is nothing to trace")
    if bad == coats:
        raise InputError(
            "defect trace",
            f"all {coats} coats have it, and none is without to compare with",
            "note what good coats met as well: finishmatch job coat JOB …",
        )


def _worst_first(counts: Counts, p: Floats) -> Whole:
    """Return the order of exposures: those whose coats came out worse before the others, by their p, then by excess."""
    others, others_bad = counts.total - counts.exposed, counts.total_bad - counts.exposed_bad
    worse = counts.exposed_bad * others > others_bad * counts.exposed
    excess = counts.exposed_bad - counts.exposed * (counts.total_bad / counts.total)
    return np.lexsort((-excess, p, ~worse))


def _suspect(exposure: tuple[str, str], counts: Counts, i: int, p: float, adjusted_p: float) -> Suspect:
    a, n, k, total = (int(x[i]) for x in (counts.exposed_bad, counts.exposed, counts.total_bad, counts.total))
    ratio, low, high = odds_ratio(a, n, k, total)
    kind, value = exposure
    return Suspect(
        kind,
        value,
        exposed=n,
        exposed_bad=a,
        others=total - n,
        others_bad=k - a,
        p=p,
        adjusted_p=adjusted_p,
        odds_ratio=ratio,
        low=low,
        high=high,
        small=n * k / total < SMALL,
    )


def _confounded(record: ShopRecord, suspects: list[Suspect], order: Whole) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return which suspects may as well be it as the first, and which only ride along with it."""
    if not suspects or not (suspects[0].worse and suspects[0].p <= SURE):
        return (), ()
    first = record.coats_that_met(int(order[0]))
    on = record.coats_compared(int(order[0]))
    together, along = [], []
    for suspect, number in list(zip(suspects, order, strict=True))[1:_HELD]:
        if not suspect.worse or suspect.p > SURE or suspect.kind == suspects[0].kind:
            continue
        other, both = record.coats_that_met(int(number)), on & record.coats_compared(int(number))
        first_counts = guilty_given(first[both], other[both], record.bad[both]) <= SURE
        other_counts = guilty_given(other[both], first[both], record.bad[both]) <= SURE
        if not first_counts and not other_counts:
            together.append(suspect.name)
        elif first_counts and not other_counts:
            along.append(suspect.name)
    return ((suspects[0].name, *together) if together else ()), tuple(along)


def _trial(suspects: list[Suspect], together: tuple[str, ...]) -> Trial | None:
    if not suspects or not suspects[0].worse:
        return None
    first = suspects[0]
    guilty = (first.exposed_bad + 1) / (first.exposed + 2)
    innocent = (first.others_bad + 0.5) / (first.others + 1)
    return smallest_trial(together or (first.name,), guilty, innocent)
