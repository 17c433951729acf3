"""The kinds of defect and the exposures: known by every name the shop has for them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.defects import (
    Exposure,
    all_causes,
    all_checks,
    all_kinds,
    all_signs,
    check_met_before,
    exposure_pairs,
    find_kind,
    likely_causes,
    read_exposures,
)
from finishmatch.defects.kinds import FORMS, plain_key
from finishmatch.defects.observed import SeenDefect
from finishmatch.errors import InputError

# the list every bench manual has («common practice»; names as in the trade)
WANTED = """cratering, cissing, pinholing, solvent popping, sagging, orange peel, dry spray, overspray, dust nibs,
blushing, bleeding, lifting, wrinkling, die-back, sand-scratch swelling, mottling, poor hiding, edge mapping,
delamination, micro-cracking, water spotting, blistering, chalking, yellowing, off-colour, fish-eyes, bloom, flooding,
slow drying, cobwebbing, masking marks, rusting, filiform corrosion"""


def test_the_defects_a_painter_meets_are_all_there() -> None:
    names = {kind.name for kind in all_kinds()}
    assert {" ".join(name.split()) for name in WANTED.split(",")} <= names
    assert len(names) == len(all_kinds()) >= 25


def test_every_kind_is_filled_in() -> None:
    times = {sign.name for sign in all_signs().values() if sign.group == "time"}
    for kind in all_kinds():
        assert kind.form in FORMS
        assert kind.synonyms, kind.name
        assert sum(kind.priors.values()) == pytest.approx(1)
        assert kind.look, kind.name
        assert kind.remedies, kind.name
        assert kind.shows, kind.name
        assert set(kind.shows) <= times
        assert kind.rating in ("quantity and size", "intensity")


def test_no_name_stands_for_two_kinds() -> None:
    keys = [plain_key(name) for kind in all_kinds() for name in (kind.name, *kind.synonyms)]
    assert len(keys) == len(set(keys))


@settings(derandomize=True, max_examples=100, deadline=None)
@given(data=st.data())
def test_a_name_is_known_whatever_its_capitals_blanks_hyphens_and_plural(data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(all_kinds()))
    name = data.draw(st.sampled_from((kind.name, *kind.synonyms)))
    typed = name.replace(" ", data.draw(st.sampled_from([" ", "-", "  ", "_", ""])))
    typed = data.draw(st.sampled_from([typed, typed.upper(), typed.title(), f"  {typed} "]))
    assert find_kind(typed) == kind


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Fish-Eyes", "fish-eyes"),
        ("rust", "rusting"),
        ("blooming", "bloom"),
        ("flooding", "flooding"),
        ("soft film", "slow drying"),
        ("craters", "cratering"),
        ("runs", "sagging"),
        ("die back", "die-back"),
    ],
)
def test_words_of_the_shop_floor(typed: str, name: str) -> None:
    assert find_kind(typed).name == name


def test_an_unknown_kind_is_refused_in_one_line_with_the_nearest_names() -> None:
    with pytest.raises(InputError, match="cratering") as caught:
        find_kind("cratring")
    assert "\n" not in str(caught.value)
    with pytest.raises(InputError, match=r"fish eye \(fish-eyes\)"):
        find_kind("fisch eye")


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_text_that_is_no_kind_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(InputError) as caught:
        find_kind(f"zzz {text} zzz")
    assert len(str(caught.value).splitlines()) == 1


def test_the_parts_of_iso_4628_stand_beside_what_they_show() -> None:
    """Titles of ISO 4628-2 to -6: blistering, rusting, cracking, flaking, chalking; -8 from a scribe, -10 filiform."""
    parts = {kind.rated_by: kind.name for kind in all_kinds() if kind.rated_by}
    assert parts == {
        "ISO 4628-2": "blistering",
        "ISO 4628-3": "rusting",
        "ISO 4628-4": "micro-cracking",
        "ISO 4628-5": "delamination",
        "ISO 4628-6": "chalking",
        "ISO 4628-8": "rust creep",
        "ISO 4628-10": "filiform corrosion",
    }


def test_a_rim_around_a_bare_middle_points_to_silicone_oil_or_wax() -> None:
    """«common practice»."""
    assert likely_causes(SeenDefect(find_kind("crater")))[0].startswith("silicone, oil or wax")
    pinhole = SeenDefect(find_kind("pinhole"), rim=True)
    assert likely_causes(pinhole)[0].startswith("silicone, oil or wax")
    assert pinhole.contamination
    assert not SeenDefect(find_kind("pinhole")).contamination


def test_exposures_are_brought_to_one_name() -> None:
    typed = ["Airline=2", "tack rag = blue box", "polish=yes", "Compressor oil=changed"]
    assert exposure_pairs(typed) == (
        ("air line", "2"),
        ("cloth", "blue box"),
        ("polish in the room", "yes"),
        ("compressor oil", "changed"),
    )


def test_an_exposure_may_have_its_day() -> None:
    typed = ["air line = 2 @ 2024-05-01", "cloth=box @ bench", "polish=yes"]
    read = read_exposures(typed)
    assert read == (
        Exposure("air line", "2", "2024-05-01"),
        Exposure("cloth", "box @ bench"),
        Exposure("polish in the room", "yes"),
    )
    check_met_before(read, "2024-05-01")
    with pytest.raises(InputError, match="after the defect was seen on 2024-04-30"):
        check_met_before(read, "2024-04-30")
    with pytest.raises(InputError, match="has a day of its own"):
        exposure_pairs(["gun=1@2024-05-01"])
    with pytest.raises(InputError, match="not a date"):
        read_exposures(["gun=1@2024-13-01"])


@pytest.mark.parametrize("typed", [["air line"], ["=2"], ["gun="], ["gun= "], ["gun=1", "spray gun=1"]])
def test_an_exposure_without_kind_or_value_or_twice_is_refused(typed: list[str]) -> None:
    with pytest.raises(InputError, match="exposure"):
        exposure_pairs(typed)


def test_terms_that_the_standard_keeps_apart_are_kinds_of_their_own() -> None:
    """ISO 4618:2014: mottling is 2.160; fish-eyes, blooming and flooding are terms beside cratering, blushing, floating
    (these from memory)."""
    for name in ("mottling", "fish-eyes", "cratering", "bloom", "blushing", "flooding", "floating"):
        assert find_kind(name).name == name
        assert find_kind(name).iso_4618


def test_causes_that_a_painter_looks_for_are_listed() -> None:
    """«common practice»."""
    for kind, cause in (
        ("orange peel", "fast thinner"),
        ("die-back", "little hardener"),
        ("slow drying", "little hardener"),
        ("delamination", "wrong primer"),
    ):
        assert cause in find_kind(kind).priors
    wrong = all_causes()["wrong primer"]
    assert "aluminium" in wrong.name
    assert "zinc" in wrong.name


def test_checks_say_where_they_are_not_for_and_what_they_destroy() -> None:
    """«common practice»; the lattice is that of ISO 2409."""
    checks = {name: check.do for name, check in all_checks().items()}
    assert "not on filler or on primer that drinks water" in checks["water break"]
    assert "then dry the panel with heat" in checks["water break"]
    assert checks["tape"].startswith("destructive")
