"""Solvent as applied, and what a rule set says of it: sums by hand, and the case that sends a shop to single-stage."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.finish.law import (
    judge,
    voc_as_applied,
    voc_less_water,
    voc_multi_stage,
    voc_of_mixture,
    ways_open,
)
from finishmatch.finish.metals import metal_rulings
from finishmatch.finish.spraying_figures import common_rules
from finishmatch.readings.product_sheet import Component, Product, read_product
from finishmatch.readings.rules_file import parse_rules, read_rules
from tests.conftest import ROOT

SHEETS = ROOT / "swatches/plan"
BASECOAT, CLEAR, SINGLE = (read_product(SHEETS / f"{name}.toml") for name in ("basecoat", "clear", "single-stage"))
OWN = """\
title = "Lowmere district"
source = "invented"
date = 2024-01-01
[limits]
basecoat = "450 g/l"
clear = "3.5 lb/gal"
single-stage = "450 g/l"
[[demand]]
kind = "basecoat"
effects = ["metallic", "pearl"]
carrier = "water"
why = "metallics in two stages"
"""


def test_solvent_without_water_is_weight_over_volume() -> None:
    """40 CFR 59.104, by hand: 500 g that evaporate in a litre."""
    assert voc_less_water(500, 0, 0, 1, 0, 0) == pytest.approx(500)


def test_water_and_exempt_compounds_leave_weight_and_volume() -> None:
    """By hand: 650 g evaporate, 400 g of it water (0.4008 L), 50 g exempt (0.05 L): 200 g in 0.5492 L."""
    assert voc_less_water(650, 400, 50, 1, 0.4008, 0.05) == pytest.approx(200 / 0.5492)


def test_us_gallons_give_the_same_as_litres() -> None:
    """The formula knows no unit: 4.2 lb in a gallon of which 0.2 gal is exempt is 5.25 lb/gal."""
    assert voc_less_water(4.2 + 1.5, 0, 1.5, 1, 0, 0.2) == pytest.approx(5.25)


@pytest.mark.parametrize(
    ("base", "mid", "clear", "voc"),
    [(700, [], 400, (700 + 800) / 3), (600, [300], 420, (600 + 300 + 840) / 4), (600, [300, 500], 420, 2240 / 5)],
)
def test_stages_are_averaged_with_two_coats_of_clear(base: float, mid: list[float], clear: float, voc: float) -> None:
    """40 CFR 59.104: (base + Σ mid + 2 × clear) / (mid coats + 3), by hand."""
    assert voc_multi_stage(base, mid, clear) == pytest.approx(voc)


def test_a_mixture_is_counted_from_its_components() -> None:
    """By hand, the bundled single-stage 4:1:1: 1760 g in 6 L less 980 g exempt at 1.34 kg/L."""
    assert voc_as_applied(SINGLE) == pytest.approx((4 * 310 + 300 + 220) / (6 - 0.980 / 1.34))


def test_a_rule_that_knows_no_exempt_compound_counts_them() -> None:
    """By hand, the bundled single-stage: 1760 g of solvent and 980 g that is exempt elsewhere, in 6 L."""
    (ruling,) = judge([SINGLE], common_rules()["europe"])
    assert ruling.voc_g_l == pytest.approx((1760 + 980) / 6)
    assert not ruling.allowed


def test_a_mixture_with_water_is_counted_without_it() -> None:
    """By hand: 100 g solvent, 499 g water (0.5 L) in a litre: 100 / 0.5."""
    water = Component("paint", 1, 1.1, 0.3, 100, 499)
    assert voc_of_mixture([water], "volume", "x") == pytest.approx(200)


def test_a_usual_solvent_basecoat_fails_where_a_high_solids_single_stage_passes() -> None:
    """A basecoat thinned 2:1 comes to (2 × 620 + 870) / 3 = 703 g/L; 420 is allowed, and 340 of a single-stage."""
    district = common_rules()["district"]
    base, clear, single = judge([BASECOAT, CLEAR, SINGLE], district)
    assert (base.allowed, single.allowed) == (False, True)
    assert base.voc_g_l == pytest.approx(2110 / 3)
    assert single.voc_g_l < 340 == single.limit_g_l
    assert not clear.allowed
    assert "703 g/L is over the limit of 420 g/L" in base.why
    assert "air-district rules" in base.rule
    assert "enter your own" in base.rule
    assert "a single-stage up to 340 g/L" in ways_open([base, clear], district)


def test_the_same_basecoat_passes_the_federal_rule_together_with_its_clear() -> None:
    """(703.3 + 2 × 420) / 3 = 514.4, and 600 is allowed for two stages."""
    (both,) = judge([BASECOAT, CLEAR], common_rules()["federal"])
    assert both.allowed
    assert both.kind == "two-stage topcoat"
    assert both.voc_g_l == pytest.approx((2110 / 3 + 840) / 3)


def test_a_rule_can_demand_water_for_metallics_and_leave_solvent_single_stage() -> None:
    rules = parse_rules(OWN, "own.toml", "own")
    assert rules.limits_g_l["clear"] == pytest.approx(3.5 * 119.8264, rel=1e-6)
    low = {"effect": "metallic", "voc_g_l": 400.0}
    solvent, water, single = judge(
        [
            Product("solvent metallic", "basecoat", "solvent", **low),
            Product("water metallic", "basecoat", "water", **low),
            Product("single", "single-stage", voc_g_l=430.0),
        ],
        rules,
    )
    assert (solvent.allowed, water.allowed, single.allowed) == (False, True, True)
    assert solvent.why == ("a metallic basecoat must be water-borne here: metallics in two stages",)
    (solid,) = judge([Product("solid", "basecoat", voc_g_l=400.0)], rules)
    assert solid.allowed


def test_what_equals_the_limit_is_allowed() -> None:
    (ruling,) = judge([Product("x", "single-stage", voc_g_l=340.0)], common_rules()["district"])
    assert ruling.allowed


def test_every_rule_set_that_comes_with_the_tool_has_source_date_and_exemptions() -> None:
    for rules in common_rules().values():
        assert rules.source
        assert rules.date
        assert rules.checked
        assert rules.exemptions
        assert rules.who
        assert rules.metals


def test_each_rule_set_tells_whom_it_binds() -> None:
    """40 CFR 59 subpart B (63 FR 48806) and 2004/42/EC article 3 bind who makes or sells; a district who applies."""
    assert {name: rules.binds for name, rules in common_rules().items()} == {
        "federal": "sale",
        "district": "use",
        "europe": "sale",
    }
    assert "not who sprays" in common_rules()["federal"].who
    assert "places the paint on the market" in common_rules()["europe"].who


@pytest.mark.parametrize(
    ("kind", "limit"),
    [
        ("adhesion promoter", 540),
        ("uniform finish", 540),
        ("specialty", 250),
        ("filler", 250),
        ("basecoat", 420),
        ("single-stage", 340),
        ("clear", 250),
    ],
)
def test_the_district_has_no_specialty_and_whatever_is_not_listed_has_one_limit(kind: str, limit: float) -> None:
    """Suggested control measure of 20 October 2005: 540, 420, 340, 250 g/L, and 250 for any other coating."""
    (ruling,) = judge([Product("x", kind, voc_g_l=limit + 1)], common_rules()["district"])
    assert (ruling.limit_g_l, ruling.allowed) == (limit, False)
    (ruling,) = judge([Product("x", kind, voc_g_l=limit)], common_rules()["district"])
    assert ruling.allowed


@pytest.mark.parametrize(
    ("kind", "effect", "limit"),
    [
        ("filler", "solid", 250),
        ("preparatory", "solid", 850),
        ("precleaner", "solid", 200),
        ("special finish", "solid", 840),
        ("single-stage", "solid", 420),
        ("single-stage", "metallic", 840),
        ("single-stage", "pearl", 840),
        ("basecoat", "metallic", 420),
        ("wash primer", "solid", 780),
        ("primer", "solid", 540),
    ],
)
def test_the_european_limits_are_those_of_table_b(kind: str, effect: str, limit: float) -> None:
    """Directive 2004/42/EC, annex II table B; that a metallic in one layer is a special finish is from memory."""
    (ruling,) = judge([Product("x", kind, effect=effect, voc_g_l=100.0)], common_rules()["europe"])
    assert ruling.limit_g_l == limit
    assert set(common_rules()["europe"].words) == set(common_rules()["europe"].limits_g_l)


def test_the_federal_limits_are_those_of_table_1() -> None:
    """40 CFR 59 subpart B, table 1 (from memory; 630 seen on a data sheet); 63 FR 48806."""
    federal = common_rules()["federal"]
    assert federal.limits_g_l == {
        "wash primer": 780,
        "primer": 580,
        "sealer": 550,
        "single-stage": 600,
        "multi-coloured": 680,
        "specialty": 840,
    }
    assert federal.stages_g_l == {"two": 600, "three": 630}


def test_speckle_paint_is_asked_for_and_a_two_tone_is_none() -> None:
    """Suggested control measure of 2005: multi-colour coatings are several colours from one container in one pass."""
    with pytest.raises(InputError, match="several colours from one container in one pass; a two-tone is"):
        judge([Product("x", "multi-coloured", voc_g_l=600.0)], common_rules()["district"])
    (ruling,) = judge([Product("x", "multi-coloured", speckle=True, voc_g_l=600.0)], common_rules()["district"])
    assert (ruling.limit_g_l, ruling.allowed) == (680, True)
    with pytest.raises(InputError, match="has no limit for a multi-coloured"):  # table B has no such category
        judge([Product("x", "multi-coloured", speckle=True, voc_g_l=100.0)], common_rules()["europe"])
    with pytest.raises(InputError, match="has no limit for a precleaner"):  # a cleaner is no other coating
        judge([Product("x", "precleaner", voc_g_l=100.0)], common_rules()["district"])


@pytest.mark.parametrize(
    ("name", "words", "banned"),
    [
        ("district", ["hexavalent chromium"], {True: "17 CCR 93112", False: "40 CFR 63 subpart HHHHHH"}),
        ("district", ["cadmium"], {True: "17 CCR 93112", False: "40 CFR 63 subpart HHHHHH"}),
        ("district", ["chromium oxide"], {False: "40 CFR 63 subpart HHHHHH"}),
        ("federal", ["lead"], {False: "40 CFR 63 subpart HHHHHH"}),
        ("federal", ["manganese"], {False: "40 CFR 63 subpart HHHHHH"}),
        ("federal", ["nickel"], {False: "40 CFR 63 subpart HHHHHH"}),
        ("federal", ["cobalt"], {}),
        ("europe", ["lead", "chromate"], {True: "REACH, annex XIV"}),
        ("europe", ["lead chromate"], {True: "REACH, annex XIV"}),
        ("europe", ["lead"], {}),
        ("europe", ["strontium chromate"], {}),
    ],
)
def test_what_a_paint_holds_is_held_against_the_laws_on_metals(
    name: str, words: list[str], banned: dict[bool, str]
) -> None:
    """17 CCR 93112; 40 CFR 63 subpart HHHHHH; REACH annex XIV (PY34 and PR104, sunset 21 May 2015)."""
    found = metal_rulings([("red", words), ("white", [])], common_rules()[name].metals)
    assert {ruling.banned: ruling.source for ruling in found} == banned
    assert all(ruling.what == ("red",) for ruling in found)


def test_two_tins_of_lead_and_chromate_are_no_lead_chromate() -> None:
    assert metal_rulings([("white", ["lead"]), ("yellow", ["zinc chromate"])], common_rules()["europe"].metals) == ()


def test_a_set_may_date_each_limit_and_be_confirmed() -> None:
    text = OWN.replace('clear = "3.5 lb/gal"', 'clear = { limit = "3.5 lb/gal", date = 2025-05-01 }')
    rules = parse_rules("confirmed = 2026-01-31\n" + text, "own.toml", "own")
    assert rules.limits_g_l["clear"] == pytest.approx(419.39, abs=0.01)
    assert rules.dates == {"basecoat": "2024-01-01", "clear": "2025-05-01", "single-stage": "2024-01-01"}
    assert rules.last_seen_to == "2026-01-31"
    assert parse_rules(OWN, "own.toml", "own").last_seen_to == "2024-01-01"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('title = "x"\nsource = "y"\ndate = 2024-01-01\n', "there is no limit in it"),
        (OWN.replace('"450 g/l"', '""', 1), "the limit is missing"),
        (OWN.replace('"450 g/l"', "450", 1), "has no unit"),
        (OWN.replace('"450 g/l"', '"0 g/l"', 1), "must be above 0"),
        (OWN.replace("basecoat =", "base =", 1), "did you mean basecoat"),
        (OWN + '[stages]\ntwo = "600 g/l"\n', "a limit is missing"),
        (OWN.replace('source = "invented"\n', ""), "there is no 'source'"),
        (OWN.replace("date = 2024-01-01\n", ""), "there is no 'date'"),
        (OWN.replace('"water"', '"wine"'), "'wine' is not known"),
        ('less = ["exempt"]\n' + OWN, "is not what a VOC can be less of"),
        (OWN.replace('"pearl"', '"flake"'), "'flake' is not known"),
        (OWN.replace("2024-01-01", '"spring"'), "'spring' is not a date"),
        (OWN.replace('"3.5 lb/gal"', "{ date = 2025-05-01 }"), "there is no 'limit'"),
        (OWN + '[[metal]]\nany_of = ["gold"]\nsays = "x"\nsource = "y"\n', "is no toxic metal"),
        (OWN + '[[metal]]\nsays = "x"\nsource = "y"\n', "needs any_of or all_of"),
        ('binds = "all"\n' + OWN, "'all' is not known"),
        (OWN.replace("[limits]", "[limits"), "is not valid TOML"),
    ],
)
def test_a_rule_set_that_lacks_something_is_refused(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        parse_rules(text, "own.toml", "own")


def test_a_kind_without_a_limit_is_refused_not_allowed(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(OWN, "utf-8")
    with pytest.raises(InputError, match="has no limit for a sealer"):
        judge([Product("x", "sealer", voc_g_l=100.0)], read_rules(own))


@pytest.mark.parametrize("products", [[BASECOAT], [CLEAR], [BASECOAT, BASECOAT, CLEAR]])
def test_stages_are_judged_together_or_not_at_all(products: list[Product]) -> None:
    with pytest.raises(InputError, match="judges a basecoat together with its clear"):
        judge(products, common_rules()["federal"])


def test_what_leaves_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="fill the whole volume"):
        voc_less_water(1000, 998, 0, 1, 1, 0)
    with pytest.raises(InputError, match="weigh more"):
        voc_less_water(300, 400, 0, 1, 0.4, 0)
    with pytest.raises(InputError, match="VOC of its component a isn't known"):
        voc_as_applied(Product("x", "clear", components=(Component("a", 1), Component("b", 1))))
    with pytest.raises(InputError, match="VOC isn't known"):
        voc_as_applied(Product("x", "clear"))
