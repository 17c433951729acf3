"""A mislabelled panel that only a phone saw is the one that is set aside, not an instrument's panels for it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from benchmarks.test_seen_bank import Shop
from finishmatch.optics import Bank, Panel, fit_bank, slips
from finishmatch.optics.curvature import linearised
from finishmatch.optics.misfits import square_misfits
from finishmatch.optics.posterior import Posterior

FIRST_NEW = 6  # of the tints; this one and the next are new, and an instrument read no panel of them
NOISE = 0.0005  # of the instrument


@cache
def bank_of(seed: int) -> Bank:
    """A bank that an instrument read, but for the panels of its two newest tints."""
    shop, r = Shop(seed), np.random.default_rng(1)
    bank = shop.bank(4)
    names = [tint.name for tint in bank.tints]

    def read(panel: Panel) -> Panel:
        grams = np.array([[dict(panel.grams).get(name, 0.0) for name in names]])
        return replace(panel, seen=None, repeats=shop.true(grams) + r.normal(0, NOISE, (1, 31)))

    new = set(names[FIRST_NEW:])
    return replace(bank, panels=tuple(one if new & set(dict(one.grams)) else read(one) for one in bank.panels))


def mislabelled(seed: int, at: int, tint: int) -> Bank:
    """The bank with another tint written for the new one in one of its panels."""
    bank = bank_of(seed)
    names, wrong = [one.name for one in bank.tints], bank.panels[at]
    assert wrong.seen is not None
    grams = tuple((names[tint] if name in names[FIRST_NEW:] else name, g) for name, g in wrong.grams)
    panels = (*bank.panels[:at], replace(wrong, grams=grams), *bank.panels[at + 1 :])
    return replace(bank, panels=panels, digest=f"{seed} {at} {tint}")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "at", "tint"),
    [(52, 7, 4), (51, 27, 2), (52, 20, 3)],
    ids=["two masstones fit better without each other", "no other is off", "with its neighbour it hides it"],
)
def test_the_mislabelled_panel_is_set_aside_and_no_other(seed: int, at: int, tint: int) -> None:
    found = fit_bank(mislabelled(seed, at, tint))
    assert [panel.panel for panel in found.panels if panel.misfit] == [f"panel {at}"]
    assert found.posterior is not None
    np.testing.assert_array_equal(np.flatnonzero(~found.posterior.problem.trusted), [at])


@pytest.mark.slow
def test_a_colour_that_is_off_weighs_as_a_spectrum_that_is_off_as_rarely() -> None:
    """Of three numbers 16.3 is as rare a sum of squares as 61.1 is of 31 (one in a thousand, chi-squared)."""
    found = fit_bank(bank_of(52)).posterior
    assert found is not None
    seen = found.problem.panels.seen
    assert seen is not None
    off = replace(seen, labs=seen.labs + np.where(seen.rows == seen.rows[2], 8.0, 0.0)[:, None])
    problem = replace(found.problem, panels=replace(found.problem.panels, seen=off))
    moved = Posterior(problem, found.beliefs, found.state)
    squares, linear = square_misfits(moved), linearised(problem, found.state, found.beliefs)
    assert linear.seen is not None
    np.testing.assert_allclose(
        squares[seen.rows] * 61.1, (linear.seen.misfit**2).sum(axis=1) / 16.3 * 61.1**2 / 31, rtol=5e-3
    )
    read = np.delete(np.arange(len(squares)), seen.rows)
    np.testing.assert_allclose(squares[read], (linear.misfit[read] ** 2).mean(axis=1))
    assert squares.argmax() == seen.rows[2]
    # a slip is looked for in it first, though no panel is told to be off
    assert slips._suspects(moved, np.zeros(len(squares), bool))[0] == problem.panels.mixture[seen.rows[2]]
