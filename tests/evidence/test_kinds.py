"""The kinds of evidence: how they are found, what their conditions say, and a shop's own laid over them or refused."""

from __future__ import annotations

import re
from dataclasses import fields

import pytest

from finishmatch.errors import InputError
from finishmatch.evidence import common_catalogue, shop_catalogue
from finishmatch.evidence.conditions import answer_of, effects_of, not_replaced, waiting_for
from finishmatch.evidence.kinds import Condition, Effect, EvidenceKind, Settings, Use

CATALOGUE = common_catalogue()
DASH = """
[settings]
reading_sd = 0.2
card_readings = 5
[use.dash]
largest = 0.6
what = "a dash board"
[use.boot]
largest = 2
[effect.smoked]
what = "smoke on it"
ageing = true
L = [-1, 0.5]
chroma = [-0.1, 0.05]
b = [1.5, 1.0]
b_white = [3.0, 2.0]
replaces = ["faded"]
[effect.waxed]
[effect.faded]
L = [2.0, 0.5]
[[kind]]
name = "dash panel"
also = ["dash"]
what = "paint of the dash"
spread = 0.3
vehicle_spread = 0.1
other_vehicle = true
effects = ["smoked"]
[[kind.condition]]
column = "cleaned"
no = "faded"
yes = "waxed"
unsaid = "faded"
[[kind.condition]]
column = "wax"
only_of = ["smoked"]
[kind.condition.words]
thick = "waxed"
[[kind.condition]]
column = "days"
limit = 3
above = "waxed"
[[kind]]
name = "glovebox"
spread = 0
"""


@pytest.mark.parametrize(
    ("typed", "kind"),
    [("Tin", "leftover tin"), ("under-a-bracket", "sheltered paint"), ("survivor", "another vehicle"), ("", "not told"),
     ("Photo", "photograph"), ("BROCHURE", "chip or brochure")],
)  # fmt: skip
def test_a_kind_is_known_by_the_words_of_the_shop(typed: str, kind: str) -> None:
    assert CATALOGUE.find_kind(typed, "").name == kind


def test_a_kind_or_a_use_that_isnt_known_is_told_with_what_there_is() -> None:
    kinds = "leftover tin, sheltered paint, exposed paint, another vehicle, chip or brochure, photograph, not told"
    with pytest.raises(InputError) as caught:
        CATALOGUE.find_kind("sheltred", "e.csv, line 2")
    assert str(caught.value) == (
        "e.csv, line 2: no kind of evidence is called 'sheltred'; did you mean 'sheltered paint'? The kinds: " + kinds
    )
    with pytest.raises(InputError) as caught:
        CATALOGUE.find_kind(" " + 50 * "q", "e.csv, line 2")
    assert str(caught.value) == f"e.csv, line 2: no kind of evidence is called '{40 * 'q'}'; use one of: {kinds}"
    with pytest.raises(InputError) as caught:
        CATALOGUE.use(50 * "q")
    uses = "whole-vehicle, panel-beside-old-paint, touch-in"
    assert str(caught.value) == f"`use`: '{40 * 'q'}' is not known; use one of: {uses}"
    assert CATALOGUE.use("touch-in").largest == 0.3


def test_the_columns_are_those_some_kind_asks_for_each_once() -> None:
    asked = ("stirred", "strained", "sprayed_out", "dried_days", "daylight_days", "binder", "pigment", "polished")
    assert CATALOGUE.columns == (*asked, "sheltered")
    assert (CATALOGUE.shop_file, CATALOGUE.shops_own) == ("", frozenset())


def test_yellowing_goes_from_its_own_at_half_lightness_to_that_of_a_white() -> None:
    effect = Effect("x", "", b=(1.0, 0.5), b_white=(3.0, 2.5))
    assert effect.b_at(20) == effect.b_at(50) == (1.0, 0.5)
    assert effect.b_at(75) == (2.0, 1.5)
    assert effect.b_at(100) == effect.b_at(101) == (3.0, 2.5)
    assert Effect("x", "", b=(1.0, 0.5)).b_at(100) == (1.0, 0.5)


