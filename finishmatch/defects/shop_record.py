"""What a shop recorded of its coats, as `trace` reads it: what each met, when, and whether a defect came of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class ShopRecord:
    """Coats and what they met.

    Parameters
    ----------
    day : ndarray of int, shape (n,)
        The day each coat was sprayed, as a proleptic ordinal.
    bad : ndarray of bool, shape (n,)
        Whether the defect looked for came of it.
    coat, met : ndarray of int, shape (m,)
        Pairs: this coat met the exposure of this number; each pair once.
    exposures : sequence of (str, str)
        Kind and value of each exposure number.
    """

    day: Whole
    bad: Flags
    coat: Whole
    met: Whole
    exposures: Sequence[tuple[str, str]]

    def coats_that_met(self, exposure: int) -> Flags:
        """Return which coats met an exposure, shape (n,)."""
        found = np.zeros(len(self.day), dtype=bool)
        found[self.coat[self.met == exposure]] = True
        return found

    def coats_compared(self, exposure: int) -> Flags:
        """Return which coats an exposure is compared on, shape (n,); see `compared_on`."""
        on = compared_on(self)[exposure]
        if on is None:
            noted = np.zeros(len(self.day), dtype=bool)
            noted[self.coat] = True
            return noted
        found = np.zeros(len(self.day), dtype=bool)
        found[self.coat[np.isin(self.met, on)]] = True
        return found


def compared_on(record: ShopRecord) -> list[Whole | None]:
    """Return for each exposure the exposures that say its kind was noted, or None for all coats with anything noted.

    A coat of which nobody noted the gun says nothing of any gun, so it is left out of that comparison. A kind
    of which only one value was ever noted (polish in the room: yes) is one that is noted when it happens: there the
    coats without it are those that did not meet it.
    """
    of_kind: dict[str, list[int]] = {}
    for number, (kind, _) in enumerate(record.exposures):
        of_kind.setdefault(kind, []).append(number)
    groups = {kind: None if len(found) == 1 else np.array(found) for kind, found in of_kind.items()}
    return [groups[kind] for kind, _ in record.exposures]


@dataclass(frozen=True)
class Counts:
    """Per exposure, shape (e,): coats that met it, of these bad ones, coats compared, of these bad ones."""

    exposed: Whole
    exposed_bad: Whole
    total: Whole
    total_bad: Whole

    def of(self, exposures: Whole) -> Counts:
        """Return the counts of some exposures."""
        return Counts(*(counts[exposures] for counts in (self.exposed, self.exposed_bad, self.total, self.total_bad)))


def count_coats(record: ShopRecord) -> Counts:
    """Count the coats of every exposure."""
    exposures, coats = len(record.exposures), len(record.day)
    bad_pair = record.bad[record.coat]
    exposed = np.bincount(record.met, minlength=exposures)
    exposed_bad = np.bincount(record.met[bad_pair], minlength=exposures)
    kinds = sorted({kind for kind, _ in record.exposures})
    number_of = {kind: i for i, kind in enumerate(kinds)}
    kind = np.array([number_of[name] for name, _ in record.exposures], dtype=np.int64)
    seen = np.zeros((len(kinds), coats), dtype=bool)
    seen[kind[record.met], record.coat] = True
    several = np.bincount(kind, minlength=len(kinds)) > 1
    seen[~several] = seen.any(axis=0)
    total, total_bad = seen.sum(axis=1), (seen & record.bad).sum(axis=1)
    return Counts(exposed, exposed_bad, total[kind], total_bad[kind])
