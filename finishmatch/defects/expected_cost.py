"""What each way to mend a defect is expected to cost, with what follows when it fails: a decision tree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from finishmatch.defects.case import Case
from finishmatch.defects.options import METAL_AGAIN, METAL_NAME, NAMES, Branch, Option


def with_expected_costs(case: Case, by_gentleness: Sequence[Option]) -> tuple[Option, ...]:
    """Return the options with what each is expected to cost.

    Parameters
    ----------
    case : Case
    by_gentleness : sequence of Option
        From the gentlest to the hardest; a failure leads to harder ones only.

    Returns
    -------
    tuple of Option
        In the same order.

    Notes
    -----
    Backwards induction (H. Raiffa, Decision Analysis, 1968): the hardest way first. What follows a failure is the
    cheapest, in expectation, of the ways that are then open and not ruled out. At the end stands the metal, again and
    again until it holds: its cost over its chance.
    """
    work, figures = case.figures.work[METAL_AGAIN], case.figures
    metal = work.hours * figures.hour_cost + work.material + work.wait_days * figures.day_cost
    worth = {METAL_AGAIN: metal / case.success(METAL_AGAIN)}
    done: dict[str, Option] = {}
    for option in reversed(by_gentleness):
        if option.forbidden:
            done[option.key] = option
            continue
        chain = []
        for failure in option.failures:
            open_to = [key for key in failure.leads_to if key in worth] or [METAL_AGAIN]
            then = min(open_to, key=worth.__getitem__)
            chain.append(Branch(failure.chance, failure.what, NAMES.get(then, METAL_NAME), worth[then]))
        expected = option.cost + math.fsum(branch.chance * branch.expected_cost for branch in chain)
        done[option.key] = replace(option, expected_cost=expected, chain=tuple(b for b in chain if b.chance > 0))
        if not option.ruled_out:
            worth[option.key] = expected
    return tuple(done[option.key] for option in by_gentleness)