def test_a_shops_own_kinds_are_read_whole() -> None:
    shop = shop_catalogue(DASH, "own.toml")
    assert shop.find_kind("DASH", "") == EvidenceKind(
        "dash panel", ("dash",), "paint of the dash", 0.3, 0.1, True, ("smoked",),
        (Condition("cleaned", {"yes": "waxed", "no": "faded", "unsaid": "faded"}),
         Condition("wax", {"thick": "waxed"}, None, ("thick",), ("smoked",)),
         Condition("days", {"above": "waxed"}, 3.0)),
    )  # fmt: skip
    assert shop.find_kind("glovebox", "") == EvidenceKind("glovebox", (), "glovebox", 0.0)
    assert shop.effects["smoked"] == Effect(
        "smoked", "smoke on it", (-1, 0.5), (-0.1, 0.05), (1.5, 1.0), True, (3.0, 2.0), ("faded",)
    )
    assert shop.effects["waxed"] == Effect("waxed", "waxed")
    assert shop.uses["dash"] == Use("dash", "a dash board", 0.6)
    assert shop.uses["boot"] == Use("boot", "boot", 2.0)
    assert shop.columns[-3:] == ("cleaned", "wax", "days")
    assert shop.shop_file == "own.toml"
    assert shop.shops_own == {
        "settings reading_sd", "settings card_readings", "use dash", "use boot", "effect smoked", "effect waxed",
        "effect faded", "kind dash panel", "kind glovebox",
    }  # fmt: skip


def test_a_shops_own_figures_replace_what_they_name_and_no_more() -> None:
    own = (
        '[use.touch-in]\nlargest = 0.4\n[effect.faded]\nL = [2.0, 0.5]\n[[kind]]\nname = "leftover tin"\nspread = 0.2\n'
    )
    shop = shop_catalogue(own, "own.toml")
    assert shop.uses["touch-in"] == Use("touch-in", CATALOGUE.uses["touch-in"].what, 0.4)
    assert shop.effects["faded"].L == (2.0, 0.5)
    assert shop.effects["faded"].b == CATALOGUE.effects["faded"].b
    tin, usual = shop.find_kind("tin", ""), CATALOGUE.find_kind("tin", "")
    assert (tin.spread, tin.conditions, tin.also) == (0.2, usual.conditions, usual.also)
    assert len(shop.kinds) == len(CATALOGUE.kinds)
    assert shop.settings == CATALOGUE.settings
    changed = shop_catalogue(DASH, "own.toml").settings
    own_settings = {"reading_sd": 0.2, "card_readings": 5.0}
    for setting in fields(Settings):
        usual_one = getattr(CATALOGUE.settings, setting.name)
        assert getattr(changed, setting.name) == own_settings.get(setting.name, usual_one)
    # the tool's own stay as they were
    assert shop_catalogue("", "own.toml").kinds == CATALOGUE.kinds


