"""Readings of two geometries: brought together by the surface of the film, with the doubt that leaves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.kubelka_munk import measured
from finishmatch.colour import WAVELENGTHS_NM, de00, reflectance_to_lab
from finishmatch.colour.grid import GEOMETRIES
from finishmatch.errors import InputError
from finishmatch.optics.geometry import convert_geometry, fresnel, full_gloss_60
from finishmatch.optics.surface import Surface, fresnel_diffuse_internal
from finishmatch.readings import Reading
from finishmatch.readings.convert_geometry import read_likewise

Cli = Callable[..., object]
INSIDE = np.linspace(0.02, 0.95, 31)
FULL = full_gloss_60(1.5)


@pytest.mark.parametrize(
    ("angle", "index", "by_hand"),
    [(0, 1.5, 0.0400), (45, 1.5, 0.0502), (60, 1.5, 0.0892), (60, 1.567, 0.1001), (89.999, 1.5, 1.0)],
)
def test_fresnel_is_what_the_equations_give_by_hand(angle: float, index: float, by_hand: float) -> None:
    """Fresnel's equations, worked by hand; 10.01 % is what ISO 2813 gives for the black glass of index 1.567."""
    assert fresnel(index, angle) == pytest.approx(by_hand, abs=2e-4)


def test_the_fullest_gloss_of_a_film() -> None:
    """ISO 2813: 100 for an index of 1.567; by Fresnel 0.0892 / 0.1001 for 1.5."""
    assert full_gloss_60(1.567) == pytest.approx(100)
    assert full_gloss_60(1.5) == pytest.approx(89.1, abs=0.1)


@pytest.mark.parametrize("index", [1.4, 1.5, 1.6])
def test_a_glossy_film_without_its_gloss_is_saundersons(index: float) -> None:
    """Saunderson 1942, closed form: with the specular part R = k1 + T, without it T."""
    with_gloss, without = (
        measured(INSIDE, Surface(fresnel(index, 8), fresnel_diffuse_internal(index), specular))
        for specular in (True, False)
    )
    gloss = full_gloss_60(index)
    np.testing.assert_allclose(convert_geometry(with_gloss, "di8", "de8", index, gloss)[0], without, atol=1e-12)
    np.testing.assert_allclose(convert_geometry(without, "de8", "di8", index, gloss)[0], with_gloss, atol=1e-12)


def test_a_45_0_reading_is_what_goes_in_at_45_and_comes_out_upright() -> None:
    """By hand: (1 - F45)(1 - F0)/n² Ri/(1 - k2 Ri), the radiance factor of a film that scatters evenly inside."""
    n, k2 = 1.5, fresnel_diffuse_internal(1.5)
    by_hand = (1 - 0.0502399) * (1 - 0.04) / n**2 * INSIDE / (1 - k2 * INSIDE)
    sphere = measured(INSIDE, Surface(fresnel(n, 8), k2, True))
    np.testing.assert_allclose(convert_geometry(sphere, "di8", "45/0", n, FULL)[0], by_hand, rtol=1e-6)


def test_a_45_0_reading_lies_some_hundredths_above_the_sphere_without_gloss() -> None:
    """1.046 at an index of 1.5: (1 - 0.0502)(1 - 0.0400) / ((1 - 0.0400)(1 - 0.0918)), by hand."""
    ratio = convert_geometry(INSIDE, "de8", "45/0", 1.5, FULL)[0] / INSIDE
    np.testing.assert_allclose(ratio, 1.0458, atol=2e-4)


def test_light_from_inside_spreads_so_that_a_sphere_collects_all_of_it() -> None:
    """What leaves upright, spread over the hemisphere by Fresnel and Snell, adds up to 1 - k2 (numerical integral)."""
    n = 1.5
    outside = np.radians((np.arange(9000) + 0.5) / 100)
    leaving = np.array([1 - fresnel(n, float(np.degrees(angle))) for angle in outside]) / n**2
    collected = (leaving * 2 * np.cos(outside) * np.sin(outside)).sum() * np.radians(0.01)
    assert collected == pytest.approx(1 - fresnel_diffuse_internal(n), abs=1e-4)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    st.sampled_from(GEOMETRIES),
    st.sampled_from(GEOMETRIES),
    st.floats(1.35, 1.75),
    st.floats(40, 100),
    st.floats(0.1, 1),
)
def test_there_and_back_is_where_one_was(was: str, wanted: str, index: float, gloss: float, level: float) -> None:
    there, sd = convert_geometry(np.full(31, level), was, wanted, index, gloss)
    back, _ = convert_geometry(there, wanted, was, index, gloss)
    np.testing.assert_allclose(back, level, atol=1e-9)
    assert np.isfinite(sd).all()
    assert (sd > 0).all() == (was != wanted)


