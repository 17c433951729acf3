"""What a length in µm may be: a depth, a cut; what all spots of a panel share of it, and what is a spot's own."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from finishmatch.defects.rework_figures import Pair


@dataclass(frozen=True)
class Cut:
    """A length taken off, normally spread: what differs from panel to panel, and from spot to spot of one panel."""

    mean_um: float
    panel_sd_um: float
    spot_sd_um: float

    @property
    def sd_um(self) -> float:
        """Its spread at one spot of one panel."""
        return math.hypot(self.panel_sd_um, self.spot_sd_um)


@dataclass(frozen=True)
class EvenLength:
    """A length that at each spot is as likely anywhere from low to high."""

    low_um: float
    high_um: float

    @property
    def mean_um(self) -> float:
        """Its middle."""
        return (self.low_um + self.high_um) / 2


Length = Cut | EvenLength


def spot_cut(pair: Pair) -> Cut:
    """Return a cut that differs from spot to spot, from its mean and standard deviation in µm."""
    return Cut(pair[0], 0.0, pair[1])


def sum_of_cuts(cuts: Iterable[Cut]) -> Cut:
    """Return the sum of independent cuts: normal lengths add in squares."""
    items = tuple(cuts)
    return Cut(
        math.fsum(cut.mean_um for cut in items),
        math.sqrt(math.fsum(cut.panel_sd_um**2 for cut in items)),
        math.sqrt(math.fsum(cut.spot_sd_um**2 for cut in items)),
    )
