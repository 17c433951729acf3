"""A tint that is of several lots in one tin: as strong as these together, by their grams, until its own card tells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.optics.strength import StrengthEvidence
from finishmatch.steps.spray_outs_counted import CountedSprayOut, tin_name
from finishmatch.steps.tins_of_day import Day

_TOGETHER_SD = 0.005  # what a mean of logarithms is off from that of strengths, as tins spread


def lots_together(
    day: Day, spray_outs: Sequence[CountedSprayOut], job: str, spread: float
) -> tuple[list[CountedSprayOut], dict[str, str]]:
    """Return what is known of the tints of a tin that are of several lots, and of which lot the most of each is.

    Parameters
    ----------
    day : Day
        The tins, with the grams of each lot.
    spray_outs : sequence of CountedSprayOut
        What counts already: a tin that was sprayed since they came together is known by its card.
    job : str
        The ref of the job: such a tint is a tin of its own, known there alone.
    spread : float
        Of the logarithm of the strength of tins nothing is known of.

    Returns
    -------
    together : list of CountedSprayOut
        As a card would show it that told nothing else: K and S add by amount, so that the strength is the mean by
        grams; of strengths as near to one another as those of tins are, the logarithm is the mean of the logarithms.
    most : dict of str to str
        Of these tints, by `tin_name`.
    """
    sprayed = {name for one in spray_outs for name in one.shown.names}
    together, most = [], {}
    for tint, grams in day.grams_of.items():
        own = tin_name(tint, "", job)
        if own in sprayed:
            continue
        total = sum(grams.values())
        names = (own, *(tin_name(tint, lot, job) for lot in grams))
        row = np.array([1.0, *(-weight / total for weight in grams.values())]) / _TOGETHER_SD
        precision = np.outer(row, row)
        precision[0, 0] -= 1 / spread**2  # nothing is believed of it but by its lots
        shown = StrengthEvidence(names, precision, np.zeros(row.size))
        together.append(CountedSprayOut(shown, job, None, None, ("", *grams)))
        most[tint] = tin_name(tint, max(grams, key=grams.__getitem__), job)
    return together, most
