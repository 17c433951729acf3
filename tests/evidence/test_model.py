"""Samples as points and errors: each part of their covariance against sums done by hand, and what follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2, multivariate_normal

from finishmatch.colour import de00, de00_metric, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.evidence.ageing import measured_effects, pairs_of, shifts_found, without_shifts
from finishmatch.evidence.certainty import certainty, tau_weights, with_one_more
from finishmatch.evidence.groups import chance_of_two, likelihoods, separate_colours, tau_grid
from finishmatch.evidence.kinds import Condition, Effect, EvidenceCatalogue, EvidenceKind, Settings, Use
from finishmatch.evidence.model import FLOOR_SD, Model, Piece, make_model, pieces_of
from finishmatch.evidence.pool import paule_mandel, pooled_at
from finishmatch.evidence.tolerance import single_reading_var, tolerance_for
from finishmatch.readings import Reading
from finishmatch.readings.evidence_file import EvidenceSample
from finishmatch.readings.seen import USUAL_U95

SETTINGS = Settings(
    reading_sd=0.2, reading_weight=4, beyond_kinds=0.6, another_colour=4.0, chance_of_stranger=0.2,
    sure_of_stranger=0.5, ageing_sd=6.0, ageing_scatter=0.5, card_readings=3, same_camera=0.8,
)  # fmt: skip
SUN = Effect("sun", "bleached by the sun", L=(2.0, 1.0), chroma=(-0.1, 0.05), b=(1.0, 0.5), ageing=True)
RIM = EvidenceKind("rim", (), "", spread=0.5, vehicle_spread=0.3)
BONNET = EvidenceKind("bonnet", (), "", spread=0.8, vehicle_spread=0.4, effects=("sun",))
OTHER = EvidenceKind("other", (), "", spread=1.0, vehicle_spread=0.6, other_vehicle=True)
ASKED = EvidenceKind("asked", (), "", 0.5, conditions=(Condition("sunny", {"yes": "sun"}),))
DASH = Use("dash", "a dash", 1.0)
CATALOGUE = EvidenceCatalogue((RIM, BONNET, OTHER, ASKED), {"sun": SUN}, SETTINGS, {"dash": DASH})
CENTRE = np.array([50.0, 20.0, 10.0])
GREY = np.array([50.0, 0.0, 0.0])


def off(lab: np.ndarray, *by: float) -> np.ndarray:
    """A colour that much from another."""
    return lab + np.array(by)


def sample(name: str, kind: str, *labs: Sequence[float], pair: str = "", vehicle: str = "") -> EvidenceSample:
    return EvidenceSample(name, kind, Reading(name, np.array(labs, dtype=float)), pair=pair, vehicle=vehicle)


def pieces(*samples: EvidenceSample) -> tuple[Piece, ...]:
    return pieces_of(samples, CATALOGUE, "D65", 10)


def model_of(*samples: EvidenceSample, centre: np.ndarray = CENTRE, measured: frozenset[str] = frozenset()) -> Model:
    return make_model(pieces(*samples), CATALOGUE, centre, measured)


def test_a_reading_is_as_sure_as_its_repeats_all_repeats_and_the_usual_instrument_say() -> None:
    """By hand, variances of 0.04 that count as four repeats: 12 · 0.04 of 12 degrees of freedom."""
    (one,) = pieces(sample("one", "rim", GREY))
    assert one.reading_var == pytest.approx(0.04)
    # three repeats alike: 12 · 0.04 / 18 for all, 12 of that / 18 for this sample, a third of it for its mean
    (three,) = pieces(sample("three", "rim", GREY, GREY, GREY))
    assert three.reading_var == pytest.approx(0.04 * 12 / 18 * 12 / 18 / 3)
    # 49 and 51 beside one without repeats: squares of 1 and 1 about the mean, nearly ΔE00
    two, lone = pieces(sample("two", "rim", off(GREY, -1, 0, 0), off(GREY, 1, 0, 0)), sample("lone", "rim", GREY))
    square = sum(float(de00(GREY, off(GREY, step, 0, 0))) ** 2 for step in (-1, 1))
    pooled = (12 * 0.04 + square) / 15
    assert lone.reading_var == pytest.approx(pooled)
    assert two.reading_var == pytest.approx((12 * pooled + square) / 15 / 2)


def test_a_reading_that_says_how_sure_it_is_is_never_taken_for_surer() -> None:
    told = [replace(sample("one", "rim", GREY), u95=u95) for u95 in (0.01, 2.7955)]
    assert [pieces(one)[0].reading_var for one in told] == pytest.approx([0.04, 1.0])
    (many,) = pieces(sample("many", "rim", *(300 * [GREY])))
    assert many.reading_var == pytest.approx(FLOOR_SD**2)


def test_samples_are_of_this_vehicle_unless_they_or_their_kind_say_otherwise() -> None:
    found = pieces(
        sample("a", "rim", GREY), sample("b", "rim", GREY, vehicle=" The  Saloon", pair="Left Door "),
        sample("c", "rim", GREY, vehicle="the saloon", pair="left  door"), sample("d", "other", GREY),
        sample("e", "other", GREY),
    )  # fmt: skip
    vehicles = [piece.vehicle for piece in found]
    assert vehicles[1:3] == ["the saloon", "the saloon"]
    assert vehicles[0] == "this vehicle"
    assert len(set(vehicles)) == 4
    places = [piece.place for piece in found]
    assert places[1] == places[2] == "left door"
    assert len(set(places)) == 4
    with pytest.raises(InputError, match=r"^evidence: there is no sample; add at least one$"):
        pieces()
    with pytest.raises(InputError, match=r"^e.csv, line 2, column 'kind': no kind of evidence is called 'rum'"):
        pieces(replace(sample("a", "rum", GREY), where="e.csv, line 2"))
    with pytest.raises(InputError, match=r"^kind: no kind of evidence"):
        pieces(sample("a", "rum", GREY))
    sunny = replace(sample("a", "asked", GREY), conditions={"sunny": "yes"}, where="e.csv, line 2")
    assert pieces(sunny)[0].effects == ("sun",)
    with pytest.raises(InputError, match=r"^e.csv, line 2, column 'sunny': 'x'"):
        pieces(replace(sunny, conditions={"sunny": "x"}))


def test_spectra_are_read_in_the_light_and_by_the_observer_asked_for() -> None:
    low, high = np.linspace(0.1, 0.5, 31), np.linspace(0.12, 0.52, 31)
    taken = EvidenceSample("x", "rim", Reading("x", np.array([low, high])))
    for light, observer in (("D65", 10), ("A", 2)):
        (piece,) = pieces_of([taken], CATALOGUE, light, observer)
        mean = reflectance_to_lab((low + high) / 2, light, observer)
        np.testing.assert_allclose(piece.lab, mean)
        square = sum(float(de00(mean, reflectance_to_lab(one, light, observer))) ** 2 for one in (low, high))
        assert piece.reading_var == pytest.approx((12 * (12 * 0.04 + square) / 15 + square) / 15 / 2)


def test_what_samples_share_stands_in_their_covariance_by_hand() -> None:
    """Two rims of one vehicle, one of another, and another kind there: reading 0.04, own 0.5², vehicle 0.3²."""
    found = model_of(
        sample("a", "rim", CENTRE), sample("b", "rim", off(CENTRE, 1, 0, 0)), sample("c", "rim", CENTRE, vehicle="van"),
        sample("d", "other", CENTRE, vehicle="van"),
    )  # fmt: skip
    own = np.diag([0.04 + 0.25] * 3 + [0.04 + 1.0])
    shared = np.array([[0.09, 0.09, 0, 0], [0.09, 0.09, 0, 0], [0, 0, 0.09, 0.18], [0, 0, 0.18, 0.36]])
    np.testing.assert_allclose(found.V, np.kron(own + shared, np.eye(3)), atol=1e-12)
    np.testing.assert_allclose(found.own, [0.29 * np.eye(3)] * 3 + [1.04 * np.eye(3)])
    np.testing.assert_allclose(found.readings, 0.04 * np.eye(4))
    np.testing.assert_array_equal(found.B, np.eye(4))
    np.testing.assert_allclose(found.y, [[0, 0, 0], de00_metric(CENTRE)[:, 0], [0, 0, 0], [0, 0, 0]], atol=1e-12)
    assert found.loads == {}


def test_what_the_sun_did_is_taken_off_and_its_doubt_is_shared() -> None:
    """L* +2 (1), chroma -10 % (5 %), b* +1 (0.5) of a colour of a* 20, b* 10: a* -2, b* -1 + 1."""
    found = model_of(sample("a", "bonnet", CENTRE), sample("b", "bonnet", CENTRE), sample("c", "rim", CENTRE))
    eye = de00_metric(CENTRE)
    np.testing.assert_allclose(found.y, [-eye @ [2, -2, 0], -eye @ [2, -2, 0], [0, 0, 0]], atol=1e-12)
    doubt = np.outer([0, 20, 10], [0, 20, 10]) * 0.05**2 + np.diag([1.0, 0, 0.5**2])
    np.testing.assert_allclose(found.V[:3, 3:6], 0.4 * 0.4 * np.eye(3) + eye @ doubt @ eye.T, atol=1e-12)
    np.testing.assert_allclose(found.V[:3, 6:], 0.4 * 0.3 * np.eye(3), atol=1e-12)
    np.testing.assert_allclose(found.V[:3, :3] - found.V[:3, 3:6], (0.04 + 0.64) * np.eye(3), atol=1e-12)
    np.testing.assert_allclose(found.sds["sun"], [1, 0.05, 0.5])


def test_a_pair_shares_the_lesser_spread_and_what_aged_scatters_a_little_more() -> None:
    found = model_of(
        sample("in", "rim", CENTRE, pair="door"), sample("out", "bonnet", off(CENTRE, 2, 0, 0), pair="door"),
        sample("roof", "bonnet", CENTRE), measured=frozenset({"sun"}),
    )  # fmt: skip
    eye = de00_metric(CENTRE)
    np.testing.assert_array_equal(found.B, [[1, 1, 0], [1, 1, 0], [0, 0, 1]])
    np.testing.assert_allclose(found.V[:3, 3:6], (0.5**2 + 0.3 * 0.4) * np.eye(3), atol=1e-12)
    # what pairs are to measure may be anything of 6 in L*, a* and b*, and no usual shift is taken off
    np.testing.assert_allclose(found.sds["sun"], 6.0)
    np.testing.assert_allclose(found.y[1], eye @ [2, 0, 0])
    np.testing.assert_allclose(found.V[3:6, 6:], 0.16 * np.eye(3) + 36 * eye @ eye.T, atol=1e-9)
    # the roof aged too, but has no other half
    np.testing.assert_allclose(found.own[1], (0.04 + 0.25 + 0.64) * np.eye(3))
    np.testing.assert_allclose(found.own[2], (0.04 + 0.64) * np.eye(3))
    np.testing.assert_allclose(found.own[0], (0.04 + 0.25) * np.eye(3))


def test_some_of_the_samples_and_back_to_cielab() -> None:
    found = model_of(
        sample("a", "rim", CENTRE), sample("b", "bonnet", off(CENTRE, 1, 2, 3)),
        sample("c", "other", CENTRE, vehicle="van"),
    )  # fmt: skip
    some = found.only([2, 0])
    assert [piece.name for piece in some.pieces] == ["c", "a"]
    np.testing.assert_allclose(some.y, found.y[[2, 0]])
    np.testing.assert_allclose(some.V[:3, :3], found.V[6:, 6:])
    np.testing.assert_allclose(some.V[:3, 3:], found.V[6:, :3])
    np.testing.assert_allclose(some.own, found.own[[2, 0]])
    np.testing.assert_allclose(some.readings, found.readings[np.ix_([2, 0], [2, 0])])
    assert some.B.shape == (2, 2)
    assert some.loads == {}
    np.testing.assert_allclose(found.only([1]).loads["sun"], found.loads["sun"][3:6])
    point = de00_metric(CENTRE) @ [1.0, -2.0, 0.5]
    np.testing.assert_allclose(found.lab(point), off(CENTRE, 1, -2, 0.5))
    eye = de00_metric(CENTRE)
    np.testing.assert_allclose(found.covariance_lab(eye @ np.diag([1, 2, 3]) @ eye.T), np.diag([1, 2, 3]), atol=1e-12)


def test_the_u95_is_that_of_three_unit_normals_where_the_scatter_is_known() -> None:
    """Four rims of four vehicles: variance 0.38 / 4 in each direction; chi² of three, 95 in 100: 7.815."""
    found = model_of(*(sample(f"{i}", "rim", GREY, vehicle=f"{i}") for i in range(4)), centre=GREY)
    known = (np.array([0.0, 9.0]), np.array([1.0, 0.0]))
    sure = certainty(found, np.zeros(3), SETTINGS, known)
    np.testing.assert_allclose(sure.covariance, 0.095 * np.eye(3), atol=1e-12)
    assert sure.u95 == pytest.approx(np.sqrt(chi2.ppf(0.95, 3) * 0.095), rel=0.03)
    # an excess of 2 as likely as none: the mean of the two covariances, and a u95 between theirs
    both = certainty(found, np.zeros(3), SETTINGS, (np.array([0.0, 2.0]), np.array([0.5, 0.5])))
    np.testing.assert_allclose(both.covariance, (0.095 + 0.5) * np.eye(3), atol=1e-12)
    assert sure.u95 < both.u95 < np.sqrt(chi2.ppf(0.95, 3) * 1.095)
    # what is stated lies 3 off what was found
    off = certainty(found, np.array([3.0, 0, 0]), SETTINGS, known)
    np.testing.assert_allclose(off.covariance, np.diag([9.095, 0.095, 0.095]), atol=1e-12)
    assert 3 < off.u95 < 4


def test_the_excess_scatter_is_weighed_by_what_was_read() -> None:
    near = model_of(*(sample(f"{i}", "rim", GREY, vehicle=f"{i}") for i in range(6)), centre=GREY)
    far = replace(near, y=near.y + 4 * np.random.default_rng(1).standard_normal((6, 3)))
    mean = {}
    for name, model in {"near": near, "far": far}.items():
        taus, weights = tau_weights(model, SETTINGS)
        assert weights.sum() == pytest.approx(1)
        np.testing.assert_allclose(taus, tau_grid(0.6)[0])
        mean[name] = float(taus @ weights)
    assert mean["near"] < 0.35
    assert 2 < mean["far"] < 6
    assert certainty(far, far.y.mean(axis=0), SETTINGS).u95 > 2 * certainty(near, near.y.mean(axis=0), SETTINGS).u95


def test_one_more_sample_that_lies_with_the_others_makes_it_surer_by_its_part() -> None:
    """Two rims of two vehicles, then three, the excess scatter as likely as before: covariance 2 / 3 of what it was."""
    found = model_of(*(sample(f"{i}", "rim", GREY, vehicle=f"{i}") for i in range(2)), centre=GREY)
    (more,) = pieces(sample("more", "rim", GREY, vehicle="more"))
    pooled = paule_mandel(found.y, found.V, found.B)
    now = certainty(found, pooled.mean, SETTINGS)
    then = with_one_more(found, replace(more, place="elsewhere"), CATALOGUE, frozenset(), pooled)
    assert then.u95 == pytest.approx(now.u95 * np.sqrt(2 / 3), rel=1e-6)
    moved = replace(found, y=found.y + np.array([2.0, 0, 0]))
    there = paule_mandel(moved.y, moved.V, moved.B)
    again = with_one_more(moved, replace(more, place="elsewhere"), CATALOGUE, frozenset(), there)
    assert again.u95 == pytest.approx(then.u95)


def cut_by_hand(model: Model, cut: np.ndarray, tau: float) -> tuple[float, float]:
    """Log densities of one colour and of two, the mean drawn from so wide a normal that it could be anything."""
    n = len(model.pieces)
    wide = 1e6 * np.kron(np.ones((n, n)), np.eye(3))
    one = model.V + tau**2 * np.kron(model.B, np.eye(3)) + wide
    two = one + SETTINGS.another_colour**2 * np.kron(np.outer(cut, cut), np.eye(3))
    flat = model.y.reshape(-1)
    return tuple(float(multivariate_normal(np.zeros(3 * n), s).logpdf(flat)) for s in (one, two))  # type: ignore[return-value]


def test_one_colour_or_two_is_weighed_by_the_density_of_what_was_read() -> None:
    """Against SciPy's normal densities: what a cut gains, and what one excess scatter gains on another."""
    found = model_of(
        sample("a", "rim", CENTRE), sample("b", "rim", off(CENTRE, 1.5, 0, 1)),
        sample("c", "bonnet", off(CENTRE, 4, 1, 0)),
        sample("d", "rim", off(CENTRE, 0, -1, -1), pair="p"), sample("e", "bonnet", off(CENTRE, 0, -2, 0), pair="p"),
    )  # fmt: skip
    cuts = np.array([[0, 0, 1.0, 0, 0], [1, 1, 0, 0, 0], [0, 0, 0, 1, 1]])
    one, two = likelihoods(found, cuts, SETTINGS)
    taus, prior = tau_grid(SETTINGS.beyond_kinds)
    assert two.shape == (len(taus), 3)
    base = cut_by_hand(found, cuts[0], float(taus[0]))[0]
    for k in (0, 12, 25):
        for m, cut in enumerate(cuts):
            by_hand = cut_by_hand(found, cut, float(taus[k]))
            assert two[k, m] - one[k] == pytest.approx(by_hand[1] - by_hand[0], abs=1e-4)
            assert one[k] - prior[k] - one[0] + prior[0] == pytest.approx(by_hand[0] - base, abs=1e-4)


