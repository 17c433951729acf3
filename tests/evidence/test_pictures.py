"""Samples of one photograph share what it is off by: their covariance by hand, the mean by NumPy, and drawn truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.evidence_draws import CATALOGUE, SHELTERED, SURVIVOR, TIN, apart, draw, sample, some_colour
from finishmatch.colour import de00, de00_metric
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.evidence import Weighed, weigh_evidence
from finishmatch.evidence.certainty import certainty
from finishmatch.evidence.model import FLOOR_SD, make_model, pieces_of
from finishmatch.evidence.pictures import USUAL_OWN_U95, Seen, said_of_pictures, shared_covariance
from finishmatch.evidence.pool import paule_mandel, pooled_at
from finishmatch.readings import Reading
from finishmatch.readings.evidence_file import EvidenceSample

CENTRE = np.array([45.0, -5.0, -15.0])
KEPT = {"stirred": "yes", "strained": "yes", "dried_days": "14"}
TOLD = {"u95": 4.0, "u95_own": 0.5}  # as of a phone («common practice»; docs/accuracy.md)
SAME_CAMERA = CATALOGUE.settings.same_camera


def off(*by: float) -> np.ndarray:
    return CENTRE + np.array(by)


def seen(one: EvidenceSample, picture: str, **told: object) -> EvidenceSample:
    return replace(one, pictures=(picture,) if picture else (), **{**TOLD, **told})  # type: ignore[arg-type]


def weigh(*samples: EvidenceSample, forecast: bool = False) -> Weighed:
    return weigh_evidence(samples, CATALOGUE, CATALOGUE.use("whole-vehicle"), forecast=forecast)


def three(pictures: str, **told: object) -> list[EvidenceSample]:
    """A tin, a bracket and a rim, each of a picture."""
    kinds = (("tin", "tin", KEPT), ("bracket", "sheltered", {}), ("rim", "sheltered", {}))
    steps = ((0, 0, 0), (0.6, 0.2, -0.3), (-0.4, 0.3, 0.8))
    return [
        seen(sample(name, kind, [CENTRE + step], **more), picture, **told)
        for (name, kind, more), step, picture in zip(kinds, steps, pictures, strict=True)
    ]


def test_what_is_shared_by_hand() -> None:
    """Two of one picture, one of that and another, one by the same camera, one by another, one by an instrument."""
    a, b = frozenset("a"), frozenset("b")
    each = [Seen(4, a), Seen(1, a), Seen(4, a | b), Seen(4, frozenset("c")), Seen(4, frozenset("d"), "other"), Seen()]
    half = 0.8 + 0.2 / 2**0.5
    wanted = [
        [4, 1, 4 * half, 3.2, 0, 0],
        [1, 1, half, 0.8, 0, 0],
        [4 * half, half, 4, 3.2, 0, 0],
        [3.2, 0.8, 3.2, 4, 0, 0],
        [0, 0, 0, 0, 4, 0],
        [0, 0, 0, 0, 0, 0],
    ]
    np.testing.assert_allclose(shared_covariance(each, 0.8), wanted, atol=1e-12)
    r = np.random.default_rng(3)
    names = [frozenset(r.choice(list("abcd"), r.integers(1, 4)).tolist()) for _ in range(40)]
    many = [Seen(float(r.uniform(0, 5)), name, str(r.integers(2))) for name in names]
    assert np.linalg.eigvalsh(shared_covariance(many, 0.8))[0] > -1e-9


def test_of_a_reading_what_is_not_its_own_is_shared() -> None:
    tin, told, by_camera, loose, sure = pieces_of(
        [
            sample("tin", "tin", [CENTRE]),
            *(seen(sample(name, "tin", [CENTRE]), "roof.jpg") for name in ("told",)),
            seen(sample("by camera", "tin", [CENTRE]), "", u95_own=None, camera=" one  phone"),
            replace(sample("loose", "tin", [CENTRE]), u95=4.0),
            seen(sample("sure", "tin", [CENTRE]), "roof.jpg", u95_own=0.0),
        ],
        CATALOGUE, "D65", 10,
    )  # fmt: skip
    assert tin.seen.shared_var == loose.seen.shared_var == 0
    assert told.seen.shared_var == pytest.approx((4.0**2 - 0.5**2) / WITHIN_95**2)
    assert by_camera.seen.shared_var == pytest.approx((4.0**2 - USUAL_OWN_U95**2) / WITHIN_95**2)
    assert by_camera.seen.camera == "one phone"
    assert sure.seen.shared_var == pytest.approx((4 / WITHIN_95) ** 2 - FLOOR_SD**2)


@pytest.mark.parametrize("told", [{}, {"u95_own": None, "pictures": ()}, {"u95": None, "u95_own": None}])
def test_how_photographs_scatter_says_nothing_of_an_instrument(told: dict[str, object]) -> None:
    """Six photographs of a rim, ΔE00 1 apart, beside two samples that an instrument read, one of them twice."""
    tin, bracket = sample("tin", "tin", [CENTRE, off(0.1, 0, 0)]), sample("bracket", "sheltered", [CENTRE])
    far = list(CENTRE + np.random.default_rng(0).standard_normal((6, 3)))
    rim = replace(sample("rim", "sheltered", far), **{**TOLD, "pictures": tuple("abcdef"), **told})  # type: ignore[arg-type]
    alone = pieces_of([tin, bracket], CATALOGUE, "D65", 10)
    beside = pieces_of([tin, bracket, rim], CATALOGUE, "D65", 10)
    assert [one.reading_var for one in beside[:2]] == pytest.approx([one.reading_var for one in alone])
    more = sample("another", "sheltered", far)  # of an instrument they would
    assert pieces_of([tin, bracket, more], CATALOGUE, "D65", 10)[1].reading_var > 2 * alone[1].reading_var


def test_the_mean_is_that_of_generalised_least_squares() -> None:
    """Two of one picture, one of the next, one by an instrument: the covariance written out, whitened, and solved."""
    photographed = three("aab")
    read = sample("hood", "sheltered", [off(0.2, -0.4, 0.1)])
    model = make_model(pieces_of([*photographed, read], CATALOGUE, "D65", 10), CATALOGUE, CENTRE, frozenset())
    spread, vehicle, usual = np.array([0.35, 0.45, 0.45, 0.45]), np.array([0, 0.3, 0.3, 0.3]), 0.15**2
    own, whole = (0.5 / WITHIN_95) ** 2, (4 / WITHIN_95) ** 2
    photo = (whole - own) * np.array([[1, 1, 0.8, 0], [1, 1, 0.8, 0], [0.8, 0.8, 1, 0], [0, 0, 0, 0]])
    one_way = np.diag([own, own, own, usual] + spread**2) + np.outer(vehicle, vehicle) + photo
    whole_cov = np.kron(one_way, np.eye(3))
    for names, sds in (([0], [0.25, 0.0, 0.3]), ([1, 2, 3], [0.25, 0.0, 0.4])):  # tin-binder; dark-yellowed of L* 45
        load = np.kron(np.isin(range(4), names)[:, None], de00_metric(CENTRE) * sds)
        whole_cov = whole_cov + load @ load.T
    np.testing.assert_allclose(model.V, whole_cov, atol=1e-9)
    root = np.linalg.cholesky(whole_cov)
    X = np.tile(np.eye(3), (4, 1))
    mean, *_ = np.linalg.lstsq(np.linalg.solve(root, X), np.linalg.solve(root, model.y.reshape(-1)))
    found = pooled_at(model.y, model.V, model.B, 0.0)
    np.testing.assert_allclose(found.mean, mean, atol=1e-9)
    np.testing.assert_allclose(found.covariance, np.linalg.inv(X.T @ np.linalg.inv(whole_cov) @ X), atol=1e-9)
    weights = np.trace(found.weights, axis1=1, axis2=2) / 3
    assert weights[3] > 0.7  # the instrument's, though three were photographed
    np.testing.assert_allclose(model.readings, np.diag([own, own, own, usual]) + photo, atol=1e-12)


def test_thirty_samples_of_a_photograph_are_no_surer_than_it() -> None:
    many = [seen(sample(f"bracket {i}", "sheltered", [CENTRE]), "roof.jpg") for i in range(30)]
    (alone,) = pieces_of([many[0]], CATALOGUE, "D65", 10)
    least = WITHIN_95 * alone.seen.shared_var**0.5
    assert least == pytest.approx(4, abs=0.05)
    assert weigh(*many).colours[0].u95 > least
    loose = [replace(one, pictures=(), u95_own=None) for one in many]
    assert weigh(*loose).colours[0].u95 < 0.6 * least
    # by thirty pictures of one camera little less, by thirty cameras much
    pictures = [replace(one, pictures=(str(i),)) for i, one in enumerate(many)]
    cameras = [replace(one, camera=str(i)) for i, one in enumerate(pictures)]
    assert weigh(*pictures).colours[0].u95 == pytest.approx(SAME_CAMERA**0.5 * least, rel=0.1)
    assert weigh(*cameras).colours[0].u95 < 0.6 * least


def test_scatter_is_judged_by_what_is_not_shared() -> None:
    """ΔE00 2.5 between a bracket and another is little for two photographs, and much within one."""
    apart_by = [sample(name, "sheltered", [off(step, 0, 0)]) for name, step in (("a", 0), ("b", 1), ("c", 4))]
    one = weigh(*(seen(each, "roof.jpg") for each in apart_by)).colours[0]
    loose = weigh(*(replace(each, u95=4.0) for each in apart_by)).colours[0]
    assert loose.between_de00 == loose.beyond_kinds_de00 == 0
    assert one.beyond_kinds_de00 > 1
    assert one.between_de00 > one.beyond_kinds_de00


def photographed(samples: list[EvidenceSample], truth: np.ndarray, r: np.random.Generator) -> list[EvidenceSample]:
    """Samples as one photograph has them: off alike by a phone's error, and each a little by itself."""
    back = np.linalg.inv(de00_metric(truth))
    own, whole = TOLD["u95_own"] / WITHIN_95, TOLD["u95"] / WITHIN_95
    alike = (whole**2 - own**2) ** 0.5 * r.standard_normal(3)
    found = []
    for one in samples:
        lab = one.reading.lab_in("D65", 10) + back @ (alike + own * r.standard_normal(3))
        found.append(replace(seen(one, "roof.jpg"), reading=Reading(one.name, lab[None])))
    return found