def test_the_less_gloss_the_more_is_left_open() -> None:
    read = np.full(31, 0.2)
    doubts = [convert_geometry(read, "di8", "de8", 1.5, gloss)[1][0] for gloss in (89, 85, 70, 55, 40)]
    assert doubts == sorted(doubts)
    assert doubts[0] < 0.0005
    assert doubts[-1] > 0.008
    # half the gloss is never worse known than that all or none of it was trapped
    assert doubts[-1] < fresnel(1.5, 8) / np.sqrt(12) + 0.001


def test_the_doubt_holds_the_truth_of_a_film_that_traps_anything_between_its_bounds() -> None:
    """A film of 70 gloss units whose trap takes any share of the gloss that the model deems possible."""
    rng = np.random.default_rng(5)
    first, inside = fresnel(1.5, 8), 0.15
    mean, sd = convert_geometry(np.array([first + inside]), "di8", "de8", 1.5, 70)
    low = (70 / FULL) ** (np.cos(np.radians(8)) / np.cos(np.radians(60))) ** 2
    truth = inside + (1 - rng.uniform(low, 1, 4000)) * first
    assert (np.abs(truth - mean) < 1.96 * sd).mean() > 0.95


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("di8", "45as15", 1.5, 80), "geometry '45as15': can't be converted"),
        (("di8", "de8", 1.1, 80), "`binder_index`: 1.1 is not the index of a binder"),
        (("di8", "de8", 1.5, -1), "`gloss`: -1 is not the gloss of a paint"),
        (("di8", "de8", 1.5, float("nan")), "`gloss`: nan is not the gloss"),
        (("di8", "de8", 1.5, 20), "`gloss`: at 20 the film is too matt to convert"),
    ],
)
def test_what_the_model_does_not_cover_is_refused(arguments: tuple[str, str, float, float], told: str) -> None:
    with pytest.raises(InputError, match=told):
        convert_geometry(INSIDE, *arguments)


# readings


def reading(level: float, geometry: str, views: tuple[Reading, ...] = ()) -> Reading:
    return Reading("card", np.full((2, 31), level), geometry=geometry, views=views)


def test_a_reading_is_converted_with_its_repeats_and_told() -> None:
    found, conversion = read_likewise(reading(0.2, "45/0"), "di8", 1.5, FULL, "D65", 10)
    assert conversion is not None
    assert (found.geometry, found.repeats.shape, conversion.was) == ("di8", (2, 31), "45/0")
    np.testing.assert_allclose(found.reflectance, 0.2 / 1.0458 + 0.04, atol=2e-4)
    assert found.conversion_sd is not None
    ends = [
        float(
            de00(found.lab_in("D65", 10), reflectance_to_lab(found.reflectance + side * found.conversion_sd, "D65", 10))
        )
        for side in (-1.96, 1.96)
    ]
    assert conversion.u95_de00 == pytest.approx(max(ends))
    assert f"±{max(ends):.2f} ΔE00" in found.warnings[-1]


@pytest.mark.parametrize(("own", "wanted"), [("di8", "di8"), ("", "di8"), ("di8", "")])
def test_like_or_unknown_geometries_are_left_as_they_are(own: str, wanted: str) -> None:
    mine = reading(0.2, own)
    assert read_likewise(mine, wanted, 1.5, 85, "D65", 10) == (mine, None)


def test_a_sample_read_both_ways_needs_no_conversion() -> None:
    views = (reading(0.2, "di8"), reading(0.16, "45/0"))
    found, conversion = read_likewise(reading(0.2, "di8", views), "45/0", 1.5, None, "D65", 10)
    assert found is views[1]
    assert conversion is None


@pytest.mark.parametrize(
    ("mine", "gloss", "told"),
    [
        (reading(0.2, "45/0"), None, "with `gloss` it is converted"),
        (reading(0.2, "45/0"), 20, "at 20 gloss units it is too matt to convert"),
        (reading(0.2, "45as15"), 85, "such an angle can't be converted"),
        (Reading("card", np.array([[50.0, 0, 0]]), geometry="45/0"), 85, "only its Lab is known"),
    ],
)
def test_what_can_not_be_converted_is_warned_of(mine: Reading, gloss: float | None, told: str) -> None:
    found, conversion = read_likewise(mine, "di8", 1.5, gloss, "D65", 10)
    assert conversion is None
    assert found.repeats is mine.repeats
    assert "gloss counts as colour here" in found.warnings[-1]
    assert told in found.warnings[-1]


# commands


@pytest.fixture
def meters(tmp_path: Path) -> Path:
    """One glossy film, read with the gloss, without it, and at 45/0."""
    nm = ",".join(f"{w:g}" for w in WAVELENGTHS_NM)
    inside = 0.1 + 0.1 * np.sin(WAVELENGTHS_NM / 60) ** 2
    rows = {"di8": inside + fresnel(1.5, 8), "de8": inside, "45/0": inside * 1.0458}
    lines = [f"{name},{name}," + ",".join(f"{v:.6f}" for v in values) for name, values in rows.items()]
    path = tmp_path / "meters.csv"
    path.write_text("\n".join([f"name,geometry,{nm}", *lines]) + "\n", "utf-8")
    return path


