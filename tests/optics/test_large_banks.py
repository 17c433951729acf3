"""In a large bank what doesn't fit is found on the tints it bears on, as fitting all of them without each would."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from booth.bank_writer import Noise
from booth.banks import booth_bank, tint_specs
from finishmatch.optics import fit, fit_bank, misfits, parts, posterior, slips_named
from finishmatch.optics.bank import Bank

TINTS = 7


@pytest.fixture(scope="module")
def wrong_bank() -> tuple[Bank, str]:
    """A bank of which one part of one mixture was left out of its table, and the name of that panel."""
    bank = booth_bank(tint_specs(1, TINTS), Noise(0.0003, 0.01))
    at, panel = next((i, panel) for i, panel in enumerate(bank.panels) if len(panel.grams) > 1 and panel.hides)
    panels = [*bank.panels[:at], replace(panel, grams=panel.grams[1:]), *bank.panels[at + 1 :]]
    return replace(bank, panels=tuple(panels)), panel.name


@pytest.mark.slow
def test_an_inconsistent_bank_takes_few_steps_of_all_its_tints(
    wrong_bank: tuple[Bank, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    bank, name = wrong_bank
    whole = [0]
    system = posterior.system

    def counted(problem: Any, *given: Any) -> Any:
        whole[0] += problem.tints == len(bank.tints)
        return system(problem, *given)

    monkeypatch.setattr(posterior, "system", counted)
    steps, named = [], []
    for large in (1000, 3):
        for module in (fit, misfits, parts, slips_named):
            monkeypatch.setattr(module, "LARGE_TINTS", large)
        whole[0] = 0
        found = fit_bank(bank)
        steps.append(whole[0])
        named.append({panel.panel for panel in found.panels if panel.misfit})
    assert named[0] == named[1] == {name}
    assert steps[1] < 0.5 * steps[0]
