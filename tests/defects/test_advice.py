"""What is advised about a defect: the rules of the trade, the thresholds, and what can't be judged."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.defects import (
    Advice,
    Film,
    SeenDefect,
    advise,
    all_kinds,
    common_rework_figures,
    film_layer,
    find_kind,
    find_option,
    layer_role,
    make_film,
    reached_layer,
)
from finishmatch.defects.options import (
    DECONTAMINATE,
    LEAVE,
    LEVEL,
    NAMES,
    POLISH,
    PRIMER,
    RECOAT,
    RUB,
    STRIP,
    percent,
)
from finishmatch.errors import InputError

FIGURES = common_rework_figures()
CRATER = find_kind("crater")


def film(**layers: tuple[float, ...]) -> Film:
    return make_film([film_layer(name.replace("_", " "), builds) for name, builds in layers.items()])


SOLID = film(primer=(62, 58, 60), colour=(98, 104, 101, 100))  # a colour that is its own topcoat
CLEARED = film(primer=(62, 58, 60), basecoat=(20, 22, 19), clear=(118, 124, 121, 120))


def crater(**seen: object) -> SeenDefect:
    return replace(SeenDefect(CRATER, count=1, size_mm=1.5), **seen)


def option(advice: Advice, key: str):
    return next(option for option in advice.options if option.key == key)


def test_a_shallow_crater_in_a_full_film_is_rubbed_out() -> None:
    advice = advise(crater(depth_um=12), SOLID)
    assert advice.chosen.key == RUB
    assert advice.mendable
    assert advice.breakthrough <= 0.05


def test_a_crater_too_deep_to_rub_but_not_open_to_the_primer_is_levelled() -> None:
    advice = advise(crater(depth_um=70), SOLID)
    assert advice.chosen.key == LEVEL
    assert advice.mendable
    assert advice.breakthrough > 0.5
    assert "breaking through" in option(advice, RUB).ruled_out


@pytest.mark.parametrize("where", ["primer", "metal", "steel", "substrate"])
@pytest.mark.parametrize("on", [SOLID, CLEARED])
@pytest.mark.parametrize("kind", [kind for kind in all_kinds() if kind.form == "pit"], ids=lambda kind: kind.name)
def test_a_pit_open_to_primer_or_metal_is_never_polished(where: str, on: Film, kind) -> None:
    """«common practice»: rubbing out can't mend it, whatever risk the painter would take."""
    for max_risk in (0.05, 1.0):
        advice = advise(SeenDefect(kind, 1, 0.5, layer_reached=where), on, keep_um=0, max_risk=max_risk)
        assert "polish" not in advice.chosen.name
        assert not advice.mendable
        assert advice.breakthrough == 1.0
        assert option(advice, RUB).ruled_out
        assert option(advice, RUB).chance_of_success == 0.0


@pytest.mark.parametrize("depth_um", [101, 110, 150])
def test_a_depth_that_reaches_the_primer_is_taken_as_open_to_it(depth_um: float) -> None:
    advice = advise(crater(depth_um=depth_um), SOLID, max_risk=1.0)
    assert advice.chosen.key == PRIMER
    assert "primer" in option(advice, RUB).ruled_out


def test_silicone_on_the_primer_takes_the_panel_back_to_primer_and_a_chip_less_far() -> None:
    """«common practice»: contamination lies where the bare middle is, and the next coat would crater again."""
    assert advise(crater(layer_reached="primer"), SOLID).chosen.key == PRIMER
    assert advise(SeenDefect(find_kind("stone chip"), 1, 1.0, layer_reached="primer"), SOLID).chosen.key == RECOAT
    assert advise(SeenDefect(find_kind("stone chip"), 1, 1.0, layer_reached="metal"), SOLID).chosen.key == STRIP
    assert advise(SeenDefect(find_kind("stone chip"), 9, 1.0, layer_reached="metal"), SOLID).chosen.key == PRIMER
    rimmed = SeenDefect(find_kind("pinhole"), 1, 1.0, layer_reached="primer", rim=True)
    assert advise(rimmed, SOLID).chosen.key == PRIMER


@pytest.mark.slow
@settings(derandomize=True, max_examples=60, deadline=None)
@given(data=st.data())
def test_contamination_is_removed_before_any_paint_goes_on(data: st.DataObject) -> None:
    """«common practice»."""
    kind = data.draw(st.sampled_from([kind for kind in all_kinds() if kind.contamination]))
    advice = advise(SeenDefect(kind, depth_um=data.draw(st.floats(0, 150))), SOLID)
    for each in advice.options:
        if each.key not in (LEAVE, POLISH, RUB):
            assert each.first[0] == DECONTAMINATE
    clean = advise(SeenDefect(find_kind("stone chip"), depth_um=20), SOLID)
    assert not any(DECONTAMINATE in each.first for each in clean.options)


def test_the_finish_is_judged_after_it_is_cut_and_polished() -> None:
    """«common practice»."""
    assert "cut and polished, not as sprayed" in advise(crater(depth_um=12), SOLID).then


