"""What speaks for an exchange of card and standard is a number, however well target and photograph are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.banks import shelf
from finishmatch.colour import reflectance_to_lab
from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.other_way_round import PairSeen, exchange_seen
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.readings.reading import SeenDifference

TINTS, OPTICS = shelf(61, 9)
PARTS = ((TINTS[0].name, 300.0), (TINTS[4].name, 30.0))


@pytest.mark.parametrize("known", [[1e-3, 1.0, 1.0], [1.0, 1.0, 1e-4], [0.05, 0.05, 0.05], [2.0, 2.0, 2.0]])
@pytest.mark.parametrize("shared", [0.0, 1.0, 2.4, 2.7])
def test_it_is_a_number_also_where_a_target_is_known_better_than_what_it_shares(
    known: list[float], shared: float
) -> None:
    grams = np.zeros(9)
    grams[[0, 4]] = [300, 30]
    card = reflectance_to_lab(predicted_reflectance(replace(OPTICS, draws=None), grams))
    delta = np.array([1.5, -0.5, 0.8])
    standard, covariance = card - delta, np.diag(known)
    seen = SeenDifference(delta, 0.5, "D65", 10, 0.03 * np.eye(3), 1, standard=standard, standard_covariance=covariance)
    reading = Reading("card", card[None], seen=(seen,))
    sprayed = SprayedCard(reading, OPTICS, TINTS, Scale(), None)
    right, wrong = (
        exchange_seen(sprayed, PARTS, [PairSeen(one, other, 2.7, shared)])
        for one, other in ((standard, card), (card, standard))
    )
    assert right is not None
    assert wrong is not None
    assert np.isfinite([right.log_odds, wrong.log_odds]).all()
    assert right.log_odds < wrong.log_odds
