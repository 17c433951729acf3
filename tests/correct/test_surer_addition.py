"""Where no addition is likely to end inside: the one that comes nearest on the average for its paint."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.correct.addition import least_addition
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.likeliest_addition import chance_after
from finishmatch.correct.surer_addition import DE00_PER_GROWTH, LIKELY, nearest_for_its_paint, surer_addition
from finishmatch.correct.tin import Tin
from finishmatch.evidence.target import colour_target
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from tests.helpers.booth_fit import BANK, OPTICS
from tests.helpers.plain_paints import PAINTS, POURED, grams, tin_of

SCALE = Scale()
ROOM = np.full(5, 1e3)
MOST = 80.0
TWICE = replace(
    PAINTS,
    names=(*PAINTS.names, "other blue"),
    K=np.vstack([PAINTS.K, PAINTS.K[1]]),
    S=np.vstack([PAINTS.S, PAINTS.S[1]]),
    dry_ml_per_g=np.append(PAINTS.dry_ml_per_g, PAINTS.dry_ml_per_g[1]),
)
BLUE, OTHER = np.append(grams(blue=10.0), 0.0), np.append(grams(), 10.0)


def two_blues(unknown: float, reading_sd: float = 0.002) -> Tin:
    """A tin that lacks blue, and another blue as good as it but for a tin nobody sprayed of."""
    covariance = np.diag([1e-4, 1e-4, 1e-4, 1e-4, unknown**2])
    return tin_of(np.append(POURED, 0.0), optics=TWICE, log_covariance=covariance, place_sd=reading_sd)


def cost(tin: Tin, added: np.ndarray) -> float:
    """What an addition is off by on the average, and its paint."""
    return float(tin.drawn(added, SCALE).max(axis=1).mean()) + DE00_PER_GROWTH * float(added.sum()) / tin.total


def test_the_tint_whose_tin_is_known_is_taken_where_both_are_right_on_the_average() -> None:
    tin = two_blues(0.3)
    assert tin.differences(OTHER).max() == pytest.approx(tin.differences(BLUE).max())
    assert chance_after(tin, OTHER, 0.2, SCALE) < LIKELY
    found = surer_addition(tin, ROOM, OTHER, 0.2, MOST, SCALE)
    assert found[4] == 0
    assert found[1] == pytest.approx(10, abs=0.5)
    assert cost(tin, found) < cost(tin, OTHER) - 0.1
    assert tin.differences(found).max() <= 0.2


def test_what_is_as_sure_stays_as_it_is() -> None:
    tin = two_blues(0.01)
    assert chance_after(tin, OTHER, 0.1, SCALE) < LIKELY
    assert surer_addition(tin, ROOM, OTHER, 0.1, MOST, SCALE) is OTHER


def test_an_addition_that_is_likely_inside_stays_as_it_is() -> None:
    tin = two_blues(0.3)
    assert chance_after(tin, OTHER, 3.0, SCALE) >= LIKELY
    assert surer_addition(tin, ROOM, OTHER, 3.0, MOST, SCALE) is OTHER


@pytest.mark.parametrize("tolerance", [0.1, 0.3])
def test_it_stays_inside_the_tolerance_and_never_costs_more(tolerance: float) -> None:
    tin = two_blues(0.2, 0.003)
    for start in (OTHER, BLUE, 0.5 * (BLUE + OTHER), least_addition(tin, ROOM, tolerance, MOST, SCALE)):
        assert start is not None
        found = surer_addition(tin, ROOM, start, tolerance, MOST, SCALE)
        assert cost(tin, found) <= cost(tin, start)
        assert found is start or tin.differences(found).max() <= tolerance
        assert found.sum() <= MOST


def test_paint_that_brings_nothing_that_will_be_seen_is_left_out() -> None:
    """A reading that may be off by much: a lot of white and black for a little nearness isn't poured."""
    tin = two_blues(0.3, 0.01)
    much = BLUE + np.append(grams(white=60.0), 0.0)
    blue_for_it = np.append(grams(blue=12.0), 0.0)
    assert chance_after(tin, much + blue_for_it, 1.0, SCALE) < LIKELY
    found = surer_addition(tin, ROOM, much + blue_for_it, 1.0, MOST + 20, SCALE)
    assert found.sum() < 30


def test_what_stays_outside_is_given_no_paint_that_nobody_sees() -> None:
    """Of what comes nearest in more and more paint, the last that brings ΔE00 0.1 for a tenth of the tin."""
    tin = two_blues(0.01)
    half, nothing = 0.5 * BLUE, np.zeros(5)
    padded = BLUE + np.append(POURED * (60.0 / POURED.sum()), 0.0)  # the same and much of what is in the tin

    def growth(added: np.ndarray) -> float:
        return float(added.sum()) / tin.total

    def chosen(*additions: np.ndarray) -> np.ndarray:
        return nearest_for_its_paint(tin, additions, growth, 0.5, SCALE)

    assert tin.differences(BLUE).max() < tin.differences(half).max() < tin.differences(nothing).max()
    assert chosen(nothing, half, BLUE) is BLUE
    assert chosen(padded, BLUE, nothing) is BLUE
    assert chosen(half, nothing) is half
    assert chosen(np.append(grams(white=50.0), 0.0), nothing) is nothing


def test_a_tin_that_cant_be_brought_inside_isnt_grown_as_far_as_it_may() -> None:
    """A third more paint brings such a tin nearer by ΔE00 0.3, a ninth by 0.8: what more buys is told beside it."""
    parts = np.zeros(len(OPTICS.names))
    parts[[0, 3, 5]] = 400.0, 60.0, 40.0
    batch = tuple((name, float(weight)) for name, weight in zip(OPTICS.names, parts, strict=True) if weight > 0)
    card = predicted_reflectance(OPTICS, parts)
    wished = card * (1 + 0.2 * np.exp(-0.5 * ((np.arange(31) - 20) / 1.5) ** 2))
    goal = colour_target(Reading("target", wished[None]), ("D65", "A", "F11"), 10)
    found = correct_batch(goal, OPTICS, BANK.tints, batch, Reading("card", card[None]), 0.3, 0.45)
    assert not found.reachable
    assert 0 < found.growth < 0.2
    assert max(found.lights.values()) < max(found.before.values()) - 0.5
    beyond = found.trade[-1]
    assert beyond.growth > 0.3
    assert 0.3 < beyond.worst < max(found.lights.values()) - 0.1
    assert f"the worst light comes to ΔE00 {beyond.worst:.2f}, not 0.3" in found.why