def test_the_chance_of_two_colours_is_bayes_on_all_cuts() -> None:
    """Three places: each alone is a cut. Four: four alone and three pairs, half the belief to either."""
    for n, alone in ((3, 3), (4, 4)):
        labs = [CENTRE, off(CENTRE, 0.5, 1, 0), off(CENTRE, 3.5, 0, 2), off(CENTRE, 3, 1, 2)][:n]
        found = model_of(*(sample(f"{i}", "rim", lab) for i, lab in enumerate(labs)))
        cuts = np.array(
            [np.eye(4)[:n, i] for i in range(n)] + ([[1, 1, 0, 0], [1, 0, 1, 0], [1, 0, 0, 1]] if n > 3 else [])
        )
        believed = np.full(len(cuts), 0.5 / alone)
        believed[alone:] = 0.5 / 3
        one, two = (np.exp(values) for values in likelihoods(found, cuts, SETTINGS))
        of_two = 0.2 * two.sum(axis=0) @ (believed / believed.sum())
        chance, side = chance_of_two(found, SETTINGS)
        assert chance == pytest.approx(of_two / (of_two + 0.8 * one.sum()), rel=1e-6)
        assert side == ((2,) if n == 3 else (0, 1))


def test_one_place_alone_is_one_colour() -> None:
    assert chance_of_two(model_of(sample("a", "rim", CENTRE)), SETTINGS) == (0.0, ())
    door = (sample("a", "rim", CENTRE, pair="d"), sample("b", "bonnet", off(CENTRE, 20, 0, 0), pair="d"))
    assert chance_of_two(model_of(*door), SETTINGS) == (0.0, ())
    assert separate_colours(model_of(*door), SETTINGS) == ((0, 1),)


