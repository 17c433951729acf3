"""Which panels to draw next: the ones that tell most, of a bank of nothing, of half a bank, and of a whole one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.banks import booth_bank, tint_specs
from finishmatch.errors import InputError
from finishmatch.optics import Bank, Tint, panel_plan
from finishmatch.optics.panel_plan import plan_panels

NAMES = ("PW6", "PBk7", "PY42", "PB15:3", "PR101", "PG7")


def shelf(names: tuple[str, ...] = NAMES) -> Bank:
    """A bank of nothing yet but its tints."""
    roles = ("white", "black", *("tint",) * (len(names) - 2))
    tints = tuple(
        Tint(f"tin {name}", role, name, 1.2, 0.4, 30.0, 1000.0) for name, role in zip(names, roles, strict=True)
    )
    return Bank("shelf", "di8", 1.5, tints, (), (), "")


def test_of_tints_alone_every_tint_gets_a_letdown_before_any_gets_a_second() -> None:
    plan = plan_panels(shelf(), 9)
    first = [[name for name, _ in panel.parts if name != "tin PW6"] for panel in plan.panels]
    assert {tint for held in first[:6] for tint in held} == {f"tin {name}" for name in NAMES[1:]}
    assert plan.fitted == ()
    assert dict(plan.kinds)["tin PB15:3"] == "phthalo blue"
    assert not plan.by_instrument


def test_every_panel_lowers_the_doubt_and_the_first_ones_most() -> None:
    plan = plan_panels(shelf(), 12)
    doubts = np.array([plan.doubt_de00, *(panel.doubt_de00 for panel in plan.panels)])
    assert (np.diff(doubts) < 0).all()
    gained = -np.diff(doubts**2)
    assert gained[:4].sum() > 3 * gained[-4:].sum()
    assert doubts[-1] < 0.5 * doubts[0]


def test_a_panel_that_is_asked_for_again_is_called_so() -> None:
    panels = plan_panels(shelf(), 30).panels
    names = [panel.name for panel in panels]
    assert len(set(names)) == len(names) == 30
    first = {panel.parts: panel.name for panel in reversed(panels)}
    again = [panel for panel in panels if first[panel.parts] != panel.name]
    assert again
    assert all(panel.name.startswith(f"{first[panel.parts]} (") for panel in again)


def test_two_tints_share_a_panel_only_once_each_is_known() -> None:
    known = set[str]()
    for panel in plan_panels(shelf(), 14).panels:
        held = {name for name, _ in panel.parts} - {"tin PW6"}
        assert len(held) < 2 or held <= known
        known |= held


def test_what_is_weighed_is_a_hundred_grams_and_bears_its_shares_in_its_name() -> None:
    for panel in plan_panels(shelf(), 6).panels:
        assert sum(grams for _, grams in panel.parts) == pytest.approx(100)
        shares = [float(each) for each in panel.name.rsplit(" ", 1)[1].split("/")] if "/" in panel.name else [100.0]
        assert sorted(shares) == sorted(grams for _, grams in panel.parts)


def test_a_tint_without_a_name_is_doubted_more() -> None:
    named = shelf()
    nameless = plan_panels(replace(named, tints=tuple(replace(tint, colour_index="") for tint in named.tints)), 1)
    assert nameless.doubt_de00 > plan_panels(named, 1).doubt_de00
    assert {kind for tint, kind in nameless.kinds if tint not in ("tin PW6", "tin PBk7")} == {""}


def test_half_a_bank_asks_for_the_tints_it_has_no_panel_of() -> None:
    whole = booth_bank(tint_specs(11, 6))
    lacking = whole.tints[4].name
    half = replace(whole, panels=tuple(p for p in whole.panels if lacking not in dict(p.grams)))
    plan = plan_panels(half, 2)
    assert lacking in dict(plan.panels[0].parts)
    assert lacking not in plan.fitted
    assert plan.by_instrument
    full = plan_panels(whole, 1)
    assert full.doubt_de00 < 0.3 * plan.doubt_de00
    assert full.kinds == ()


@pytest.mark.parametrize(("kept", "what"), [(slice(1, None), "no white"), (slice(0, 1), "a white alone")])
def test_without_a_white_or_with_nothing_else_there_is_nothing_to_plan(kept: slice, what: str) -> None:
    bank = shelf()
    with pytest.raises(InputError, match=what):
        plan_panels(replace(bank, tints=bank.tints[kept]), 3)


def test_what_a_picture_is_off_by_is_the_same_in_all_its_panels() -> None:
    """Of two panels and a mixture that vary together, by hand: panels tell of the picture, too."""
    off = np.random.default_rng(2).standard_normal((2, 3, 400))
    off = np.stack([off[0], 0.5 * off[0] + off[1], off[0] - off[1]])
    holds = np.zeros((2, 1), bool)
    _, doubts = panel_plan._greedy(off, (holds, np.ones(1, bool), np.zeros(2, bool)), 2, False)
    flat = off.reshape(9, 400)
    covariance = flat @ flat.T / 400
    seen = covariance[:6, :6] + np.kron(np.ones((2, 2)), 1.0**2 * np.eye(3)) + 0.7**2 * np.eye(6)
    left = covariance[6:, 6:] - covariance[6:, :6] @ np.linalg.solve(seen, covariance[:6, 6:])
    assert doubts[0] == pytest.approx(np.sqrt(np.trace(covariance[6:, 6:])))
    assert doubts[2] == pytest.approx(np.sqrt(np.trace(left)))