def test_a_contaminated_pit_that_may_be_open_to_the_primer_is_not_recoated() -> None:
    doubtful = advise(crater(depth_um=90), SOLID)
    assert doubtful.chosen.key == PRIMER
    assert "on the primer itself" in option(doubtful, RECOAT).ruled_out
    assert advise(SeenDefect(find_kind("stone chip"), 1, 1.0, 90), SOLID).chosen.key == RECOAT


def test_clear_over_a_basecoat_is_judged_by_the_clear_alone() -> None:
    advice = advise(crater(depth_um=30), CLEARED)
    rub = option(advice, RUB)
    assert rub.left.of == "clear"
    assert rub.left.mean_um == pytest.approx(120.75 - 30 - 11.75)  # P1500, P2000, compound, polish, and the rim
    assert "50 µm must stay" in rub.why
    bare_base = advise(crater(layer_reached="basecoat"), CLEARED)
    assert bare_base.breakthrough == 1.0
    assert bare_base.chosen.key == LEVEL
    assert any("touch the colour in" in step for step in bare_base.chosen.first)


def test_the_figures_of_the_shop_decide() -> None:
    seen = crater(depth_um=45)
    assert advise(seen, SOLID).chosen.key == LEVEL
    assert advise(seen, SOLID, keep_um=10).chosen.key == RUB
    assert advise(seen, SOLID, max_risk=0.6).chosen.key == RUB
    slow = replace(FIGURES.steps["P1500"], mean_um=60.0)
    careful = replace(FIGURES, steps={**FIGURES.steps, "P1500": slow})
    assert advise(crater(depth_um=12), SOLID, figures=careful).chosen.key == RECOAT


def test_many_or_wide_pits_are_not_filled_one_by_one() -> None:
    assert "too many" in option(advise(crater(depth_um=70, count=26), SOLID), LEVEL).ruled_out
    assert "shows" in option(advise(crater(depth_um=70, size_mm=3.5), SOLID), LEVEL).ruled_out
    assert advise(crater(depth_um=70, count=26), SOLID).chosen.key == RECOAT


def test_the_risk_that_counts_is_that_of_all_the_spots() -> None:
    one, many = advise(crater(depth_um=38), SOLID), advise(crater(depth_um=38, count=20), SOLID)
    assert one.breakthrough == many.breakthrough
    assert one.chosen.key == RUB
    assert many.breakthrough < many.anywhere < 1 - (1 - many.breakthrough) ** 20  # spots of one panel are alike
    assert many.chosen.key == LEVEL


@pytest.mark.parametrize(
    ("name", "thinkable"),
    [
        ("run", (RUB, RECOAT, PRIMER)),
        ("orange peel", (RUB, RECOAT, PRIMER)),
        ("off-colour", (RECOAT, PRIMER)),
        ("lifting", (PRIMER,)),
    ],
)
def test_what_is_no_hole_is_not_filled_and_what_lies_in_the_colour_is_not_polished(
    name: str, thinkable: tuple[str, ...]
) -> None:
    advice = advise(SeenDefect(find_kind(name), 1), SOLID)
    assert advice.chosen.key == thinkable[0]
    assert {each.key for each in advice.options if not each.ruled_out} == set(thinkable)
    assert advice.mendable == (thinkable[0] == RUB)


@pytest.mark.slow
@settings(derandomize=True, max_examples=80, deadline=None)
@given(
    depth=st.floats(0, 100),
    pm=st.none() | st.floats(0, 30),
    count=st.none() | st.integers(1, 500),
    colour=st.lists(st.floats(20, 200), min_size=1, max_size=5).map(tuple),
    kind=st.sampled_from(all_kinds()),
)
def test_every_advice_is_whole_and_its_chosen_option_is_allowed(depth, pm, count, colour, kind) -> None:
    seen, around = SeenDefect(kind, count, 1.0, depth, pm), film(primer=(60, 58), colour=colour)
    if depth > around.thickest_um:
        with pytest.raises(InputError, match="beyond the film"):
            advise(seen, around)
        return
    advice = advise(seen, around)
    assert {each.key for each in advice.options} == set(NAMES)
    assert advice.options[0] is advice.chosen
    assert not advice.chosen.ruled_out
    assert advice.reason
    for each in advice.options:
        assert 0 <= each.breakthrough <= each.anywhere <= 1
        assert 0 <= each.chance_of_success <= 1
        assert 0 <= each.left.low_um <= each.left.high_um < math.inf
        assert each.why
        assert each.first
        assert each.if_it_fails
    if advice.chosen.key in (RUB, LEVEL, RECOAT):
        assert advice.chosen.anywhere <= 0.05  # «common practice»


def test_readings_that_tell_too_little_are_named() -> None:
    thin = film(primer=(60,), colour=(98, 104), clear=(50, 50, 50))
    advice = advise(crater(depth_um=5, count=None), thin)
    told = " | ".join(advice.warnings)
    assert "primer: one reading says nothing about the spread; 10 % of the build and 1.5 µm" in told
    assert "colour: 2 readings say little" in told
    assert "clear: 3 readings all the same" in told
    assert "not counted" in told
    assert "no ± is known" in told
    assert advice.readings_needed == ("primer", "colour")
    assert not advise(crater(depth_um=20, pm_um=4), SOLID).warnings


