"""What a rule set says of paints, by hand and word for word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from finishmatch.errors import InputError
from finishmatch.finish.law import (
    borne_by,
    judge,
    limits_used,
    rule_named,
    voc_less_water,
    voc_of_mixture,
    ways_open,
)
from finishmatch.finish.metals import MetalRuling, common_metal_rules, metal_rulings
from finishmatch.readings.product_sheet import Component, Product
from finishmatch.readings.rules_file import Demand, JudgedAs, MetalRule, RuleSet

RULES = RuleSet(
    "own",
    "Own rules",
    "the district",
    "2020",
    "seen 2021",
    {"basecoat": 420.0, "single-stage": 340.0, "clear": 250.0},
    {},
)


def test_water_and_exempt_compounds_come_off_both() -> None:
    assert voc_less_water(700, 100, 50, 1.0, 0.1, 0.05) == pytest.approx(550 / 0.85)
    assert voc_less_water(100, 100, 0, 1.0, 0.1, 0.0) == 0.0
    for given, told in (
        ((100, 0, 0, 1.0, 0.6, 0.4), "VOC: water and exempt compounds fill the whole volume; check the figures"),
        ((100, 60, 41, 1.0, 0.1, 0.1), "VOC: water and exempt compounds weigh more than all that evaporates; check the "
         "figures"),
    ):  # fmt: skip
        with pytest.raises(InputError) as caught:
            voc_less_water(*given)
        assert str(caught.value) == told


def test_a_mixtures_voc_is_that_of_its_parts_by_volume() -> None:
    """Two to one: (2·300 + 600) / 3; with 100 g/L of exempt solvent of 0.8 kg/L in the thinner, and without it."""
    paint, thinner = Component("paint", 2.0, voc_g_l=300.0), Component("thinner", 1.0, voc_g_l=600.0)
    assert voc_of_mixture((paint, thinner), "volume", "x") == pytest.approx(400.0)
    exempt = replace(thinner, exempt_g_l=120.0, exempt_density_kg_l=0.8)
    assert voc_of_mixture((paint, exempt), "volume", "x") == pytest.approx(400 / (1 - 0.05))
    assert voc_of_mixture((paint, exempt), "volume", "x", less_exempt=False) == pytest.approx(440.0)
    unknown = replace(exempt, exempt_density_kg_l=None)
    assert voc_of_mixture((paint, unknown), "volume", "x") == pytest.approx(400 / (1 - 0.04))
    water = replace(thinner, water_g_l=299.4)
    assert voc_of_mixture((paint, water), "volume", "x") == pytest.approx(400 / 0.9)
    mend = '; add voc = "420 g/l" as applied, or to each component'
    for components, told in (
        ((), f"x: its VOC isn't known{mend}"),
        ((paint, replace(thinner, voc_g_l=None)), f"x: the VOC of its component thinner isn't known{mend}"),
    ):
        with pytest.raises(InputError) as caught:
            voc_of_mixture(components, "volume", "x")
        assert str(caught.value) == told


def test_a_paint_over_its_limit_is_told_with_its_rule() -> None:
    over = Product("Blue", "basecoat", voc_g_l=500.0)
    (ruling,) = judge([over], RULES)
    assert (ruling.what, ruling.kind, ruling.voc_g_l, ruling.limit_g_l) == ("Blue", "basecoat", 500.0, 420.0)
    assert ruling.why == ("500 g/L is over the limit of 420 g/L",)
    assert ruling.rule == rule_named(RULES) == "Own rules (the district, 2020; seen 2021)"
    assert rule_named(replace(RULES, checked="")) == "Own rules (the district, 2020)"
    with pytest.raises(InputError) as caught:
        judge([Product("Grey", "primer", voc_g_l=100.0)], RULES)
    assert str(caught.value) == (
        'rule set own: has no limit for a primer (Grey); add "primer" = "… g/l" to [limits] of your own set, '
        "after asking "
        "your district"
    )
    other = replace(RULES, limits_g_l={**RULES.limits_g_l, "other": 250.0})
    (grey,) = judge([Product("Grey", "primer", voc_g_l=100.0)], other)
    assert (grey.kind, grey.limit_g_l) == ("primer: other", 250.0)
    for kind in ("preparatory", "precleaner"):
        with pytest.raises(InputError, match=f"has no limit for a {kind}"):
            judge([Product("Wipe", kind, voc_g_l=100.0)], other)
    as_special = replace(RULES, judged=(JudgedAs("single-stage", ("metallic",), "clear"),))
    assert limits_used([Product("a", "single-stage"), Product("b", "single-stage", effect="metallic")], as_special) == (
        "single-stage", "clear",
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        judge([Product("Duo", "multi-coloured", voc_g_l=100.0)], RULES)
    assert str(caught.value) == (
        "Duo: multi-coloured is speckle paint: several colours from one container in one pass; a two-tone is a "
        "single-stage or a basecoat for each colour; if it is speckle paint, give `speckle`"
    )


def test_stages_are_judged_together() -> None:
    rules = replace(RULES, stages_g_l={"two": 500.0, "three": 520.0})
    base, clear = Product("Base", "basecoat", voc_g_l=600.0), Product("Clear", "clear", voc_g_l=420.0)
    mid, single = Product("Mid", "mid-coat", voc_g_l=580.0), Product("One", "single-stage", voc_g_l=340.0)
    two, alone = judge([base, clear, single], rules)
    assert (two.what, two.kind, two.limit_g_l, two.allowed) == ("Base + Clear", "two-stage topcoat", 500.0, True)
    assert two.voc_g_l == pytest.approx(480.0)
    assert alone.kind == "single-stage"
    (three,) = judge([base, mid, clear], rules)
    assert (three.kind, three.limit_g_l) == ("topcoat of three or more stages", 520.0)
    assert three.voc_g_l == pytest.approx((600 + 580 + 840) / 4)
    told = "rule set own: judges a basecoat together with its clear, and of a {}; give one basecoat and one clear"
    for products, found in (([base], "clear none is given"), ([clear], "basecoat none is given"),
                            ([base, base, clear], "basecoat 2 are given")):  # fmt: skip
        with pytest.raises(InputError) as caught:
            judge(products, rules)
        assert str(caught.value) == told.format(found)


def test_what_must_be_borne_by_water_is_told_and_which_ways_are_open() -> None:
    rules = replace(
        RULES,
        demands=(Demand("basecoat", "water", ("metallic",), "metallics"), Demand("clear", "water", ("solid",), "")),
    )
    base = Product("Blue", "basecoat", effect="metallic", voc_g_l=400.0)
    (ruling,) = judge([base], rules)
    assert ruling.why == ("a metallic basecoat must be water-borne here: metallics",)
    (clear,) = judge([Product("Clear", "clear", voc_g_l=200.0)], rules)
    assert clear.why == ("a solid clear must be water-borne here",)
    assert judge([replace(base, carrier="water")], rules)[0].allowed
    assert judge([replace(base, effect="solid")], rules)[0].allowed
    assert (borne_by(None), borne_by("water")) == ("", "water-borne ")
    assert ways_open([ruling], rules) == ("a single-stage up to 340 g/L",)
    assert ways_open([clear], rules) == ()
    assert ways_open([replace(ruling, allowed=True)], rules) == ()
    staged = replace(rules, stages_g_l={"two": 500.0, "three": 520.0})
    single = replace(ruling, kind="single-stage")
    assert ways_open([single], staged) == (
        "a water-borne basecoat up to 420 g/L",
        "a basecoat and clear up to 500 g/L together",
    )
    assert ways_open([ruling], staged) == ("a single-stage up to 340 g/L",)
    assert ways_open([replace(ruling, kind="two-stage topcoat")], staged) == (
        "a single-stage up to 340 g/L", "a water-borne basecoat up to 420 g/L",
    )  # fmt: skip


def test_a_metal_rule_bears_on_what_holds_any_or_all_of_its_metals() -> None:
    lead = MetalRule(("lead", "cadmium"), (), "not to be sold", "a law", True)
    both = MetalRule((), ("lead", "cadmium"), "wear a mask", "another", False)
    found = metal_rulings([("red", ("lead",)), ("yellow", ("cadmium", "lead")), ("blue", ())], (lead, both))
    assert found == (
        MetalRuling(("red", "yellow"), ("lead", "cadmium"), True, "not to be sold", "a law"),
        MetalRuling(("yellow",), ("lead", "cadmium"), False, "wear a mask", "another"),
    )
    assert found[0].in_words == "red, yellow hold lead, cadmium: not to be sold (a law)"
    assert found[1].in_words == "yellow holds lead, cadmium: wear a mask (another)"
    assert metal_rulings([("blue", ())], (lead, both)) == ()
    banned = [rule.banned for rule in common_metal_rules()]
    assert banned == sorted(banned, reverse=True)
    assert len(common_metal_rules()) == len(set(common_metal_rules()))