def test_compare_warns_of_unlike_geometries_and_converts_with_the_gloss(cli: Cli, meters: Path) -> None:
    plain = cli("compare", f"{meters}@di8", f"{meters}@45/0", "--json")
    assert (plain.status, plain.json["converted"]) == (1, [])
    assert [told for told in plain.json["warnings"] if "gloss counts" in told] == plain.json["warnings"]
    assert len(plain.json["warnings"]) == 1
    for name in ("de8", "45/0"):
        ran = cli("compare", f"{meters}@di8", f"{meters}@{name}", "--gloss", 89, "--json")
        assert ran.status == 0
        assert ran.json["de00"] < 0.05
        (converted,) = ran.json["converted"]
        assert (converted["name"], converted["was"], converted["geometry"]) == (name, name, "di8")
        assert 0 < converted["u95_de00"] < 1


def test_compare_says_when_the_conversion_can_not_decide(cli: Cli, meters: Path) -> None:
    ran = cli("compare", f"{meters}@di8", f"{meters}@45/0", "--gloss", 45, "--tolerance", 0.5)
    assert "the conversion leaves a doubt larger than the tolerance" in ran.out


@pytest.mark.slow
def test_mix_and_correct_bring_readings_to_the_bank(cli: Cli, meters: Path, swatches: Path) -> None:
    bank = swatches / "bank"  # read di8
    seen = {}
    for name, extra in (("di8", ()), ("45/0", ()), ("45/0 converted", ("--gloss", 89))):
        ran = cli(
            "mix", f"{meters}@{name.split()[0]}", "--bank", bank, "--grams", 300, "--max-tints", 3, "--json", *extra
        )
        seen[name] = ran.json
    assert seen["di8"]["converted"] == []
    assert any("gloss counts as colour" in told for told in seen["45/0"]["warnings"])
    assert seen["45/0 converted"]["converted"][0]["was"] == "45/0"
    mean = {name: np.array(found["recipes"][0]["predicted"]["reflectance"]).mean() for name, found in seen.items()}
    assert mean["45/0 converted"] == pytest.approx(mean["di8"], abs=0.002)
    assert abs(mean["45/0"] - mean["di8"]) > 0.01

    tin = ("--bank", bank, "--batch", swatches / "batch1.csv", "--sprayed", f"{meters}@45/0")
    ran = cli(
        "correct", f"{meters}@di8", *tin, "--gloss", 89, "--anyway", "--json"
    )  # the meters' panel is no card of it
    assert [c["was"] for c in ran.json["converted"]] == ["45/0"]
    assert all(de < 0.06 for de in ran.json["before"].values())


@pytest.mark.slow
def test_the_doubt_of_a_conversion_widens_the_interval(cli: Cli, meters: Path, swatches: Path) -> None:
    def high(name: str, gloss: float) -> float:
        arguments = ("--bank", swatches / "bank", "--grams", 300, "--max-tints", 3, "--gloss", gloss, "--json")
        return cli("mix", f"{meters}@{name}", *arguments).json["recipes"][0]["intervals"]["D65"]["high"]

    sure, doubtful = high("di8", 89), high("de8", 50)
    assert doubtful > sure + 0.05  # beside the doubt of tins that nothing was sprayed of, which is far larger


@pytest.mark.slow
def test_a_target_and_a_card_of_one_instrument_share_their_doubt(cli: Cli, meters: Path, swatches: Path) -> None:
    """What the conversion leaves open of both alike doesn't part them."""
    tin = ("--bank", swatches / "bank", "--batch", swatches / "batch1.csv", "--gloss", 60, "--anyway", "--json")
    alike = cli("correct", f"{meters}@45/0", *tin, "--sprayed", f"{meters}@45/0").json
    mixed = cli("correct", f"{meters}@45/0", *tin, "--sprayed", f"{meters}@di8").json
    assert [c["was"] for c in alike["converted"]] == ["45/0", "45/0"]
    assert alike["intervals"]["D65"]["high"] < mixed["intervals"]["D65"]["high"]


@pytest.mark.parametrize(
    ("option", "value", "told"),
    [
        ("--gloss", "-3", "--gloss: -3 is not the gloss of a paint; give gloss units at 60°"),
        ("--gloss", "nan", "--gloss: 'nan' is not a finite number; write a number"),
        ("--binder-index", "3", "--binder-index: 3 is not the index of a binder"),
    ],
)
def test_an_odd_gloss_or_index_is_told(cli: Cli, option: str, value: str, told: str) -> None:
    assert told in cli("compare", "50,0,0", "50,0,0", option, value).error
