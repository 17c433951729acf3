"""What photographs in several lights tell of a difference in each: how wide that is, and by how many photographs."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import Floats, de00_metric, reflectance_to_lab
from finishmatch.photo import in_all_lights as module
from finishmatch.photo.across_lights import Look, seen_together
from finishmatch.photo.correct.difference_doubt import within_95
from finishmatch.photo.in_all_lights import in_all_lights
from finishmatch.readings.reading import SeenDifference
from tests.photo.test_across_lights import DAY, LAMP, look, unlike_pairs

CALLED = ("standard", "card")


def reading(pair: Floats, one: Look) -> Any:
    """A photograph that shows the two, and of which a look is all that counts here."""
    labs = zip(CALLED, reflectance_to_lab(pair, one.light), strict=True)
    return SimpleNamespace(look=one, regions=tuple(SimpleNamespace(name=name, lab=lab) for name, lab in labs))


def seen_in(pair: Floats, times: int, monkeypatch: pytest.MonkeyPatch) -> dict[str, SeenDifference]:
    monkeypatch.setattr(module, "look_of", lambda reading, _: reading.look)
    looks = {light: [look(pair, light, seed=seed) for seed in range(times)] for light in (DAY, LAMP)}
    alone = [SeenDifference(np.zeros(3), 0.6, light, 10, pictures=times) for light in looks]
    seen, notes = in_all_lights(alone, [[reading(pair, one) for one in group] for group in looks.values()], CALLED)
    assert notes == ()
    return {one.light: one for one in seen}


def test_in_the_light_of_a_lamp_it_is_stated_half_as_wide_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """As measured on rendered pictures (benchmarks/test_two_lights.py); in daylight it is what the looks tell."""
    pair = unlike_pairs("one")[0]
    found = seen_in(pair, 1, monkeypatch)
    told = seen_together([look(pair, DAY), look(pair, LAMP)], reflectance_to_lab(pair, DAY).mean(axis=0), 10)
    assert told is not None
    for light, wider in ((DAY, 1.0), (LAMP, 1.5)):
        metric = de00_metric(reflectance_to_lab(pair, light).mean(axis=0))
        assert found[light].covariance == pytest.approx(wider**2 * told.covariance[light])
        assert found[light].u95 == pytest.approx(wider * within_95(told.covariance[light], metric))
        assert found[light].alike_u95 == pytest.approx(wider * within_95(told.alike[light], metric))


def test_what_four_times_as_many_photographs_would_tell_is_what_they_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    pair = unlike_pairs("one")[2]
    one, four = (seen_in(pair, times, monkeypatch) for times in (1, 4))
    for light in (DAY, LAMP):
        assert one[light].u95_more is not None
        assert one[light].u95_more == pytest.approx(four[light].u95, rel=0.1)  # the same but for their noise
        assert one[light].u95_more < 1.02 * one[light].u95
