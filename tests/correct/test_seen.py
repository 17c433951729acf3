"""Match by difference: what is seen beside the standard is brought to nothing, whatever is known of the standard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.colour.told_within import told_by_doubt
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.correct.correct_seen import correct_seen, told_tolerances, verdict_seen
from finishmatch.correct.correction import Correction
from finishmatch.correct.seen_tin import brought_to
from finishmatch.evidence.target import colour_target
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.reading import SeenDifference, TargetFacts
from finishmatch.readings.seen import covariance_within, seen_beside, seen_de00, what_sees_nearer
from finishmatch.steps.seen_kept import kept_seen, told_from
from tests.helpers.booth_fit import BANK, OPTICS

NAMES = OPTICS.names
GRAMS = np.zeros(len(NAMES))
GRAMS[[0, 3, 5]] = 400.0, 60.0, 40.0
BATCH = tuple((name, float(grams)) for name, grams in zip(NAMES, GRAMS, strict=True) if grams > 0)
STRONG = np.where(np.arange(len(NAMES)) == 3, 1.12, 1.0)  # today's tin of one tint is stronger than the bank's
WISHED = predicted_reflectance(OPTICS, GRAMS)
CARD = predicted_reflectance(OPTICS.strengthened(STRONG), GRAMS)


def standard(off: tuple[float, float, float] = (0, 0, 0), u95: float | None = None) -> Reading:
    """The standard as CIELAB, known only so well, and off by so much."""
    facts = None if u95 is None else TargetFacts(u95=u95)
    return Reading("standard", (reflectance_to_lab(WISHED) + off)[None], target=facts)


def difference(light: str = "D65") -> np.ndarray:
    """The true difference of the card from the standard."""
    return np.asarray(reflectance_to_lab(CARD, light, 10) - reflectance_to_lab(WISHED, light, 10))


def corrected(beside: Reading, *seen: SeenDifference) -> Correction:
    trial = seen_beside(beside, seen, "card", ("D65", 10))
    goal = colour_target(beside, ("D65",), 10)
    return correct_seen(goal, OPTICS, BANK.tints, BATCH, trial, 0.3, 0.4)


def left_after(found: Correction, light: str = "D65") -> float:
    """The true ΔE00 to the standard after adding, the tins being as they are."""
    added = np.zeros(len(NAMES))
    for name, grams in found.additions:
        added[NAMES.index(name)] = grams
    after = predicted_reflectance(OPTICS.strengthened(STRONG), GRAMS + added)
    return float(de00(reflectance_to_lab(WISHED, light, 10), reflectance_to_lab(after, light, 10)))


def test_the_difference_is_brought_to_nothing_though_the_standard_is_known_badly() -> None:
    assert left_after(corrected(standard(), SeenDifference(np.zeros(3), 0.2))) > 1.0  # nothing is added then
    for beside in (standard(), standard((1.5, -1.0, 2.0), u95=4.0)):
        found = corrected(beside, SeenDifference(difference(), 0.2))
        off = float(de00(reflectance_to_lab(WISHED), reflectance_to_lab(CARD)))
        assert found.before["D65"] == pytest.approx(off, abs=0.1)
        assert found.additions
        assert left_after(found) < 0.3


def test_what_lies_inside_what_can_be_told_is_left_alone() -> None:
    seen = SeenDifference(np.array([0.4, 0.1, -0.3]), 0.6)
    found = corrected(standard(), seen)
    assert found.reachable
    assert not found.additions
    assert found.why == "as near as this can tell: ±0.6; add nothing"
    trial = seen_beside(standard(), [seen], "card", ("D65", 10))
    assert verdict_seen(trial, 0.1).within
    assert what_sees_nearer(trial) == ("an instrument that reads both: about ±0.2",)
    several = seen_beside(standard(), [replace(seen, u95_more=0.5)], "card", ("D65", 10))
    assert what_sees_nearer(several)[0] == "4 photographs combined: about ±0.5"
    hardly = seen_beside(standard(), [replace(seen, u95_more=0.58)], "card", ("D65", 10))
    assert what_sees_nearer(hardly) == what_sees_nearer(trial)
    assert corrected(standard(), replace(seen, u95=0.2)).additions  # known better, it is outside


def test_what_lights_together_leave_open_is_brought_to_none_where_adding_can_and_else_is_enough() -> None:
    """Of other pigments: what no addition takes away in both lights isn't a reason to mix afresh."""
    lights = {"D65": np.array([0.2, 0.0, 0.0]), "A": np.array([0.2, 2.2, -2.4])}
    alone = corrected(standard(), *(SeenDifference(delta, 0.2, light) for light, delta in lights.items()))
    assert not alone.reachable
    wide = [SeenDifference(delta, 4.0, light, alike_u95=0.2) for light, delta in lights.items()]
    found = corrected(standard(), *wide)
    assert found.reachable
    assert not found.additions
    assert found.why == "as near as adding brings it, and inside what can be told, ±4, in A ±4: add nothing"
    known = corrected(standard(), SeenDifference(difference(), 4.0, alike_u95=0.2))
    assert known.additions
    assert left_after(known) < left_after(corrected(standard(), SeenDifference(difference(), 4.0)))


