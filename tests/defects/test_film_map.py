"""The film over a panel: at every place the chance that advice gives there, and a safe depth that keeps its promise."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.defects import SeenDefect, advise, common_rework_figures, film_layer, film_map, find_kind, make_film

PLACES = [(200.0, 200.0), (1000.0, 200.0), (600.0, 600.0), (200.0, 900.0), (1000.0, 900.0)]
BUILDS = [98.0, 70.0, 85.0, 95.0, 66.0]
FIGURES = common_rework_figures()
FILM = make_film([film_layer("primer", [62, 58, 60, 61, 59], PLACES), film_layer("colour", BUILDS, PLACES)])


@pytest.mark.parametrize("at", [(200.0, 200.0), (1000.0, 900.0), (500.0, 500.0)])
def test_the_chance_at_a_place_is_the_one_that_advice_gives_for_a_pit_there(at: tuple[float, float]) -> None:
    found = film_map(FILM, FIGURES, np.array([at]), 12.0)
    advice = advise(SeenDefect(kind=find_kind("crater"), count=1, depth_um=12.0, at_mm=at), FILM)
    assert found.chance[0] == pytest.approx(advice.breakthrough, abs=1e-9)


def test_a_pit_as_deep_as_is_safe_is_at_the_accepted_chance_and_a_deeper_one_above_it() -> None:
    places = np.array([(200.0, 200.0), (400.0, 400.0)])
    safe = film_map(FILM, FIGURES, places).safe_um
    for i, depth in enumerate(safe):
        assert depth > 0
        assert film_map(FILM, FIGURES, places, float(depth)).chance[i] == pytest.approx(0.05, abs=1e-3)
        assert film_map(FILM, FIGURES, places, float(depth) + 3).chance[i] > 0.05


def test_the_map_follows_the_readings_and_is_surer_near_them() -> None:
    found = film_map(FILM, FIGURES, np.array([PLACES[0], PLACES[4], (3000.0, 3000.0)]))
    assert found.build_um[0] > found.build_um[1]
    assert found.safe_um[0] > found.safe_um[1]
    width = found.high_um - found.low_um
    assert width[2] > width[0]
    assert (found.low_um < found.build_um).all()
    assert (found.build_um < found.high_um).all()


def test_without_places_the_panel_is_alike_all_over() -> None:
    film = make_film([film_layer("primer", [60.0]), film_layer("colour", BUILDS)])
    found = film_map(film, FIGURES, np.array(PLACES), 10.0)
    assert found.build_um == pytest.approx([np.mean(BUILDS)] * 5)
    assert len(set(found.chance)) == 1


def test_what_must_stay_and_the_risk_that_is_taken_count() -> None:
    at = np.array([PLACES[0]])
    usual, less = film_map(FILM, FIGURES, at), film_map(FILM, FIGURES, at, keep_um=10.0)
    bold = film_map(FILM, FIGURES, at, max_risk=0.3)
    assert less.safe_um[0] > usual.safe_um[0]
    assert bold.safe_um[0] > usual.safe_um[0]
    assert film_map(FILM, FIGURES, at, max_risk=0.0).safe_um[0] == 0
