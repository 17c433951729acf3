"""What each way is expected to cost, what follows when it fails, and what the shop's own record changes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.defects import (
    Advice,
    Film,
    Option,
    Rating,
    Record,
    SeenDefect,
    Timing,
    advise,
    all_kinds,
    common_rework_figures,
    film_layer,
    find_kind,
    make_film,
    with_record,
)
from finishmatch.defects.options import (
    DECONTAMINATE,
    LEAVE,
    LEVEL,
    METAL_NAME,
    NAMES,
    POLISH,
    PRIMER,
    RECOAT,
    RUB,
    STRIP,
)

FIGURES = common_rework_figures()
CRATER, CHIP = find_kind("crater"), find_kind("stone chip")
SOLID = make_film([film_layer("primer", (62, 58, 60)), film_layer("colour", (98, 104, 101, 100))])
SAVING = {NAMES[key] for key in (LEAVE, POLISH, RUB, LEVEL)}


def way(advice: Advice, key: str) -> Option:
    return next(option for option in advice.options if option.key == key)


def film(primer: tuple[float, ...] = (62, 58, 60), colour: tuple[float, ...] = (98, 104, 101, 100)) -> Film:
    return make_film([film_layer("primer", primer), film_layer("colour", colour)])


@pytest.mark.slow
@settings(derandomize=True, max_examples=80, deadline=None)
@given(
    kind=st.sampled_from([kind for kind in all_kinds() if kind.form == "pit"]),
    depth=st.floats(0, 100),
    count=st.integers(1, 60),
    colour=st.lists(st.floats(30, 140), min_size=1, max_size=5).map(tuple),
    max_risk=st.floats(0, 1),
)
def test_a_rubbed_crater_that_reaches_primer_ends_in_recoating_never_in_polishing(
    kind, depth, count, colour, max_risk
) -> None:
    """«common practice»: what is rubbed through to the primer is painted again."""
    around = film(colour=colour)
    if depth > around.thickest_um:
        return
    advice = advise(SeenDefect(kind, count, 1.0, depth), around, max_risk=max_risk)
    for each in advice.options:
        for branch in each.chain:
            if "breaks through" in branch.what or "primer" in branch.what:
                assert branch.then not in SAVING
    reached = advise(SeenDefect(kind, count, 1.0, layer_reached="primer"), around, max_risk=max_risk)
    assert reached.chosen.name not in SAVING


def _played(advice: Advice, rng: np.random.Generator, plays: int) -> float:
    """Play the advised way through to its end, as often as wanted, and return the mean cost: no induction in it."""
    by_name = {option.name: option for option in advice.options}
    work = FIGURES.work["metal"]
    metal = work.hours * FIGURES.hour_cost + work.material + work.wait_days * FIGURES.day_cost
    contaminated = advice.seen.contamination
    holds = (FIGURES.success_contaminated if contaminated else FIGURES.success)["metal"]
    total = 0.0
    for _ in range(plays):
        name = advice.chosen.name
        while name:
            if name == METAL_NAME:
                total += metal
                name = "" if rng.random() < holds else METAL_NAME
                continue
            option = by_name[name]
            total += option.cost
            draw, name = rng.random() - option.chance_of_success, ""
            for branch in option.chain:
                if draw < 0:
                    break
                draw -= branch.chance
                name = branch.then
    return total / plays


@pytest.mark.parametrize(
    "seen",
    [
        SeenDefect(CRATER, 4, 1.5, 12),
        SeenDefect(CRATER, 4, 1.5, 60),
        SeenDefect(CHIP, 2, 2.0, 60),
        SeenDefect(find_kind("orange peel")),
        SeenDefect(CRATER, 14, 1.5, layer_reached="primer"),
    ],
    ids=lambda seen: f"{seen.kind.name} {seen.depth_um}",
)
def test_expected_costs_are_what_playing_it_out_costs(seen: SeenDefect) -> None:
    advice = advise(seen, SOLID)
    played = _played(advice, np.random.default_rng(4), 20_000)
    assert advice.chosen.expected_cost == pytest.approx(played, rel=0.02)


@pytest.mark.slow
@settings(derandomize=True, max_examples=60, deadline=None)
@given(kind=st.sampled_from(all_kinds()), depth=st.floats(0, 90), count=st.integers(1, 40))
def test_the_tree_adds_up_and_the_advice_costs_least(kind, depth: float, count: int) -> None:
    advice = advise(SeenDefect(kind, count, 1.0, depth), SOLID)
    worth = {option.name: option.expected_cost for option in advice.options}
    for each in advice.options:
        if each.forbidden:
            assert each.expected_cost is None
            continue
        assert each.chance_of_success + sum(branch.chance for branch in each.chain) == pytest.approx(1)
        assert each.expected_cost >= each.cost
        for branch in each.chain:
            if branch.then != METAL_NAME:
                assert branch.expected_cost == worth[branch.then]
    allowed = [option for option in advice.options if not option.ruled_out]
    assert advice.chosen.expected_cost == min(option.expected_cost for option in allowed)


def test_the_shops_record_moves_the_rates_as_a_beta_does() -> None:
    """Beta of mean 0.7 and weight 8 (level, contaminated); three of four: (5.6 + 3) / (8 + 4)."""
    told = [(NAMES[LEVEL], result, "cratering", ()) for result in ("right", "right", "failed", "right")]
    told += [(NAMES[LEVEL], "broke through", "cratering", ()), (NAMES[LEVEL], "right", "stone chip", ())]
    told += [("something of old", "right", "cratering", ()), (NAMES[LEVEL], "right", "no such kind", ())]
    figures = with_record(FIGURES, told)
    assert figures.record[(LEVEL, True)] == Record(3, 1, 1)
    assert figures.record[(LEVEL, False)] == Record(1, 0, 0)
    seen = SeenDefect(CRATER, 1, 1.0, 60)
    plain, learnt = way(advise(seen, SOLID), LEVEL), way(advise(seen, SOLID, figures), LEVEL)
    assert learnt.record == Record(3, 1, 1)
    assert plain.chance_of_success / 0.7 == pytest.approx(learnt.chance_of_success / (8.6 / 12))


def test_a_way_that_keeps_failing_in_this_shop_is_advised_no_more() -> None:
    seen = SeenDefect(CRATER, 1, 1.0, 60)
    assert advise(seen, SOLID).chosen.key == LEVEL
    failing = with_record(FIGURES, [(NAMES[LEVEL], "failed", "cratering", ("rim",))] * 12)
    advice = advise(seen, SOLID, failing)
    assert advice.chosen.key == RECOAT
    assert "expected to cost more" in advice.reason


def test_what_is_small_and_few_may_be_left_and_nothing_else() -> None:
    small = SeenDefect(find_kind("nib"), 1, 0.3)
    assert advise(small, SOLID).chosen.key == LEAVE
    assert "size class 4" in way(advise(replace(small, size_mm=1.5), SOLID), LEAVE).ruled_out
    assert "too many" in way(advise(replace(small, count=9), SOLID), LEAVE).ruled_out
    assert "nothing says" in way(advise(replace(small, count=None), SOLID), LEAVE).ruled_out
    assert "damp" in way(advise(SeenDefect(CHIP, 1, 0.3, layer_reached="primer"), SOLID), LEAVE).ruled_out
    assert "will spread" in way(advise(SeenDefect(find_kind("blister"), 1, 0.3), SOLID), LEAVE).ruled_out
    peel = SeenDefect(find_kind("orange peel"))
    assert "not rated" in way(advise(peel, SOLID), LEAVE).ruled_out
    assert "too plain" in way(advise(replace(peel, rating=Rating(3)), SOLID), LEAVE).ruled_out
    assert not way(advise(replace(peel, rating=Rating(1)), SOLID), LEAVE).ruled_out


def test_swirls_are_polished_and_orange_peel_is_not() -> None:
    assert advise(SeenDefect(find_kind("swirls")), SOLID).chosen.key == POLISH
    peel = advise(SeenDefect(find_kind("orange peel")), SOLID)
    assert peel.chosen.key == RUB
    assert "a polishing pad follows its waves" in way(peel, POLISH).ruled_out
    deep = advise(SeenDefect(CRATER, 1, 1.0, 30), SOLID)
    assert "deeper than the 6 µm that polishing takes" in way(deep, POLISH).ruled_out  # 2 × (2.75 + 0.5)
    thin = film(colour=(41, 42, 40))
    assert "breaking through" in way(advise(SeenDefect(find_kind("swirls")), thin), POLISH).ruled_out


def test_a_spot_is_stripped_where_it_is_clean_small_and_few() -> None:
    metal = SeenDefect(CHIP, 1, 2.0, layer_reached="metal")
    assert advise(metal, SOLID).chosen.key == STRIP
    assert advise(replace(metal, count=8), SOLID).chosen.key == PRIMER
    assert "too wide for a spot" in way(advise(replace(metal, size_mm=200.0), SOLID), STRIP).ruled_out
    assert "how wide" in way(advise(replace(metal, size_mm=None), SOLID), STRIP).ruled_out
    crater = advise(SeenDefect(CRATER, 1, 2.0, layer_reached="primer"), SOLID)
    assert "wider than what shows" in way(crater, STRIP).ruled_out


def test_the_cure_and_the_recoat_window_are_respected() -> None:
    """«common practice»; the days are those of the data sheet."""
    seen = SeenDefect(CRATER, 1, 1.0, 70)

    def at(age: float | None) -> Advice:
        return advise(seen, SOLID, timing=Timing(age, 7, 1))

    assert [way(at(age), RUB).wait_days for age in (None, 0.0, 3.0, 7.0, 30.0)] == [7, 7, 4, 0, 0]
    assert way(at(3.0), LEVEL).wait_days == 7  # four to cure, three for the fill
    assert way(at(30.0), PRIMER).wait_days == way(at(0.0), PRIMER).wait_days  # what comes off needs no cure
    assert any("let it cure 1 day more" in step for step in way(at(6.0), RECOAT).first)
    assert any("(1 day) is past" in step for step in way(at(3.0), RECOAT).first)
    assert any("let it cure 4 days more" in step for step in way(at(3.0), RECOAT).first)
    assert any("has not cured: paint now may lift it" in step for step in way(at(3.0), RECOAT).first)
    assert any("within its recoat window" in step for step in way(at(0.5), RECOAT).first)
    assert any("window is past: sand for a key" in step for step in way(at(30.0), RECOAT).first)
    assert any("as its data sheet says" in step for step in way(at(None), RECOAT).first)
    assert way(at(0.0), RECOAT).expected_cost > way(at(30.0), RECOAT).expected_cost


def test_contamination_goes_before_any_fresh_paint_in_every_way_that_paints() -> None:
    """«common practice»."""
    for kind in all_kinds():
        advice = advise(SeenDefect(kind, 1, 1.0, 20, rim=kind.form == "pit"), SOLID)
        for each in advice.options:
            if each.key in (LEVEL, RECOAT, STRIP, PRIMER) and advice.seen.contamination:
                assert each.first[0] == DECONTAMINATE


def test_spots_cost_time_and_hours_cost_money() -> None:
    one, ten = (way(advise(SeenDefect(CRATER, n, 1.0, 60), SOLID), LEVEL) for n in (1, 10))
    assert ten.hours - one.hours == pytest.approx(9 * 12 / 60)
    assert one.cost == pytest.approx(one.hours * 60 + one.material + one.wait_days * 25)
    peel = way(advise(SeenDefect(find_kind("orange peel"), at_mm=(200, 200), over_mm=(400, 300)), SOLID), RUB)
    assert peel.hours == pytest.approx(2 + 5 / 60)  # 133 patches, cut in one go
    dear = replace(FIGURES, hour_cost=120.0)
    assert way(advise(SeenDefect(CRATER, 1, 1.0, 60), SOLID, dear), LEVEL).cost > one.cost