@pytest.mark.parametrize("first", [2, 5, 9])
def test_many_samples_of_two_colours_are_separated_where_they_part(first: int) -> None:
    """Fourteen places: some of one colour, the rest eight ΔE00 away, in turn; and three that lie apart each."""
    r = np.random.default_rng(first)
    labs = CENTRE + 0.3 * r.standard_normal((14, 3))
    labs[:first] += [8.0, 0, 0]
    order = r.permutation(14)
    found = model_of(*(sample(f"{i}", "rim", labs[at], vehicle=f"{i}") for i, at in enumerate(order)))
    groups = separate_colours(found, SETTINGS)
    assert {frozenset(int(order[i]) for i in group) for group in groups} == {
        frozenset(range(first)), frozenset(range(first, 14)),
    }  # fmt: skip


def test_three_colours_are_three_groups() -> None:
    labs = [off(CENTRE, step, tint, 0) for step in (0, 5, 16) for tint in (0, 0.3, 0.5)]
    found = model_of(*(sample(f"{i}", "rim", lab, vehicle=f"{i}") for i, lab in enumerate(labs)))
    assert {frozenset(group) for group in separate_colours(found, SETTINGS)} == {
        frozenset({0, 1, 2}), frozenset({3, 4, 5}), frozenset({6, 7, 8}),
    }  # fmt: skip
    doubtful = replace(SETTINGS, sure_of_stranger=1.1)
    assert separate_colours(found, doubtful) == (tuple(range(9)),)


