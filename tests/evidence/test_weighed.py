"""What weighing says in words and figures, at the thresholds where it begins to say it; spectra and targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from booth.evidence_draws import CATALOGUE, sample
from finishmatch.colour import (
    LIGHTS,
    de00,
    de00_metric,
    reflectance_to_lab,
    reflectance_to_lab_slope,
)
from finishmatch.errors import InputError
from finishmatch.evidence import Weighed, weigh_evidence
from finishmatch.evidence.pool import paule_mandel, robust_mean
from finishmatch.evidence.spectrum import combine_spectra, turned_to
from finishmatch.evidence.target import colour_target
from finishmatch.readings import Reading
from finishmatch.readings.evidence_file import EvidenceSample

KEPT = {"stirred": "yes", "strained": "yes", "dried_days": "14"}
BLUE = [45.0, -5.0, -15.0]
GREEN = 0.2 + 0.25 * np.exp(-(((np.arange(400, 701, 10) - 520) / 60) ** 2))


def weigh(samples: Sequence[EvidenceSample], use: str = "whole-vehicle", **options: object) -> Weighed:
    return weigh_evidence(samples, CATALOGUE, CATALOGUE.use(use), **{"forecast": False, **options})  # type: ignore[arg-type]


def tin(name: str, lab: Sequence[float]) -> EvidenceSample:
    return sample(name, "tin", [lab], **KEPT)


def moved(lab: Sequence[float], *by: float) -> list[float]:
    return [a + b for a, b in zip(lab, by, strict=True)]


def test_what_a_sample_lacks_is_told_in_words() -> None:
    told = weigh([sample(name, "", [BLUE]) for name in "abcdef"]).warnings
    assert told[0] == (
        "no kind is given for a, b, c, d and 2 more: say what it is in the column kind, and it counts for more"
    )
    told = weigh([sample(name, "", [BLUE]) for name in "abcd"]).warnings
    assert told[0].startswith("no kind is given for a, b, c, d: say")
    read = [
        replace(tin(name, BLUE), reading=Reading(name, np.array([BLUE]), geometry=how, warnings=("a note",)))
        for name, how in (("a", "di8"), ("b", "45/0"), ("c", ""))
    ]
    assert weigh(read).warnings == (
        "a note",
        "the samples were read in different geometries (45/0, di8): gloss counts as colour here; read them all the "
        "same way",
    )
    assert weigh([read[0], read[2]]).warnings == ("a note",)
    assert weigh([tin("a", BLUE)]).warnings[-1] == "the target rests on one sample: nothing else confirms it"


def test_a_sample_set_aside_is_told_with_how_far_it_lies() -> None:
    good = [tin(f"tin {i}", moved(BLUE, i / 10, 0, 0)) for i in range(3)]
    found = weigh([*good, sample("wing", "survivor", [moved(BLUE, 9, 0, 0)], sheltered="yes")])
    wing = found.samples[-1]
    assert (wing.outlier, wing.weight, wing.colour, wing.pull, wing.pull_words) == (True, 0.0, 0, None, ())
    away = float(de00(found.colours[0].lab, moved(BLUE, 9, 0, 0)))
    assert wing.de00_to_target == pytest.approx(away)
    assert (
        f"wing is set aside: ΔE00 {away:.1f} from the target, more than its kind and its reading allow; look at it "
        "again (a repaint, another colour, a slip of the instrument)"
    ) in found.warnings
    assert found.picked is found.colours[0]
    shares = found.shares_of(found.colours[0])
    assert [name for name, _ in shares] == ["tin 0", "tin 1", "tin 2", "wing"]
    assert [share for _, share in shares] == [round(item.weight, 4) for item in found.samples]
    np.testing.assert_allclose(wing.lab_as_it_was, moved(BLUE, 9.1, 0, -0.4), atol=0.02)


def test_two_colours_are_told_with_what_they_differ_in() -> None:
    first = [replace(tin(f"first {i}", moved(BLUE, i / 5, 0, 0)), year="1934", vehicle="van") for i in range(3)]
    later = [
        replace(sample(f"later {i}", "sheltered", [moved(BLUE, -9 + i / 5, 7, -7)]), year="1951", vehicle="cab")
        for i in range(2)
    ]
    found = weigh([*later, *first])
    one, two = found.colours
    assert [colour.names for colour in found.colours] == [("first 0", "first 1", "first 2"), ("later 0", "later 1")]
    assert [colour.number for colour in found.colours] == [1, 2]
    apart = float(de00(one.lab, two.lab))
    assert found.warnings[:4] == (
        f"there are 2 colours here, ΔE00 {apart:.1f} apart: a repaint, another year, or age; they are not averaged",
        "they differ in year: colour 1 1934, colour 2 1951",
        "they differ in vehicle: colour 1 van, colour 2 cab",
        "they differ in kind: colour 1 leftover tin, colour 2 sheltered paint",
    )
    assert found.picked is None
    # until one is picked, what the first shows
    assert [item.weight > 0 for item in found.samples] == [False, False, True, True, True]
    assert [item.colour for item in found.samples] == [2, 2, 1, 1, 1]
    assert [name for name, _ in found.shares_of(two)] == ["later 0", "later 1"]
    picked = weigh([*later, *first], pick=2)
    assert picked.picked is picked.colours[1]
    assert [item.weight for item in picked.samples] == pytest.approx([0.5, 0.5, 0, 0, 0], abs=0.01)
    assert picked.samples[0].de00_to_target < 1
    alike = weigh([*(replace(item, year="") for item in later), *(replace(item, vehicle="cab") for item in first)])
    assert not any(f"differ in {what}" in text for text in alike.warnings for what in ("year", "vehicle"))
    with pytest.raises(InputError) as caught:
        weigh([*first], pick=2)
    assert str(caught.value) == "`pick`: there is no colour 2; the evidence holds 1: give 1"
    with pytest.raises(InputError, match="there is no colour 0; the evidence holds 2: give 1 to 2"):
        weigh([*later, *first], pick=0)


def test_of_three_colours_it_is_said_how_far_the_first_two_lie_apart() -> None:
    three = [tin(f"{step} {i}", moved(BLUE, step, i / 5, 0)) for step in (0, 8, 24) for i in range(3)]
    found = weigh(three)
    assert len(found.colours) == 3
    apart = float(de00(found.colours[0].lab, found.colours[1].lab))
    assert found.warnings[0] == (
        f"there are 3 colours here, ΔE00 {apart:.1f} apart (the first two): a repaint, another year, or age; "
        f"they are not "
        "averaged"
    )
    assert not any("they differ in" in text for text in found.warnings)


def test_a_sample_that_alone_moves_the_target_is_asked_about() -> None:
    """Of two tins each moves the target by half of what lies between them."""
    for apart, asked in ((1.6, True), (0.6, False)):
        found = weigh([tin("pale", moved(BLUE, apart, 0, 0)), tin("deep", BLUE)])
        lab, tolerance = found.colours[0].lab, found.colours[0].tolerance.value
        pale, deep = found.samples
        assert pale.pull == pytest.approx(float(de00(deep.lab_as_it_was, lab)), abs=1e-3)
        assert deep.pull == pytest.approx(float(de00(pale.lab_as_it_was, lab)), abs=1e-3)
        assert (pale.pull_words[:1], deep.pull_words[:1]) == (("lighter",), ("darker",)) or not asked
        assert (pale.pull > 0.5 * tolerance) == asked
        words = "is it of the same paint, and as sound as it is taken for? If not, leave it out (`without`) and say why"
        told = f"pale alone moves the target by ΔE00 {pale.pull:.1f} (lighter): {words}"
        assert (told in found.warnings) == asked


def test_scatter_is_told_by_what_readings_and_kinds_explain() -> None:
    """Two tins apart by d: d² / (2 (0.15² + t)) = 3 by readings alone; the kinds explain 0.35² more."""
    found = weigh([tin("pale", [52.0, 0, 0]), tin("deep", [48.0, 0, 0])])
    colour = found.colours[0]
    d = float(np.linalg.norm(de00_metric(colour.lab) @ [4.0, 0, 0]))
    assert colour.between_de00 == pytest.approx(np.sqrt(3 * (d**2 / 6 - 0.15**2)), rel=1e-3)
    assert colour.beyond_kinds_de00 == pytest.approx(np.sqrt(3 * (d**2 / 6 - 0.15**2 - 0.35**2)), rel=1e-3)
    assert (
        f"the samples of the target differ by ΔE00 {colour.beyond_kinds_de00:.1f} more than their kinds explain: look "
        "at them again; one more sample would help most"
    ) in found.warnings
    u95, allowed = colour.u95, colour.tolerance.value
    assert u95 > 1.5 * allowed
    assert (
        f"the target is known to ΔE00 {u95:.2f} only: a match within {allowed:.2f} of it may be {u95 + allowed:.1f} "
        "from the colour as it was"
    ) in found.warnings
    near = weigh([tin("pale", [50.3, 0, 0]), tin("deep", [49.7, 0, 0])])
    assert near.colours[0].beyond_kinds_de00 == 0
    assert near.warnings == ()


def test_other_ways_of_taking_the_mean_are_shown() -> None:
    """Of a tin and a chip the readings alone count alike; the kinds give the tin more."""
    found = weigh([tin("tin", moved(BLUE, 0.5, 0, 0)), sample("chip", "chip", [moved(BLUE, 0, 0, 1)])]).colours[0]
    assert set(found.estimates) == {"paule_mandel", "dersimonian_laird", "robust", "by_readings_alone"}
    as_they_were = [moved(BLUE, 0.5, 0, -0.2), [BLUE[0], -5 / 0.95 + 0.01, -15]]
    alone = found.estimates["by_readings_alone"]
    assert alone[0] == pytest.approx(np.mean([lab[0] for lab in as_they_were]), abs=0.01)
    np.testing.assert_allclose(found.estimates["paule_mandel"], found.lab)
    for estimate in found.estimates.values():
        assert float(de00(found.lab, estimate)) < 1


def test_a_target_that_hangs_on_its_farthest_sample_says_so() -> None:
    good = [tin(f"tin {i}", moved(BLUE, i / 10, 0, 0)) for i in range(5)]
    found = weigh([*good, tin("far", moved(BLUE, 1.6, 0, 0))])
    (colour,) = found.colours
    off = float(de00(colour.lab, colour.estimates["robust"]))
    told = f"the target depends on its farthest sample: with that one counted less, the target moves by ΔE00 {off:.1f}"
    assert (told in found.warnings) == (off > colour.u95 / 2)
    assert colour.estimates["robust"][0] < colour.lab[0]


def test_what_one_more_sample_would_bring_goes_by_its_kind() -> None:
    door = sample("door", "exposed", [BLUE], polished="after")
    found = weigh([door], forecast=True).colours[0]
    assert [one.kind for one in found.one_more] == [
        "leftover tin", "sheltered paint", "exposed paint", "another vehicle", "chip or brochure", "photograph",
    ]  # fmt: skip
    u95 = {one.kind: one.u95 for one in found.one_more}
    assert u95["leftover tin"] < u95["sheltered paint"] < u95["another vehicle"] < u95["exposed paint"] < found.u95
    for one in found.one_more:
        assert one.tolerance == (round(one.u95, 2) if one.u95 < 1 else 1.0)


def test_only_a_pale_colour_under_daylight_is_judged_as_a_white() -> None:
    cream = [92.0, 0.5, 9.0]
    (found,) = weigh([sample("roof", "sheltered", [cream])]).colours
    assert found.off_white is not None
    told = weigh([sample("roof", "sheltered", [cream])]).warnings
    assert any(
        text.startswith(
            f"the target is a cream, not a white: yellowness {found.off_white.yellowness:.0f} (ASTM E313; a"
        )
        for text in told
    )
    spectral = EvidenceSample("roof", "tin", Reading("roof", np.linspace(0.6, 0.8, 31)[None]), KEPT)
    use = CATALOGUE.use("touch-in")
    assert weigh_evidence([spectral], CATALOGUE, use, "A", 10, forecast=False).colours[0].off_white is None


def test_pale_paint_that_yellowed_in_the_dark_is_to_be_left_in_daylight() -> None:
    pale = [92.0, 0.5, 9.0]
    names = ["roof", "boot", "door", "dash", "sill"]
    told = weigh([sample(name, "sheltered", [pale]) for name in names]).warnings
    assert (
        "pale paint kept in the dark yellows, and daylight bleaches most of it: leave roof, boot, door, dash and 1 "
        "more in daylight for a week or two and read again before a cream is taken for the colour; give the days in "
        "daylight_days; say in the column binder what it is (linseed yellows most, alkyd least)"
    ) in told
    told = weigh([sample("roof", "sheltered", [pale], binder="oil")]).warnings
    assert any(text.endswith("for the colour; give the days in daylight_days") for text in told)
    assert not any("daylight" in text for text in weigh([sample("roof", "sheltered", [[92, 0, 4.0]])]).warnings)
    assert any("daylight" in text for text in weigh([sample("roof", "sheltered", [[92, 0, 4.1]])]).warnings)
    yellow = weigh([sample("door", "exposed", [[75, 20, 70]], polished="after")]).warnings
    assert (
        "a chrome yellow or orange may darken outdoors where others fade: if door may hold one, write chrome in the "
        "column pigment"
    ) in yellow


@pytest.mark.parametrize(
    ("chroma", "hue", "told"),
    [(40, 52, True), (40, 45, False), (40, 108, True), (40, 115, False), (33, 80, True), (28, 80, False)],
)
def test_chrome_is_thought_of_where_a_colour_is_a_strong_yellow(chroma: float, hue: float, told: bool) -> None:
    """As read a tenth of the chroma is lost and b* is up by a half: 36 and more, from 50° to 110°."""
    lab = [70.0, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))]
    warned = weigh([sample("door", "exposed", [lab], polished="after")]).warnings
    assert any("chrome yellow" in text for text in warned) == told


def test_the_robust_mean_of_samples_on_both_sides_by_hand() -> None:
    """±1 and ±3 with variance 1: the median square, 5, is 3/4 of the median of chi² (0.4549) of 1 + t."""
    y = np.array([[-3.0], [-1.0], [1.0], [3.0]])
    own = np.ones((4, 1, 1))
    found = robust_mean(y, np.eye(4), own)
    tau2 = 5 / (0.75 * chi2.median(1)) - 1
    assert found.tau2 == pytest.approx(tau2, rel=1e-6)
    assert found.mean[0] == pytest.approx(0, abs=1e-12)
    squared = y[:, 0] ** 2 / (1 + tau2)
    variance = 1 + tau2 + (1 + tau2) * np.maximum((4 + squared) / 5 - 1, 0)
    assert found.covariance[0, 0] == pytest.approx(1 / (1 / variance).sum(), rel=1e-6)
    np.testing.assert_allclose(found.weights[:, 0, 0], (1 / variance) / (1 / variance).sum())


def test_the_robust_mean_rests_on_weights_by_distance_from_itself() -> None:
    """Lange, Little and Taylor: each sample's variance goes up as (4 + d²) / 7, from the mean that comes out."""
    r = np.random.default_rng(4)
    y = r.standard_normal((7, 3))
    y[6] += [5, 0, 2]
    own = np.array([(0.1 + 0.1 * i) * np.eye(3) for i in range(7)])
    V = np.kron(np.diag([0.1 + 0.1 * i for i in range(7)]), np.eye(3)) + 0.2
    found = robust_mean(y, V, own)
    scale = own + found.tau2 * np.eye(3)
    squared = np.array([off @ np.linalg.solve(s, off) for off, s in zip(y - found.mean, scale, strict=True)])
    assert np.median(squared) == pytest.approx(chi2.median(3) * 6 / 7, rel=1e-3)
    widened = V + found.tau2 * np.eye(21)
    for i in range(7):
        widened[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] += scale[i] * max((4 + squared[i]) / 7 - 1, 0)
    X = np.tile(np.eye(3), (7, 1))
    inverse = np.linalg.inv(widened)
    np.testing.assert_allclose(found.covariance, np.linalg.inv(X.T @ inverse @ X), rtol=1e-3)
    np.testing.assert_allclose(found.mean, found.covariance @ X.T @ inverse @ y.reshape(-1), atol=1e-3)
    # a shared place changes what the mean allows, not how far a sample lies
    alone = robust_mean(y[:1], np.eye(3), np.eye(3)[None])
    np.testing.assert_allclose(alone.mean, y[0])
    np.testing.assert_allclose(alone.covariance, np.eye(3))
    assert alone.tau2 == 0
    assert paule_mandel(y[:1], np.eye(3)).covariance == pytest.approx(np.eye(3))