TIN = '[[kind]]\nname = "leftover tin"\n'
ASKED = '[[kind]]\nname = "boot"\nspread = 1\n[[kind.condition]]\n'
OF_KIND = "name, also, what, spread, vehicle_spread, other_vehicle, effects, condition"
OF_CONDITION = "column, limit, words, only_of, yes, no, before, after, below, above, unsaid"
OF_EFFECT = "what, ageing, L, chroma, b, b_white, replaces"
OF_SETTINGS = ", ".join(setting.name for setting in fields(Settings))
WRONG = {
    "[colour]\nx = 1\n": "[colour] is not known; use settings, use, effect and kind",
    "settings = 1\n": "settings is not a table; write [settings]",
    "use = 1\n": "use is not a table; write [use]",
    "effect = 3\n": "effect is not a table; write [effect]",
    "kind = 3\n": 'a kind has no name; write [[kind]] and name = "…"',
    "kind = [3]\n": 'a kind has no name; write [[kind]] and name = "…"',
    "[[kind]]\nspread = 1\n": 'a kind has no name; write [[kind]] and name = "…"',
    "[settings]\nodd = 1\n": f"[settings] has 'odd', which is not known; use {OF_SETTINGS}",
    "[settings]\nreading_sd = true\n": "reading_sd is not a number; write a number",
    "[settings]\nreading_sd = inf\n": "reading_sd is not a number; write a number",
    '[settings]\nreading_sd = "x"\n': "reading_sd is not a number; write a number",
    "[settings]\nreading_weight = -1\n": "reading_weight is -1; it is at least 0",
    "[settings]\nreading_sd = 0\n": "reading_sd is 0; it is at least 0.001",
    "[settings]\nbeyond_kinds = 0\n": "beyond_kinds is 0; it is at least 0.001",
    "[settings]\nanother_colour = 0\n": "another_colour is 0; it is at least 0.001",
    "[settings]\nageing_sd = 0\n": "ageing_sd is 0; it is at least 0.001",
    "[settings]\nageing_scatter = 0\n": "ageing_scatter is 0; it is at least 0.001",
    "[settings]\nchance_of_stranger = 1\n": "chance_of_stranger is 1; it lies between 0 and 1",
    "[settings]\nchance_of_stranger = 0\n": "chance_of_stranger is 0; it lies between 0 and 1",
    "[settings]\nsure_of_stranger = 1.5\n": "sure_of_stranger is 1.5; it lies between 0 and 1",
    "[settings]\nsame_camera = 1\n": "same_camera is 1; it lies between 0 and 1",
    "[settings]\ncard_readings = 0.5\n": "card_readings is 0.5; it is at least 1",
    "[use]\ndash = 1\n": "use.dash is not a table; write [use.dash]",
    "[use.dash]\nwhat = 'x'\n": "largest of use.dash is not a number; write a number",
    "[use.dash]\nlargest = 0\n": "largest of use.dash is 0; it is at least 0.001",
    "[use.dash]\nlargest = 1\nmost = 2\n": "[use.dash] has 'most', which is not known; use largest, what",
    "[effect]\nx = 1\n": "x is not a table; write [x]",
    "[effect.x]\nc = 1\n": f"[effect.x] has 'c', which is not known; use {OF_EFFECT}",
    "[effect.x]\nageing = 1\n": "ageing of x is not true or false; write true or false",
    "[effect.faded]\nL = 3\n": "L of faded is not [shift, standard deviation]; write two numbers in brackets",
    "[effect.x]\nchroma = [1]\n": "chroma of x is not [shift, standard deviation]; write two numbers in brackets",
    "[effect.x]\nb_white = [1]\n": "b_white of x is not [shift, standard deviation]; write two numbers in brackets",
    "[effect.faded]\nL = [1.0, -2.0]\n": "the sd of L of faded is -2; it is at least 0",
    '[effect.x]\nb = ["a", 1]\n': "b of x is not a number; write a number",
    '[effect.x]\nreplaces = "faded"\n': "replaces of x is not a list of names; write names in brackets",
    "[effect.x]\nreplaces = [1]\n": "replaces of x is not a list of names; write names in brackets",
    TIN + 'spread = "wide"\n': "spread of 'leftover tin' is not a number; write a number",
    TIN + "spread = -1\n": "spread of 'leftover tin' is -1; it is at least 0",
    TIN + "vehicle_spread = -1\n": "vehicle_spread of 'leftover tin' is -1; it is at least 0",
    TIN + "other_vehicle = 1\n": "other_vehicle of 'leftover tin' is not true or false; write true or false",
    TIN + "also = 1\n": "also of 'leftover tin' is not a list of names; write names in brackets",
    TIN + "effects = 1\n": "effects of 'leftover tin' is not a list of names; write names in brackets",
    TIN + 'effects = ["rust"]\n': "kind 'leftover tin' names the effect 'rust', which is not there; add it",
    TIN + "hue = 1\n": f"kind 'leftover tin' has 'hue', which is not known; use {OF_KIND}",
    TIN + "condition = [1]\n": "condition is not a table; write [condition]",
    ASKED + "no = 'faded'\n": "a condition of 'boot' names no column; write column = \"…\"",
    ASKED + "column = 'x'\nmaybe = 'faded'\n": (
        f"a condition of 'boot' has 'maybe', which is not known; use {OF_CONDITION}"
    ),
    ASKED + "column = 'x'\nwords = 1\n": "words is not a table; write [words]",
    ASKED + "column = 'x'\nlimit = -1\n": "limit of x is -1; it is at least 0",
    ASKED + "column = 'x'\nonly_of = 1\n": "only_of of x is not a list of names; write names in brackets",
    ASKED + "column = 'x'\nno = 'rust'\n": "kind 'boot' names the effect 'rust', which is not there; add it",
    ASKED + "column = 'x'\nonly_of = ['rust']\n": "kind 'boot' names the effect 'rust', which is not there; add it",
}  # fmt: skip


@pytest.mark.parametrize("text", WRONG)
def test_a_shops_file_that_is_wrong_is_refused_with_the_mend(text: str) -> None:
    with pytest.raises(InputError) as caught:
        shop_catalogue(text, "own.toml")
    assert str(caught.value) == f"own.toml: {WRONG[text]}"


def test_a_shops_file_that_is_no_toml_is_refused() -> None:
    with pytest.raises(InputError, match=r"^own.toml.*is not valid TOML"):
        shop_catalogue("spread =", "own.toml")


def test_the_figures_at_a_limit_are_taken() -> None:
    edge = "[settings]\nreading_weight = 0\ncard_readings = 1\nreading_sd = 0.001\nsure_of_stranger = 0.001\n"
    shop = shop_catalogue(edge + "[use.x]\nlargest = 0.001\n", "own.toml")
    assert (shop.settings.reading_weight, shop.settings.card_readings, shop.settings.reading_sd) == (0, 1, 0.001)
    assert shop.settings.sure_of_stranger == shop.uses["x"].largest == 0.001


