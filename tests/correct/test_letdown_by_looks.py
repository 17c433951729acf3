"""A letdown beside its panel: a camera misreads the two alike, as it misreads their tints, however far they differ."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import de00_metric, reflectance_to_lab
from finishmatch.correct.pair_by_looks import letdown_by_looks
from finishmatch.optics.strength import StrengthPrior
from tests.correct.test_pair_by_looks import away, both_of, looked, parts, photographed, sprayed, strong
from tests.helpers.another_eye import OPTICS, mixture

STRENGTHS = (0.5, 0.8, 1.25, 1.8)


def letdown(tint: int, share: float = 0.15) -> np.ndarray:
    """Grams of a tint let down in white."""
    grams = np.zeros(9)
    grams[0], grams[tint] = 100 * (1 - share), 100 * share
    return grams


def near(tint: int, strength: float) -> StrengthPrior:
    """About what the photographs by themselves show of the tint: a tenth off."""
    names = (OPTICS.names[0], OPTICS.names[tint])
    found = StrengthPrior.default(names, 0.15)
    found.log_mean[1] = np.log(1.1 * strength)
    return found


def off_by(found: np.ndarray, panel: np.ndarray, grams: np.ndarray, tins: np.ndarray) -> float:
    """How far a difference is from the true one as the bank's instrument reads it, with the gloss, ΔE00."""
    standard, trial = (reflectance_to_lab(one, "D65", 10) for one in (mixture(panel), strong(grams, tins)))
    return float(np.linalg.norm(de00_metric(standard) @ (found - (trial - standard))))


def told(tint: int, strength: float) -> tuple[float, float, float]:
    """How far the difference is told off the true one, to what it is known, and how far a photograph has it off."""
    grams, tins = letdown(tint), np.ones(9)
    tins[tint] = strength
    pair = both_of(*(looked(one, "D65", 0.01) for one in (mixture(grams), strong(grams, tins))))
    card = replace(sprayed(), prior=near(tint, strength))
    found = letdown_by_looks(card, parts(grams), parts(grams), [pair], 10)["D65"]
    by_photograph = away(photographed(grams, grams * tins), grams, grams, tins=tins)
    return off_by(found.delta, grams, grams, tins), found.u95, by_photograph


def test_it_is_told_nearer_than_by_the_photograph_and_as_it_is_stated() -> None:
    all_told = np.array([told(tint, strength) for tint in range(1, 9) for strength in STRENGTHS])
    off, u95, by_photograph = all_told.T
    print(f"\noff {np.sqrt((off**2).mean()):.2f}, the photograph {np.sqrt((by_photograph**2).mean()):.2f}")
    print(f"stated ±{np.median(u95):.2f}, holds {(off <= u95).mean():.2f}")
    assert np.sqrt((off**2).mean()) < 0.75 * np.sqrt((by_photograph**2).mean())
    assert (off <= u95).mean() >= 0.9
    assert np.median(u95) < 1.5


def test_without_pictures_nothing_is_told() -> None:
    grams = letdown(1)
    assert letdown_by_looks(sprayed(), parts(grams), parts(grams), [], 10) == {}


@pytest.mark.parametrize("strength", [0.5, 1.8])
def test_what_was_weighed_otherwise_is_told_as_well(strength: float) -> None:
    """A panel of 15 %, a letdown of 6 %, of a tin that is stronger or weaker."""
    panel, weaker, tins = letdown(2), letdown(2, 0.06), np.ones(9)
    tins[2] = strength
    pair = both_of(*(looked(one, "D65", 0.01) for one in (mixture(panel), strong(weaker, tins))))
    card = replace(sprayed(), prior=near(2, strength))
    found = letdown_by_looks(card, parts(weaker), parts(panel), [pair], 10)["D65"]
    assert off_by(found.delta, panel, weaker, tins) <= found.u95
