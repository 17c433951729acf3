"""Slips planted in the banks of the booth's shops are named, the guilty panel first; banks without one name none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.workshop import CALM, ROUGH, Conditions, Workshop
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.optics import Bank, fit_bank

SLIPS = ("exchanged", "half", "ten times", "wrong tint")
SEED, BANKS = 200, 1  # docs/accuracy.md was measured with more
APART_DE00 = 3.0  # of readings that are exchanged


def planted(bank: Bank, slip: str, r: np.random.Generator) -> tuple[Bank, set[str]]:
    """Return the bank with a slip, and the panels it is in."""
    panels = list(bank.panels)
    if slip == "exchanged":
        labs = reflectance_to_lab(np.array([panel.reflectance for panel in panels]))
        i, *others = map(int, r.permutation(len(panels)))
        j = next(other for other in others if de00(labs[i], labs[other]) > APART_DE00)
        panels[i], panels[j] = (
            replace(panels[i], repeats=panels[j].repeats),
            replace(panels[j], repeats=panels[i].repeats),
        )
        return replace(bank, panels=tuple(panels)), {panels[i].name, panels[j].name}
    i = int(r.choice([i for i, panel in enumerate(panels) if len(panel.grams) > 1]))
    grams = dict(panels[i].grams)
    tint = min(grams, key=lambda name: grams[name])
    if slip == "wrong tint":
        other = str(r.choice([tint.name for tint in bank.tints if tint.name not in grams]))
        grams = {other if name == tint else name: weight for name, weight in grams.items()}
    else:
        grams[tint] *= {"half": 0.5, "ten times": 10.0}[slip]
    panels[i] = replace(panels[i], grams=tuple(grams.items()))
    return replace(bank, panels=tuple(panels)), {panels[i].name}


@pytest.mark.parametrize("conditions", [CALM, ROUGH], ids=["calm", "rough"])
def test_the_guilty_panel_is_named_first_and_no_slip_where_there_is_none(conditions: Conditions) -> None:
    first = falsely = 0
    for seed in range(SEED, SEED + BANKS):
        bank = Workshop(conditions, seed, 10, 0.3).bank()
        falsely += bool(fit_bank(bank).slips)
        for slip in SLIPS:
            slipped, guilty = planted(bank, slip, np.random.default_rng(seed))
            named = fit_bank(slipped).slips
            first += bool(named) and set(named[0].panels) == guilty
    print(
        f"\nguilty panel first: {first} of {BANKS * len(SLIPS)}; slips named in banks without one: {falsely} of {BANKS}"
    )
    assert first >= 0.75 * BANKS * len(SLIPS)
    assert falsely == 0
