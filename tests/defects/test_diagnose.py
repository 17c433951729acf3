"""Which cause: Bayes and its information against independent sums, the facts of the trade, the data files."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import entropy

from finishmatch.defects import (
    Evidence,
    SeenDefect,
    all_causes,
    all_checks,
    all_kinds,
    all_signs,
    diagnose,
    find_checks,
    find_kind,
    find_signs,
    likely_causes,
)
from finishmatch.defects.diagnose import OTHER, priors
from finishmatch.defects.evidence import exposure_chance, outcome_chances, sign_chance, usual_met
from finishmatch.defects.kinds import FORMS
from finishmatch.errors import InputError

SIGNS, CHECKS, CAUSES = all_signs(), all_checks(), all_causes()
TIMES = {"spraying", "flash-off", "curing", "after polish", "in service"}
RIMMED = Evidence(find_signs(["rim", "bare centre"]))


def evidence(*signs: str, checks: tuple[str, ...] = (), met: tuple[tuple[str, str], ...] = ()) -> Evidence:
    return Evidence(find_signs(signs), find_checks(checks), met)


@pytest.mark.parametrize("kind", [kind for kind in all_kinds() if kind.form == "pit"], ids=lambda kind: kind.name)
def test_a_rim_and_a_bare_centre_rank_silicone_oil_or_wax_first(kind) -> None:
    """«common practice»."""
    found = diagnose(kind, RIMMED)
    assert found.names[0] == "silicone, oil or wax on the panel"
    assert found.contamination > 0.5
    assert SeenDefect(kind, evidence=RIMMED).contamination
    assert likely_causes(SeenDefect(kind, rim=True)) == found.names


@pytest.mark.parametrize(
    ("kind", "known", "first"),
    [
        ("crater", evidence(checks=("air line=spots",)), "oil or water from the air line"),
        ("crater", evidence("in bursts", "other panels"), "oil or water from the air line"),
        ("crater", evidence(checks=("room air=shows it",)), "polish or spray silicone in the room"),
        ("crater", evidence(checks=("drawdown=shows it",)), "contamination in the paint itself"),
        ("crater", evidence("no other panels", checks=("solvent wipe=cures it",)), "silicone, oil or wax on the panel"),
        ("pinhole", evidence("over repair"), "pores in filler or primer not closed"),
        ("solvent pop", evidence("hot day", "curing"), "heat or sun too early"),
        ("run", evidence("cold day", checks=("mixing note=off",)), "a thinner too slow, or paint thinned too far"),
        ("nibs", evidence(checks=("strainer=bits",)), "paint not strained"),
        ("mottle", evidence(checks=("fan=uneven",)), "a faulty fan pattern"),
        ("bleed", evidence(checks=("thinner rub=colour",)), "a soluble dye or pigment in the old paint"),
        ("blister", evidence(checks=("salt swab=salt",)), "salts, fingerprints or sanding water left under the coat"),
        ("blushing", evidence("cold day", checks=("dew point=near",)), "a panel below the dew point"),
        ("lifting", evidence("old paint below", checks=("thinner rub=softens",)), "a strong solvent over an old or"),
        ("water spots", evidence("hot day", checks=("fingernail=no mark",)), "hard water left to dry in the sun"),
        ("off-colour", evidence(checks=("polished spot=goes",)), "judged before it was cut and polished"),
    ],
)
def test_what_points_where_on_the_shop_floor(kind: str, known: Evidence, first: str) -> None:
    """«common practice»."""
    assert diagnose(find_kind(kind), known).names[0].startswith(first)


def test_polish_in_the_room_speaks_for_the_room_and_its_absence_against_it() -> None:
    def chance(known: Evidence) -> float:
        return next(r.chance for r in diagnose(find_kind("crater"), known).causes if r.cause.key == "room silicone")

    plain, met = chance(Evidence()), chance(evidence(met=(("polish in the room", "silicone glaze"),)))
    assert chance(evidence(met=(("polish in the room", "none"),))) < plain < met
    assert chance(evidence(met=(("air line", "2"),))) == plain  # every panel has an air line
    assert usual_met().keys() == {kind for cause in CAUSES.values() for kind in cause.met}


def _outcome(check: str, pick: int) -> str:
    outcomes = list(CHECKS[check].outcomes)
    return outcomes[pick % len(outcomes)]


known_evidence = st.builds(
    lambda signs, checks: Evidence(tuple(signs), tuple((name, _outcome(name, pick)) for name, pick in checks)),
    st.lists(st.sampled_from([name for name, sign in SIGNS.items() if not sign.group]), max_size=4, unique=True),
    st.lists(st.tuples(st.sampled_from(list(CHECKS)), st.integers(0, 4)), max_size=3, unique_by=lambda pair: pair[0]),
)


def test_a_rim_moves_the_odds_by_how_often_each_cause_shows_it() -> None:
    """By hand («common practice»): 45 craters in 100 come from the panel, 20 from the air line, and a rim is seen on
    80 in 100 of the one and on 60 in 100 of the other."""
    found = {ranked.cause.key: ranked.chance for ranked in diagnose(find_kind("crater"), evidence("rim")).causes}
    assert found["panel silicone"] / found["air line"] == pytest.approx(45 * 0.80 / (20 * 0.60))


@settings(derandomize=True, max_examples=60, deadline=None)
@given(kind=st.sampled_from(all_kinds()), known=known_evidence)
def test_chances_are_those_of_the_whole_joint_table(kind, known: Evidence) -> None:
    """Bayes' rule summed once over everything, apart from the room's own step by step."""
    prior = priors(kind, known)
    causes = {**CAUSES, OTHER.key: OTHER}
    joint = {
        key: share
        * math.prod(sign_chance(causes[key], sign) for sign in known.signs)
        * math.prod(outcome_chances(causes[key], CHECKS[name])[outcome] for name, outcome in known.checks)
        for key, share in prior.items()
    }
    total = sum(joint.values())
    found = diagnose(kind, known)
    assert {r.cause.key: r.chance for r in found.causes} == pytest.approx({k: v / total for k, v in joint.items()})
    assert sum(r.chance for r in found.causes) == pytest.approx(1)
    assert [r.chance for r in found.causes] == sorted((r.chance for r in found.causes), reverse=True)
    assert not {worth.check.name for worth in found.checks} & {name for name, _ in known.checks}


@pytest.mark.parametrize("kind", all_kinds(), ids=lambda kind: kind.name)
def test_what_a_check_tells_is_the_mutual_information(kind) -> None:
    """H(cause) + H(outcome) - H(both), by SciPy's entropy."""
    found = diagnose(kind)
    chances = np.array([r.chance for r in found.causes])
    for worth in found.checks:
        given_cause = np.array([list(outcome_chances(r.cause, worth.check).values()) for r in found.causes])
        joint = chances[:, None] * given_cause
        bits = entropy(chances, base=2) + entropy(joint.sum(0), base=2) - entropy(joint.ravel(), base=2)
        assert worth.bits == pytest.approx(bits, abs=1e-9)
    rates = [worth.bits_per_hour for worth in found.checks]
    assert rates == sorted(rates, reverse=True)
    assert all(kind.form in worth.check.forms for worth in found.checks)