def test_what_several_lights_would_tell_of_the_same_pigments_is_the_limit_wherever_it_is_shown() -> None:
    wide = SeenDifference(difference(), 2.0, "D65", alike_u95=0.9)
    trial = seen_beside(standard(), [wide], "card", ("D65", 10))
    assert told_tolerances(0.3, trial) == {"D65": 0.9}
    assert told_from(kept_seen(trial)) == (0.9,)
    assert told_by_doubt(verdict_seen(trial, 0.3).tolerance, told_from(kept_seen(trial)))


def test_a_worse_known_difference_or_standard_teaches_less_of_the_tins() -> None:
    def spread(beside: Reading, u95: float) -> float:
        trial = seen_beside(beside, [SeenDifference(difference(), u95)], "card", ("D65", 10))
        found = card_strengths(OPTICS, BANK.tints, BATCH, trial, Scale(), None)
        after = found.believed.given(found.evidence)
        return float(after.chosen([NAMES[3]]).sd[0])

    before = float(StrengthPrior.default([NAMES[3]]).sd[0])
    surely, roughly, of_unknown = spread(standard(), 0.2), spread(standard(), 1.5), spread(standard(u95=20.0), 0.2)
    assert surely < roughly < of_unknown < before * 1.001


def test_model_and_sight_are_weighed_by_what_each_is_known_to() -> None:
    """In one direction, by hand: of a difference the model puts at nothing, what is known twice as well counts more."""
    goal = colour_target(standard(), ("D65",), 10)
    seen = SeenDifference(np.array([0.5, 0.0, 0.0]), 0.5)
    trial = seen_beside(standard(u95=0.5), [seen], "card", ("D65", 10))
    known = np.zeros((len(NAMES), len(NAMES)))
    _, offset, root = brought_to(goal, OPTICS, GRAMS, known, trial)
    noise = covariance_within(0.5, reflectance_to_lab(WISHED))
    # the standard's doubt is as large as that of the difference: half and a little of it stays, which is the theory's
    assert 0.5 * 0.5 < offset[0, 0] < 0.8 * 0.5
    left = root @ root.T
    assert np.all(np.linalg.eigvalsh(noise - left) > 0)
    assert left[0, 0] > 0.4 * noise[0, 0]


def test_two_lights_enter_together_and_a_light_the_standard_isnt_known_in_counts() -> None:
    """Only the standard's D65 is known; under A it is told that nothing is off, which must then stay so."""
    both = [SeenDifference(difference(light), 0.2, light) for light in ("D65", "A")]
    found = corrected(standard(), *both)
    assert list(found.lights) == ["D65", "A"]
    assert left_after(found) < 0.3
    assert left_after(found, "A") < 0.4
    contrary = [both[0], replace(both[1], delta=np.zeros(3))]
    torn = corrected(standard(), *contrary)
    assert max(torn.lights.values()) > max(found.lights.values())


def test_what_can_be_told_is_kept_to_a_hundredth_as_it_is_shown() -> None:
    seen = seen_beside(standard(), [SeenDifference(difference(), 1.23456, "D65")], "card", ("D65", 10))
    assert verdict_seen(seen, 0.5).tolerance == 1.24
    assert verdict_seen(seen, 2.0).tolerance == 2.0


def test_what_daylight_tells_is_not_let_go_for_a_lamp_that_tells_less() -> None:
    """Daylight shows the card to be off, which the lamp alone couldn't tell."""
    day, lamp = (SeenDifference(difference(light), u95, light) for light, u95 in (("D65", 0.4), ("A", 6.0)))
    trial = seen_beside(standard(), [day, lamp], "card", ("D65", 10))
    seen = seen_de00(trial)
    assert 0.4 < seen["D65"] < 6
    assert seen["A"] < 6
    verdict = verdict_seen(trial, 0.3)
    assert not verdict.within
    assert verdict.tolerance == 0.4
    found = corrected(standard(), day, lamp)
    assert found.additions
    assert left_after(found) < 0.4
    assert found.chance == pytest.approx(corrected(standard(), day).chance, abs=0.1)
    assert found.before == pytest.approx(seen)
    assert found.intervals["A"][1] > 1
    assert f"worst light is expected at ΔE00 {max(found.lights.values()):.2f}" in found.why
    # where both are inside what they tell, both are said
    near = [replace(one, delta=0.01 * one.delta) for one in (day, lamp)]
    assert verdict_seen(seen_beside(standard(), near, "card", ("D65", 10)), 0.3).within
    assert "±0.4, in A ±6" in corrected(standard(), *near).why


def test_a_tolerance_between_what_two_lights_tell_is_one_that_was_asked_for() -> None:
    assert told_by_doubt(0.67, (0.661, 1.9))
    assert told_by_doubt(1.9, (0.661, 1.9))
    assert not told_by_doubt(1.0, (0.661, 1.9))
    assert not told_by_doubt(1.0, ())
