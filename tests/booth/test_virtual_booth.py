"""The virtual booth is right: it agrees with closed facts and with iadpython's own one-at-a-time answer."""

from __future__ import annotations

from pathlib import Path

import iadpython
import numpy as np
import pytest

from booth.bank_writer import Noise, TintSpec, write_bank
from booth.virtual_booth import (
    Pigment,
    bare_ground_reading,
    dry_volume_fractions,
    film_reflectance,
    layer_reflectance,
    random_pigments,
)
from finishmatch.colour import reflectance_to_lab
from finishmatch.readings import read_bank

N = 31
INDEX = 1.5


def pigment(name: str, mu_a: float, mu_s: float, g: float = 0.0) -> Pigment:
    return Pigment(name, np.full(N, mu_a), np.full(N, mu_s), np.full(N, g))


def iadpython_film(albedo: float, depth: float, g: float, ground: float, quad_pts: int = 24) -> float:
    """Return total reflectance for light along the normal, all of it by iadpython's layers."""
    sample = iadpython.Sample(a=albedo, b=depth, g=g, n=INDEX, n_above=INDEX, n_below=INDEX, quad_pts=quad_pts)
    r, t = iadpython.simple_layer_matrices(sample)
    nothing, lambertian = np.zeros_like(r), np.full_like(r, ground)
    r, _, _, _ = iadpython.add_layers(sample, r, r, t, t, lambertian, lambertian, nothing, nothing)
    surface = iadpython.start.boundary_layer(sample, top=True)
    read, _, _, _ = iadpython.add_slide_above(sample, *surface, r, r, nothing, nothing)
    return float(sample.UX1_and_UXU(read, nothing)[0])


@pytest.mark.parametrize(
    ("albedo", "depth", "g", "ground"),
    [
        (0.95, 5.0, 0.5, 0.0),
        (0.95, 5.0, 0.5, 0.8),
        (0.97, 0.3, 0.0, 0.9),
        (0.5, 2.0, 0.7, 0.6),
        (0.999, 20.0, 0.3, 0.05),
    ],
)
def test_a_film_over_a_ground_is_what_iadpython_says(albedo: float, depth: float, g: float, ground: float) -> None:
    assert layer_reflectance(albedo, depth, g, ground) == pytest.approx(
        iadpython_film(albedo, depth, g, ground), abs=1e-6
    )


@pytest.mark.parametrize(("albedo", "g"), [(0.999, 0.0), (0.9, 0.7), (0.5, 0.6), (0.05, 0.2)])
def test_a_hiding_film_is_what_iadpython_says_of_a_very_thick_one(albedo: float, g: float) -> None:
    thick = iadpython.Sample(a=albedo, b=1e5, g=g, n=INDEX, n_above=INDEX, n_below=INDEX, quad_pts=24)
    assert layer_reflectance(albedo, np.inf, g) == pytest.approx(thick.rt()[0], abs=1e-6)


def test_the_answer_does_not_depend_on_the_number_of_directions() -> None:
    x = np.linspace(0.02, 0.9995, 15)
    for ground, depth in ((0.0, np.inf), (0.85, 3.0)):
        more = layer_reflectance(x, depth, 0.3, ground, quad_pts=32)
        np.testing.assert_allclose(layer_reflectance(x, depth, 0.3, ground), more, atol=5e-5)


def test_a_film_that_absorbs_nothing_gives_back_all_light() -> None:
    assert layer_reflectance(1.0, np.inf, 0.0) == pytest.approx(1.0, abs=1e-4)
    assert layer_reflectance(1.0, np.array([0.1, 3.0, 300.0]), 0.5, 1.0) == pytest.approx(1.0, abs=1e-8)


def test_a_film_that_scatters_nothing_over_black_shows_its_surface_only() -> None:
    """Fresnel at normal incidence, ((n-1)/(n+1))²."""
    dye = [pigment("dye", 0.3, 0.0)]
    assert film_reflectance({"dye": 1.0}, dye, 50.0, np.zeros(N)) == pytest.approx(0.04, abs=1e-12)
    assert film_reflectance({"dye": 1.0}, dye) == pytest.approx(0.04, abs=1e-12)
    assert film_reflectance({"dye": 1.0}, dye, index=1.6) == pytest.approx((0.6 / 2.6) ** 2, abs=1e-12)


def test_specular_excluded_is_the_reading_less_the_mirror_reflection() -> None:
    pigments = random_pigments(3, 4)
    both = [film_reflectance([0.5, 0.0, 0.3, 0.2], pigments, specular_included=flag) for flag in (True, False)]
    np.testing.assert_allclose(both[0] - both[1], 0.04, atol=1e-12)