@pytest.mark.slow
def test_what_is_stated_holds_of_one_photograph_as_drawn() -> None:
    """A normal error of the picture, common to three; taken for three errors it would hold two times in three."""
    r = np.random.default_rng(31)
    told, loose = [], []
    for _ in range(120):
        truth = some_colour(r)
        samples = photographed(draw([TIN, SHELTERED, SHELTERED], truth, r), truth, r)
        for held, given in ((told, samples), (loose, [replace(one, pictures=(), u95_own=None) for one in samples])):
            colour = weigh(*given).colours[0]
            held.append(float(de00(truth, colour.lab)) <= colour.u95)
    assert np.mean(told) > 0.92
    assert np.mean(loose) < 0.8


@pytest.mark.slow
def test_a_stranger_in_one_photograph_is_found() -> None:
    """ΔE00 6 from five others, as of another repaint: less than two photographs may differ by."""
    r = np.random.default_rng(32)
    told = loose = wrong = 0
    for _ in range(25):
        truth = some_colour(r)
        good = draw([TIN, SHELTERED, SHELTERED, SURVIVOR, TIN], truth, r)
        stranger = replace(draw([SURVIVOR], apart(truth, 6.0, r), r)[0], name="stranger")
        samples = photographed([*good, stranger], truth, r)
        out = {item.piece.name for item in weigh(*samples).samples if item.outlier}
        told += "stranger" in out
        wrong += bool(out - {"stranger"})
        alone = weigh(*(replace(one, pictures=(), u95_own=None) for one in samples))
        loose += any(item.outlier for item in alone.samples)
    assert told >= 21
    assert wrong == 0
    assert loose <= 10