def test_the_condition_tells_the_effects() -> None:
    tin, exposed = CATALOGUE.find_kind("tin", ""), CATALOGUE.find_kind("exposed", "")
    for yes in ("yes", "Y", " true", "1"):
        told = {"stirred": yes, "strained": yes, "sprayed_out": yes, "dried_days": "7"}
        assert effects_of(tin, told, "") == ("tin-binder",)
    for no in ("no", "N", "false ", "0"):
        told = {"stirred": no, "strained": no, "sprayed_out": no, "dried_days": "6.9"}
        assert effects_of(tin, told, "") == ("tin-binder", "settled", "bits", "not-sprayed", "not-dried")
    assert effects_of(tin, {}, "") == ("tin-binder", "perhaps-settled")
    for polished in ("after", "yes", "After"):
        assert effects_of(exposed, {"polished": polished}, "") == ("faded",)
    for dull in ("before", "no"):
        assert effects_of(exposed, {"polished": dull}, "") == ("faded", "weathered-skin")
    assert effects_of(exposed, {"pigment": "chrome"}, "") == ("faded", "chrome-darkened", "perhaps-weathered-skin")


def test_an_effect_that_another_stands_for_counts_once() -> None:
    names = effects_of(CATALOGUE.find_kind("exposed", ""), {"pigment": "Chrome", "polished": "after"}, "")
    assert not_replaced(names, CATALOGUE.effects) == ("chrome-darkened",)
    assert not_replaced(("faded", "printed"), CATALOGUE.effects) == ("faded", "printed")


def test_yes_and_after_are_one_answer_and_so_are_no_and_before() -> None:
    asked = EvidenceKind("x", (), "", 1.0, conditions=(Condition("c", {"yes": "did", "before": "was"}),))
    assert [effects_of(asked, {"c": said}, "") for said in ("yes", "after")] == [("did",), ("did",)]
    assert [effects_of(asked, {"c": said}, "") for said in ("no", "before", "")] == [("was",), ("was",), ()]
    both = EvidenceKind("x", (), "", 1.0, conditions=(Condition("c", {"no": "n", "before": "b", "after": "a"}),))
    assert [effects_of(both, {"c": said}, "") for said in ("no", "before", "yes")] == [("n",), ("b",), ("a",)]


@pytest.mark.parametrize(
    ("condition", "text", "told"),
    [
        (Condition("stirred", {"no": "x"}), "perhaps", "'perhaps' is not understood; write yes or no, or leave it "
         "empty"),
        (Condition("polished", {}), "soon", "'soon' is not understood; write before or after, or leave it empty"),
        (Condition("days", {}, 7.0), "-1", "'-1' is not a number of 0 or more; write a number, or leave it empty"),
        (Condition("days", {}, 7.0), "inf", "'inf' is not a number of 0 or more; write a number, or leave it empty"),
        (Condition("days", {}, 7.0), 50 * "q", f"'{40 * 'q'}' is not a number of 0 or more; write a number, or "
         "leave it empty"),
        (Condition("binder", {}, None, ("oil", "alkyd")), "tar", "'tar' is not known; use oil, alkyd, or leave it "
         "empty"),
        (Condition("binder", {}, None, ("oil",)), 50 * "q", f"'{40 * 'q'}' is not known; use oil, or leave it empty"),
        (Condition("stirred", {}), 50 * "q", f"'{40 * 'q'}' is not understood; write yes or no, or leave it empty"),
    ],
)  # fmt: skip
def test_an_answer_that_cant_be_is_told_with_those_that_can(condition: Condition, text: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        answer_of(condition, text, "e.csv, line 2")
    assert str(caught.value) == f"e.csv, line 2, column {condition.column!r}: {told}"
    with pytest.raises(InputError, match="^" + re.escape(condition.column) + ": "):
        answer_of(condition, text, "")


def test_days_and_words_are_understood_however_they_are_written() -> None:
    days, words = Condition("days", {}, 7.0), Condition("binder", {}, None, ("two-pack", "oil"))
    said = {"0": "below", "6.99": "below", "7": "above", " 30 ": "above", " ": "unsaid"}
    assert {text: answer_of(days, text, "") for text in said} == said
    assert [answer_of(words, text, "") for text in ("Two Pack", "twopack", "OIL", "")] == [
        "two-pack", "two-pack", "oil", "unsaid",
    ]  # fmt: skip


def test_a_column_that_waits_for_another_says_for_which() -> None:
    vehicle = CATALOGUE.find_kind("another vehicle", "")
    told = {"binder": "oil", "daylight_days": "3", "pigment": "chrome", "polished": "no"}
    assert waiting_for(vehicle, told) == {"binder": "sheltered", "daylight_days": "sheltered"}
    assert waiting_for(vehicle, {**told, "sheltered": "yes"}) == {}
    assert waiting_for(vehicle, {"binder": " "}) == {}
    assert waiting_for(CATALOGUE.find_kind("sheltered", ""), told) == {}
    # what an earlier column hasn't decided isn't asked, but a wrong answer is refused all the same
    assert effects_of(vehicle, {"binder": "oil"}, "") == ("perhaps-faded",)
    with pytest.raises(InputError, match="'tar' is not known"):
        effects_of(vehicle, {"binder": "tar"}, "")