def test_a_lambertian_ground_under_a_bare_surface_reads_as_the_closed_form_says() -> None:
    """k1 + (1-k1)(1-k2)R / (1-k2·R) with k2 = 0.5963 for diffuse light within index 1.5 (Saunderson 1942; Fresnel)."""
    inner = np.array([0.0, 0.1, 0.5, 0.92, 1.0])
    closed = 0.04 + 0.96 * (1 - 0.5963) * inner / (1 - 0.5963 * inner)
    np.testing.assert_allclose(bare_ground_reading(inner), closed, atol=1e-4)


def test_a_film_of_no_build_shows_its_ground_and_a_thick_one_hides_it() -> None:
    pigments = random_pigments(5, 3)
    shares, ground = [0.7, 0.0, 0.3], np.linspace(0.1, 0.9, N)
    np.testing.assert_allclose(film_reflectance(shares, pigments, 0.0, ground), bare_ground_reading(ground), atol=1e-12)
    hiding = film_reflectance(shares, pigments)
    np.testing.assert_allclose(film_reflectance(shares, pigments, 5000.0, ground), hiding, atol=1e-6)


def test_more_build_closes_the_gap_between_grounds_and_energy_is_never_made() -> None:
    pigments = random_pigments(8, 11)
    shares = np.eye(11) * 0.05
    shares[:, 0] += 0.95
    gap = []
    for build in (3.0, 10.0, 30.0):
        black, white = (film_reflectance(shares, pigments, build, np.full(N, rg)) for rg in (0.0, 1.0))
        assert (black >= 0.04 - 1e-12).all()
        assert (white <= 1 + 1e-9).all()
        gap.append(white - black)
    assert (gap[0] > gap[1]).all()
    assert (gap[1] > gap[2]).all()


def test_isotropic_films_follow_kubelka_and_munk() -> None:
    """K/S through Saunderson (k1 0.04, k2 0.5) is proportional to mu_a/mu_s within 5 % (Kubelka and Munk 1931)."""
    ratio = np.array([0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0])
    through = layer_reflectance(1 / (1 + ratio), np.inf, 0.0) - 0.04
    inner = through / (0.96 * 0.5 + 0.5 * through)
    per_ratio = (1 - inner) ** 2 / (2 * inner) / ratio
    assert per_ratio.max() / per_ratio.min() < 1.06


def test_dry_fractions_weigh_by_volume_solids_over_density() -> None:
    """Worked by hand: 10·0.4/1.6 = 2.5 mL and 20·0.3/1.0 = 6 mL."""
    np.testing.assert_allclose(dry_volume_fractions([10, 20], [1.6, 1.0], [0.4, 0.3]), [2.5 / 8.5, 6 / 8.5])


def test_invented_pigments_look_like_paint() -> None:
    """Chroma and lightness of masstones and letdowns within what the trade knows («common practice»)."""
    for seed in (1, 2, 3):
        pigments = random_pigments(seed, 11)
        full = reflectance_to_lab(film_reflectance(np.eye(11), pigments))
        names = [p.name for p in pigments]
        assert full[0, 0] > 95
        assert 23 < full[1, 0] < 28
        assert np.hypot(*full[1, 1:]) < 2
        letdown = np.eye(11) * 0.1
        letdown[:, 0] += 0.9
        tinted = reflectance_to_lab(film_reflectance(letdown, pigments))
        hue = dict(zip(names, np.degrees(np.arctan2(tinted[:, 2], tinted[:, 1])) % 360, strict=True))
        assert 240 < hue["blue"] < 285
        assert 150 < hue["green"] < 190
        assert 80 < hue["clean yellow"] < 105
        assert 280 < hue["violet"] < 315
        assert 15 < hue["red"] < 45
        assert (np.hypot(tinted[2:, 1], tinted[2:, 2]) > 20).all()


def test_a_written_bank_reads_back_and_is_the_same_for_the_same_seed(tmp_path: Path) -> None:
    pigments = random_pigments(4, 4)
    tints = [TintSpec(p, {0: "white", 1: "black"}.get(i, "tint"), strong=i == 3) for i, p in enumerate(pigments)]
    noise = Noise(reading_sd=0.0005, weighing_sd_g=0.05, repeats={"white masstone": 3})
    for folder in ("one", "two"):
        write_bank(tmp_path / folder, tints, noise=noise, seed=9)
    bank, again = (read_bank(tmp_path / folder) for folder in ("one", "two"))
    assert bank.digest == again.digest
    assert {panel.build_um for panel in bank.panels} == {None, 25.0, 50.0}
    panel = next(p for p in bank.panels if p.name == "white masstone")
    assert panel.repeats.shape == (3, N)
    np.testing.assert_allclose(panel.reflectance, film_reflectance({"white": 1.0}, pigments), atol=0.002)
    assert "blue 1/99" in {p.name for p in bank.panels}
    grounds = dict(bank.grounds)
    assert grounds["white"][15] > 0.8
    assert grounds["black"][15] < 0.06