def test_one_more_photograph_by_the_same_camera_brings_little_and_an_instrument_much() -> None:
    def kinds(found: Weighed) -> dict[str, float]:
        return {one.kind: one.u95 for one in found.colours[0].one_more}

    found = weigh(*three("aaa"), forecast=True)
    more = kinds(found)
    assert 0.85 * found.colours[0].u95 < more["leftover tin"] < found.colours[0].u95 + 0.05
    read = sample("hood", "sheltered", [CENTRE])
    (with_one,) = weigh(*three("aaa"), read).colours
    assert with_one.u95 < 0.6 * found.colours[0].u95
    # the model as the forecast has it
    again = seen(sample("one more", "tin", [CENTRE], **KEPT), "another.jpg")
    pieces = pieces_of([*three("aaa"), again], CATALOGUE, "D65", 10)
    model = make_model(pieces, CATALOGUE, CENTRE, frozenset())
    mean = paule_mandel(model.y, model.V, model.B).mean
    assert more["leftover tin"] == pytest.approx(certainty(model, mean, CATALOGUE.settings).u95, rel=0.05)


OF_ONE = "tin, bracket and rim are of one photograph: what it is off by they share"
OF_TWO = (
    "tin, bracket and rim are of several photographs, taken to be by one camera (an evidence file may name others): "
    "most of what these are off by they share"
)
MORE = "; an instrument's reading of one of them would tell more than another sample"