def test_spectra_are_weighed_by_what_each_counts_for() -> None:
    """Two greens that count 3 to 1, one that counts nothing, one without a spectrum; sd over 1 - 0.75² - 0.25²."""
    pale = GREEN + 0.02
    labs = np.array([reflectance_to_lab(one) for one in (GREEN, pale, pale, pale)])
    mean = 0.75 * GREEN + 0.25 * pale
    found = combine_spectra(
        "abcd", [GREEN, pale, pale, None], labs, np.array([3.0, 1.0, 0.0, 2.0]), reflectance_to_lab(mean), "D65", 10
    )
    assert found is not None
    assert found.names == ("a", "b")
    np.testing.assert_allclose(found.reflectance, mean, atol=1e-8)
    assert found.sd is not None
    np.testing.assert_allclose(found.sd, np.sqrt((0.75 * 0.005**2 + 0.25 * 0.015**2) / 0.375), rtol=1e-5)
    alone = combine_spectra("ab", [GREEN, pale], labs[:2], np.array([1.0, 0.0]), labs[0], "D65", 10)
    assert alone is not None
    assert (alone.sd, alone.names) == (None, ("a",))
    nearly = combine_spectra("ab", [GREEN, pale], labs[:2], np.array([1.0, 1e-8]), labs[0], "D65", 10)
    assert nearly is not None
    assert nearly.sd is None
    assert combine_spectra("a", [GREEN], labs[:1], np.zeros(1), labs[0], "D65", 10) is None
    assert combine_spectra("a", [None], labs[:1], np.ones(1), labs[0], "D65", 10) is None