def test_a_pair_tells_what_the_sun_did_by_hand() -> None:
    """Of a grey of L* 50 a door is lighter by 3; what age may do to it has a variance of 36 before it is read.

    Between the two lie readings of 0.04 each, 0.25 of ageing, spreads of 0.25 and 0.64 less twice the 0.25 they share,
    and 0.01 of vehicles' spreads of 0.3 and 0.4.
    """
    inside, outside = (
        sample("in", "rim", GREY, pair="Door"),
        sample("out", "bonnet", off(GREY, 3, 0, 0), pair="Door"),
    )
    measured = measured_effects(pieces(inside, outside), CATALOGUE)
    assert measured == {"sun"}
    found = model_of(inside, outside, centre=GREY, measured=measured)
    V = found.V[:3, :3] + found.V[3:, 3:] - 2 * found.V[:3, 3:]
    between = float(V[0, 0]) - 36.0  # without the effect itself
    pooled = pooled_at(found.y, found.V, found.B, 0.0)
    (shift,) = shifts_found(found, pooled, measured, CATALOGUE)
    assert between == pytest.approx(0.04 + 0.04 + 0.25 + 0.25 + 0.64 - 2 * 0.25 + 0.01)
    np.testing.assert_allclose(shift.lab, [3 * 36 / (36 + between), 0, 0], atol=1e-9)
    assert shift.de00 == pytest.approx(3 * 36 / (36 + between))
    eye = np.diag(de00_metric(GREY))
    left = [1 / (1 / (36 * e**2) + 1 / between) for e in eye]
    assert shift.u95 == pytest.approx(2.7955 * np.sqrt(sum(left) / 3), rel=1e-3)
    assert (shift.effect, shift.what, shift.words, shift.pairs) == ("sun", SUN.what, ("lighter",), ("Door",))
    np.testing.assert_allclose(without_shifts(found, [shift])[1], [3 - shift.lab[0], 0, 0], atol=1e-9)
    np.testing.assert_allclose(without_shifts(found, [shift])[0], 0, atol=1e-9)
    # a place whose samples scatter more than they should says less
    wider = pooled_at(found.y, found.V, np.eye(2), 4.0)
    (unsure,) = shifts_found(replace(found, B=np.eye(2)), wider, measured, CATALOGUE)
    assert unsure.lab[0] == pytest.approx(3 * 36 / (36 + between + 8))
    assert unsure.u95 > 2 * shift.u95