@pytest.mark.parametrize(
    ("pictures", "camera", "read", "said"),
    [
        ("aaa", "", False, OF_ONE + MORE),
        ("aaa", "", True, OF_ONE),
        ("aab", "", False, OF_TWO + MORE),
        ("abc", "grey phone", True, OF_TWO.replace(
            "taken to be by one camera (an evidence file may name others)", "by the camera grey phone")),
    ],
)  # fmt: skip
def test_what_a_painter_reads(pictures: str, camera: str, read: bool, said: str) -> None:
    more = [sample("hood", "sheltered", [CENTRE])] if read else []
    assert weigh(*three(pictures, camera=camera), *more).warnings.count(said) == 1


def test_nothing_is_said_where_nothing_is_shared() -> None:
    names = ["a", "b", "c"]
    assert said_of_pictures(names, [Seen(), Seen(), Seen(1.0, frozenset("p"))]) == []
    assert said_of_pictures(names, [Seen(1.0, frozenset("p"), one) for one in ("x", "y", "z")]) == []
    both = said_of_pictures(names[:2], 2 * [Seen(1.0, frozenset("pq"))])
    assert both == ["a and b are of the same photographs: what these are off by they share" + MORE]
    many = said_of_pictures(list("abcdef"), 6 * [Seen(1.0, frozenset("p"))])
    assert many[0].startswith("a, b, c, d and 2 more are of one photograph")


def test_samples_with_a_doubt_and_no_picture_are_asked_about() -> None:
    asked = "tin and bracket come with a u95 and are taken to be off each by itself: where one photograph or camera"
    loose = [replace(one, pictures=(), u95_own=None) for one in three("aaa")]
    assert sum(text.startswith(asked) for text in weigh(*loose[:2]).warnings) == 1
    assert not any("come with a u95" in text for text in weigh(loose[0], *three("aaa")[1:]).warnings)