def test_a_check_that_tells_as_much_for_less_trouble_comes_first() -> None:
    first, *others = diagnose(find_kind("crater")).checks
    assert first.check.name == "water break"
    assert any(other.bits > first.bits for other in others)  # the clean panel tells more, and takes half an hour


def test_evidence_is_told_on_the_side_it_speaks_for() -> None:
    found = diagnose(find_kind("crater"), evidence("rim", "no other panels", checks=("water break=holds",)))
    by_key = {ranked.cause.key: ranked for ranked in found.causes}
    assert "other panels of that day are free of it" in by_key["panel silicone"].speaks_for
    assert "water break: holds" in by_key["panel silicone"].speaks_against
    assert "other panels of that day are free of it" in by_key["air line"].speaks_against
    assert "water break: holds" in by_key["air line"].speaks_for


def test_every_figure_of_the_data_files_fits() -> None:
    for cause in CAUSES.values():
        assert set(cause.seen) <= set(SIGNS), cause.key
        assert set(cause.checks) <= set(CHECKS), cause.key
        assert all(0 < share < 1 for share in cause.seen.values())
        assert cause.mend, cause.key
        for group in ("pattern", "time"):
            assert sum(share for name, share in cause.seen.items() if SIGNS[name].group == group) <= 1
            shares = [sign_chance(cause, name) for name, sign in SIGNS.items() if sign.group == group]
            assert sum(shares) == pytest.approx(1)
            assert min(shares) > 0
        for name, outcomes in cause.checks.items():
            assert set(outcomes) <= set(CHECKS[name].outcomes), (cause.key, name)
        for check in CHECKS.values():
            shares = list(outcome_chances(cause, check).values())
            assert sum(shares) == pytest.approx(1)
            assert min(shares) > 0, (cause.key, check.name)
        assert exposure_chance(cause, ("gun", "1")) is None
    for check in CHECKS.values():
        assert sum(check.outcomes.values()) == pytest.approx(1)
        assert set(check.forms) <= set(FORMS)
        assert check.caution in ("", "solvent", "dust", "spray")
    assert {name for name, sign in SIGNS.items() if sign.group == "time"} == TIMES
    assert all(sign.when_absent for sign in SIGNS.values() if not sign.group)
    assert set(CAUSES) == {key for kind in all_kinds() for key in kind.priors}


def test_no_two_signs_or_checks_share_a_name() -> None:
    for items in (SIGNS.values(), CHECKS.values()):
        names = [name.replace(" ", "").replace("-", "") for item in items for name in (item.name, *item.synonyms)]
        assert len(names) == len(set(names))


def test_signs_and_checks_are_known_by_the_shops_words() -> None:
    assert find_signs(["Raised-Rim", "no bare middle", "while spraying"]) == ("rim", "no bare centre", "spraying")
    assert find_checks(["Water break test = breaks", "cross cut=LIFTS"]) == (
        ("water break", "breaks"),
        ("tape", "lifts"),
    )
    assert find_checks(["dew point=near"]) == (("dew point", "near the dew point"),)


@pytest.mark.parametrize(
    ("read", "typed", "part"),
    [
        (find_signs, ["rimm"], "did you mean rim"),
        (find_signs, [""], "sign is not named"),
        (find_signs, ["qwertyuiop"], "defect checks' lists them"),
        (find_signs, ["rim", "no rim"], "both seen and not seen"),
        (find_signs, ["scattered", "one place"], "one pattern"),
        (find_signs, ["no scattered"], "say the pattern it has"),
        (find_checks, ["water break"], "is not CHECK=OUTCOME"),
        (find_checks, ["water brake=breaks"], "did you mean water break"),
        (find_checks, ["water break=maybe"], "comes out as: breaks, holds"),
        (find_checks, ["lamp="], "is not CHECK=OUTCOME"),
        (find_checks, ["fan=e"], "fits several"),
        (find_checks, ["lamp=flat", "side light=proud"], "has two outcomes"),
    ],
)
def test_what_is_not_known_is_refused_in_one_line(read, typed: list[str], part: str) -> None:
    with pytest.raises(InputError, match=part) as caught:
        read(typed)
    assert len(str(caught.value).splitlines()) == 1