@pytest.mark.parametrize(("light", "observer"), [("D65", 10), ("A", 2)])
def test_no_other_change_to_a_spectrum_with_the_same_colour_is_smoother(light: str, observer: int) -> None:
    """The bend of the factor's logarithm, and a thousandth of its size, can't fall along what no eye sees."""
    to = reflectance_to_lab(GREEN, light, observer) + np.array([0.3, -0.2, 0.4])
    turned = turned_to(GREEN, to, light, observer)
    np.testing.assert_allclose(reflectance_to_lab(turned, light, observer), to, atol=1e-8)
    change = np.log(turned / GREEN)
    unseen = np.linalg.svd(reflectance_to_lab_slope(turned, light, observer) * turned)[2][3:]
    bend = np.diff(np.eye(31), n=2, axis=0)
    pull = (bend.T @ bend + 1e-3 * np.eye(31)) @ change
    assert np.abs(unseen @ pull).max() < 0.02 * np.linalg.norm(pull)


def test_a_spectrum_turned_far_stays_a_reflectance() -> None:
    for lab in ([99.0, 0.0, 0.0], [1.0, 0.0, 0.0], [60.0, 90.0, 60.0]):
        turned = turned_to(GREEN, np.array(lab), "D65", 10)
        assert (turned >= 0).all()
        assert (turned <= 1.2).all()
    black = turned_to(np.zeros(31), np.array([10.0, 0, 0]), "D65", 10)
    np.testing.assert_allclose(reflectance_to_lab(black), [10, 0, 0], atol=1e-6)


