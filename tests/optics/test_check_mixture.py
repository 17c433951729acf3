"""The check mixture of a bank whose panels can't show a slip."""

from __future__ import annotations

from dataclasses import replace

import pytest

from booth.bank_writer import PanelSpec
from booth.workshop import Conditions, Workshop
from finishmatch.optics import Bank, fit_bank
from finishmatch.optics.check_mixture import check_mixture, unchecked_tints
from finishmatch.optics.panel_set import panel_set

SHOP = Workshop(Conditions(doses_percent=(3.0, 30.0)), 7, 9)
TWO_EACH = SHOP.bank()


def with_check(bank: Bank) -> tuple[Bank, dict[str, float]]:
    """The bank with its check mixture drawn down."""
    panels = panel_set(bank)[0]
    parts = dict(check_mixture(panels, fit_bank(bank).optics, unchecked_tints(panels)))
    return SHOP.bank([*SHOP.panels(), PanelSpec("check", parts)]), parts


def test_a_bank_of_two_panels_a_tint_asks_for_one_check_mixture() -> None:
    said = [warning for warning in fit_bank(TWO_EACH).warnings if "check mixture" in warning]
    assert len(said) == 1
    checked, parts = with_check(TWO_EACH)
    assert ", ".join(f"{name} {grams:g} g" for name, grams in parts.items()) in said[0]
    assert sum(parts.values()) == pytest.approx(100, abs=1)
    assert min(parts.values()) >= 1
    assert len(parts) == 5
    left = unchecked_tints(panel_set(checked)[0])
    assert set(left) == {spec.name for spec in SHOP.specs[1:]} - set(parts)


def test_a_bank_with_more_panels_or_with_mixtures_asks_for_none() -> None:
    shop = Workshop(Conditions(doses_percent=(1.0, 3.0, 30.0)), 7, 9)
    assert unchecked_tints(panel_set(shop.bank())[0]) == ()
    assert unchecked_tints(panel_set(Workshop(Conditions(), 7, 9).bank())[0]) == ()


def test_a_slip_shows_in_the_check_mixture_and_nowhere_else() -> None:
    """A letdown of half the weight written: two panels of a tint are fitted whatever they are."""
    checked, parts = with_check(TWO_EACH)
    slipped = [name for name in parts if name != SHOP.specs[0].name][1]

    def halved(bank: Bank) -> Bank:
        panels = tuple(
            replace(panel, grams=tuple((tint, grams / 2 if tint == slipped else grams) for tint, grams in panel.grams))
            if panel.name.startswith(f"{slipped} ")
            else panel
            for panel in bank.panels
        )
        return replace(bank, panels=panels)

    without = fit_bank(halved(TWO_EACH))
    assert not any(panel.misfit for panel in without.panels)
    found = fit_bank(halved(checked))
    named = [panel.panel for panel in found.panels if panel.misfit]
    assert named
    assert all(name == "check" or name.rsplit(" ", 2)[0] in parts for name in named)
    clean = fit_bank(checked)
    assert not any(panel.misfit for panel in clean.panels)
    assert clean.slips == ()