def test_a_film_without_primer_readings_or_already_too_thin_is_told() -> None:
    advice = advise(crater(depth_um=5), film(colour=(30, 33, 31)))
    assert any("no primer was read" in warning for warning in advice.warnings)
    assert any("already under the 40 µm" in warning for warning in advice.warnings)
    slip = advise(crater(depth_um=5), film(primer=(60, 61, 62), colour=(62, 5, 58)))
    assert any("decimal comma" in warning for warning in slip.warnings)


@pytest.mark.parametrize(
    ("seen", "part"),
    [
        (crater(depth_um=400), "beyond the film, which is 161 µm deep"),
        (crater(depth_um=-1), "at least 0"),
        (crater(depth_um=math.nan), "not a length"),
        (crater(depth_um=math.inf), "not a length"),
        (crater(depth_um=10, pm_um=-1), "at least 0"),
        (crater(depth_um=10, layer_reached="primer"), "both a depth and a layer"),
        (crater(layer_reached="primer", pm_um=3), "no depth it belongs to"),
        (crater(depth_um=10, count=0), "at least 1"),
        (crater(depth_um=10, count=10**9), "more than anyone can count"),
        (crater(depth_um=10, size_mm=0), "above 0"),
        (crater(depth_um=10, size_mm=-2), "above 0"),
        (crater(), "how deep"),
        (crater(layer_reached="clear"), "no such layer; it has primer, colour"),
        (crater(layer_reached="butter"), "no such layer"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(seen: SeenDefect, part: str) -> None:
    with pytest.raises(InputError, match=part) as caught:
        advise(seen, SOLID)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize("keep", [-1, math.nan, math.inf])
def test_a_film_to_keep_that_cannot_be_is_refused(keep: float) -> None:
    with pytest.raises(InputError, match="film to keep"):
        advise(crater(depth_um=10), SOLID, keep_um=keep)


@pytest.mark.parametrize("risk", [-0.1, 1.5, math.nan])
def test_a_risk_that_cannot_be_is_refused(risk: float) -> None:
    with pytest.raises(InputError, match="between 0 and 1"):
        advise(crater(depth_um=10), SOLID, max_risk=risk)


@pytest.mark.parametrize(
    ("builds", "part"),
    [((), "no build readings"), ((0,), "above 0"), ((-3,), "above 0"), ((0.06,), "in mm"), ((1e6,), "too thick")],
)
def test_readings_that_cannot_be_are_refused(builds: tuple[float, ...], part: str) -> None:
    with pytest.raises(InputError, match=part):
        film_layer("colour", builds)
    with pytest.raises(InputError, match="not a build"):
        film_layer("colour", (math.nan,))


@pytest.mark.parametrize(
    ("layers", "part"),
    [
        ([], "no build readings"),
        ([("colour", (50,)), ("primer", (60,))], "from the metal up"),
        ([("colour", (50,)), ("Colour", (60,))], "twice"),
    ],
)
def test_films_that_cannot_be_are_refused(layers: list[tuple[str, tuple[float, ...]]], part: str) -> None:
    with pytest.raises(InputError, match=part):
        make_film([film_layer(name, builds) for name, builds in layers])


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("etch primer", "primer"),
        ("Surfacer", "primer"),
        ("sealer", "primer"),
        ("base-coat", "colour"),
        ("Single-stage colour", "colour"),
        ("cellulose", "colour"),
        ("clearcoat", "clear"),
    ],
)
def test_a_layers_name_tells_its_role(name: str, role: str) -> None:
    assert layer_role(name) == role


def test_a_role_stands_for_its_uppermost_layer() -> None:
    deep = film(etch_primer=(10,), surfacer=(60,), colour_1=(30,), colour_2=(30,))
    assert reached_layer(deep, "primer") == 1
    assert reached_layer(deep, "etch-primer") == 0
    assert reached_layer(deep, "colour") == 3
    assert reached_layer(deep, "bare metal") == -1
    assert [layer.name for layer in deep.topcoat] == ["colour 1", "colour 2"]
    with pytest.raises(InputError, match="no such layer"):
        reached_layer(deep, "sealer")


@pytest.mark.parametrize(
    ("typed", "key"),
    [("rub", RUB), ("Level", LEVEL), ("recoat", RECOAT), ("back to primer", PRIMER), (NAMES[RUB], RUB)],
)
def test_an_option_is_known_by_a_telling_part_of_its_name(typed: str, key: str) -> None:
    assert find_option(typed) == NAMES[key]


@pytest.mark.parametrize("typed", ["", "polish", "burn"])
def test_an_option_that_is_none_or_several_is_refused(typed: str) -> None:
    with pytest.raises(InputError, match="choose one of"):
        find_option(typed)


def test_a_chance_is_never_told_surer_than_it_is() -> None:
    assert percent(0.0) == "under 0.1 %"
    assert percent(1.0) == "over 99.9 %"
    assert (percent(0.034), percent(0.27), percent(0.98)) == ("3.4 %", "27 %", "98.0 %")
