"""How a tin may part from a target of which only CIELAB is known, in lights that neither was seen in."""

from __future__ import annotations

import numpy as np

from finishmatch.mix.metamers import LightRisk, likely_metamers
from finishmatch.steps.matching import Match, Parts


def risks_of_tin(match: Match, in_tin: Parts) -> tuple[LightRisk, ...]:
    """Return how a tin may part from the target of a match in each light that neither was seen in.

    Parameters
    ----------
    match : Match
        With the card that was sprayed: what was seen of it under a lamp is known, and no risk.
    in_tin : tuple of (tint, grams)
        A tint may come twice; those that make no colour don't count.
    """
    optics, trial = match.fitted.usable_optics, match.sprayed_alike
    standards = likely_metamers(match.target, optics)
    if standards is None:
        return ()
    grams: dict[str, float] = {}
    for tint, weight in in_tin:
        grams[tint] = grams.get(tint, 0.0) + weight
    own = optics.chosen([tint for tint in grams if tint in optics.names])
    seen = {one.light for one in trial.seen} if trial is not None else set()
    risks = standards.risks(own, np.array([grams[tint] for tint in own.names]))
    return tuple(risk for risk in risks if risk.light not in seen)
