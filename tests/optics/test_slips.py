"""A slip in a bank is named once a check mixture is among its panels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from booth.bank_writer import PanelSpec
from booth.workshop import Conditions, Workshop
from finishmatch.errors import InputError
from finishmatch.optics import Bank, Panel, fit_bank
from finishmatch.optics.slips_named import PanelSlip

SHOP = Workshop(Conditions(doses_percent=(3.0, 30.0)), 7, 6)
WHITE, _, ONE, TWO, THREE, FOUR = (spec.name for spec in SHOP.specs)
CHECK = PanelSpec("check", {WHITE: 70.0, ONE: 8.0, TWO: 8.0, THREE: 7.0, FOUR: 7.0})
BANK = SHOP.bank([*SHOP.panels(), CHECK])
LETDOWN = f"{ONE} 3 %"


def changed(name: str, change: Callable[[Panel], Panel]) -> Bank:
    """The bank with one panel written otherwise."""
    return replace(BANK, panels=tuple(change(panel) if panel.name == name else panel for panel in BANK.panels))


def weighed(panel: Panel, **grams: float) -> Panel:
    """A panel with other weights."""
    return replace(panel, grams=tuple(grams.items()))


@pytest.mark.slow
def test_a_letdown_of_half_the_weight_written_is_named() -> None:
    other = SHOP.specs[1].name
    wrong = changed("check", lambda panel: replace(panel, grams=((WHITE, 70.0), (other, 8.0), *panel.grams[2:])))
    fit = fit_bank(wrong)
    assert (fit.slips[0].kind, fit.slips[0].panels, fit.slips[0].other) == ("tint", ("check",), ONE)


@pytest.mark.slow
@pytest.mark.parametrize("one", [f"{TWO} 30 %", LETDOWN], ids=["plain", "where innocent panels were set aside"])
def test_two_readings_that_were_exchanged_are_named(one: str) -> None:
    by_name = {panel.name: panel for panel in BANK.panels}
    pair = {one: f"{THREE} 30 %", f"{THREE} 30 %": one}
    panels = tuple(replace(p, repeats=by_name[pair.get(p.name, p.name)].repeats) for p in BANK.panels)
    (slip,) = fit_bank(replace(BANK, panels=panels)).slips
    assert (slip.kind, set(slip.panels)) == ("exchanged", set(pair))
    assert "the readings of" in slip.warning
    assert slip.warning.endswith("look at the labels of both")


@pytest.mark.slow
def test_where_panels_contradict_each_other_the_slip_behind_it_is_named() -> None:
    by_name = {panel.name: panel for panel in BANK.panels}
    pair = {LETDOWN: f"{FOUR} 30 %", f"{FOUR} 30 %": LETDOWN}
    panels = tuple(replace(p, repeats=by_name[pair.get(p.name, p.name)].repeats) for p in BANK.panels)
    with pytest.raises(InputError, match=r"the readings of .* were exchanged; look at the labels of both"):
        fit_bank(replace(BANK, panels=panels))


def test_slips_that_can_t_be_told_apart_are_both_said_with_the_check_that_would_tell() -> None:
    slip = PanelSlip("amount", ("red 5/95",), "red", "", 2.0, 30.0, "red 5/95 holds twice", "check holds half")
    assert slip.warning == (
        "likeliest slip: either red 5/95 holds twice, or check holds half; draw red 5/95 down again: "
        "if it reads as before, it is the second"
    )