def test_pairs_are_those_of_one_text_and_measure_only_what_they_differ_in() -> None:
    found = pieces(
        sample("a", "rim", GREY, pair="Door"), sample("b", "bonnet", GREY, pair="door "), sample("c", "rim", GREY),
        sample("d", "bonnet", GREY, pair="roof"),
    )  # fmt: skip
    assert {name: [piece.name for piece in members] for name, members in pairs_of(found).items()} == {
        "Door": ["a", "b"], "roof": ["d"],
    }  # fmt: skip
    mend = "give the exposed and the sheltered sample of one place the same text in the column pair"
    with pytest.raises(InputError) as caught:
        measured_effects(found[2:], CATALOGUE)
    assert str(caught.value) == f"`ageing`: no two samples are a pair; {mend}"
    twice = pieces(*(sample(name, "bonnet", GREY, pair="roof") for name in "ab"))
    with pytest.raises(InputError) as caught:
        measured_effects(twice, CATALOGUE)
    assert str(caught.value) == f"`ageing`: no pair holds one sample that aged and one that didn't; {mend}"
    still = replace(CATALOGUE, effects={"sun": replace(SUN, ageing=False)})
    with pytest.raises(InputError, match="no pair holds"):
        measured_effects(found[:2], still)


def test_the_tolerance_is_the_middle_of_evidence_readings_and_eye() -> None:
    """One reading of 0.04, the card read three times: 2.7955 √(0.04 / 3) = 0.3228 is the least that shows."""
    alone = pieces(sample("a", "rim", GREY), sample("b", "rim", GREY), sample("c", "rim", GREY, GREY))
    variances = [piece.reading_var * n for piece, n in zip(alone, (1, 1, 2), strict=True)]
    assert single_reading_var(alone) == pytest.approx(np.median(variances))
    alone = alone[:1]
    told = {}
    for u95, largest in ((0.754, 1.0), (1.4, 1.0), (1.0, 1.0), (0.2, 1.0), (0.2, 0.1), (0.9, 0.1)):
        found = tolerance_for(u95, alone, CATALOGUE, Use("dash", "a dash", largest))
        assert found.least == pytest.approx(2.7955 * np.sqrt(single_reading_var(alone) / 3))
        assert found.evidence == u95
        told[u95, largest] = (found.bound, found.value, found.why)
    eye = "the evidence is less certain than that, but the eye accepts no more on a dash"
    scatter = "nearer than that, a match can't be told from the evidence's own scatter"
    readings = "the readings can't show a smaller difference"
    least = np.ceil(100 * found.least) / 100
    assert told == {
        (0.754, 1.0): ("evidence", 0.75, scatter), (1.4, 1.0): ("eye", 1.0, eye),
        (1.0, 1.0): ("evidence", 1.0, scatter),
        (0.2, 1.0): ("readings", least, readings),
        (0.2, 0.1): ("readings", least, f"{readings}, though the eye would ask for it: read more often"),
        (0.9, 0.1): ("readings", least, f"{readings}, though the eye would ask for it: read more often"),
    }  # fmt: skip


def test_a_photographs_own_doubt_is_no_tolerance_however_many_there_are() -> None:
    told = replace(sample("photo", "rim", GREY, GREY, GREY), u95=2.5)
    by_photo, read = pieces(told), pieces(sample("a", "rim", GREY, GREY))
    use = Use("dash", "a dash", 1.0)
    assert tolerance_for(4.2, by_photo, CATALOGUE, use).value == 1.0
    assert tolerance_for(4.2, by_photo, CATALOGUE, use).least == USUAL_U95
    both = pieces(told, sample("a", "rim", GREY, GREY))
    assert tolerance_for(4.2, both, CATALOGUE, use).least == pytest.approx(
        tolerance_for(4.2, read, CATALOGUE, use).least, rel=0.5
    )