def test_a_target_is_what_its_reading_says_in_each_light() -> None:
    spectral = Reading("green", np.array([GREEN, GREEN]), warnings=("a note",))
    found = colour_target(spectral, ("D65", "A"), 2)
    np.testing.assert_allclose(found.labs, [reflectance_to_lab(GREEN, light, 2) for light in ("D65", "A")])
    assert (found.name, found.lights, found.observer, found.warnings) == ("green", ("D65", "A"), 2, ("a note",))
    assert found.unseen_lights == ()
    single = colour_target(replace(spectral, repeats=GREEN[None]), ("D65", "A"), 2)
    assert single.reading_sd == pytest.approx(found.reading_sd * np.sqrt(2))
    paler = np.stack([GREEN, GREEN + 0.03])
    labs = np.stack([reflectance_to_lab(paler, light, 2) for light in ("D65", "A")], axis=1)
    apart = de00(found.labs, labs)
    np.testing.assert_allclose(found.differences(paler), apart, atol=1e-9)
    np.testing.assert_allclose(found.distances(paler), apart, atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm(found.vectors(paler), axis=-1), apart, atol=1e-9)
    far = replace(found, far=True)
    np.testing.assert_allclose(far.vectors(paler), labs - found.labs, atol=1e-9)
    np.testing.assert_allclose(far.distances(paler), np.linalg.norm(labs - found.labs, axis=-1), atol=1e-9)
    np.testing.assert_allclose(far.differences(paler), apart, atol=1e-9)
    for target in (found, far):
        vectors, slope = target.vectors_and_slope(paler[1])
        np.testing.assert_allclose(vectors, target.vectors(paler[1]), atol=1e-9)
        assert slope.shape == (2, 3, 31)
        step = 1e-6 * np.sin(np.arange(31))
        by_steps = (target.vectors(paler[1] + step) - target.vectors(paler[1] - step)) / 2e-6
        np.testing.assert_allclose(slope @ (step / 1e-6), by_steps, atol=2e-3)


def test_a_target_of_lab_alone_is_judged_in_its_own_light() -> None:
    chip = Reading("chip", np.array([BLUE]), "A", 2, warnings=("a note",))
    found = colour_target(chip, ("D65", "A", "F11"), 10)
    assert (found.lights, found.observer, found.reflectance, found.unseen_lights) == (("A",), 2, None, ("D65", "F11"))
    np.testing.assert_allclose(found.labs, [BLUE])
    assert found.warnings == (
        "a note",
        "only Lab under A, 2° is known of chip: the match is made there; without a spectrum nothing can be promised in "
        "another light (metamerism)",
    )
    assert "F11" in LIGHTS
    with pytest.raises(InputError) as caught:
        colour_target(chip, (), 10)
    assert str(caught.value) == "`lights`: no light is named; name at least one, for example D65"
