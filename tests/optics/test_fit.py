"""The fit of a bank: it predicts mixtures it never saw, and names what doesn't fit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from booth.bank_writer import BLACK_GROUND, WHITE_GROUND, Noise
from booth.banks import booth_bank, random_grams, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.errors import InputError
from finishmatch.optics import Backing, Bank, Panel, Tint, fit_bank, learn, predicted_reflectance, volume_fractions
from finishmatch.optics.posterior import Posterior
from finishmatch.optics.unknowns import Problem
from finishmatch.readings import load_fit, read_bank, store_fit
from tests.conftest import ROOT

SWATCHES = ROOT / "swatches"


def errors(tints: list, optics: object, grams: np.ndarray) -> np.ndarray:
    """ΔE00 of predicted hiding mixtures from adding-doubling (iadpython)."""
    true = film_reflectance(volume_fractions(grams, optics.dry_ml_per_g), [tint.pigment for tint in tints])
    return de00(reflectance_to_lab(true), reflectance_to_lab(predicted_reflectance(optics, grams)))


@pytest.mark.parametrize(("seed", "anisotropy"), [(1, 0.0), (2, 0.6), (3, 0.0), (3, 0.6)])
def test_hiding_mixtures_never_seen_are_predicted(seed: int, anisotropy: float) -> None:
    tints = tint_specs(seed, 10, anisotropy)
    fit = fit_bank(booth_bank(tints))
    off = errors(tints, fit.optics, random_grams(seed + 50, 10, 60))
    assert np.median(off) <= 0.05
    assert off.max() <= 0.15
    assert not any(panel.misfit for panel in fit.panels)


@pytest.mark.slow
@pytest.mark.parametrize("anisotropy", [0.0, 0.6])
def test_films_over_grounds_never_seen_are_predicted(anisotropy: float) -> None:
    tints = tint_specs(4, 10, anisotropy)
    pigments = [tint.pigment for tint in tints]
    fit = fit_bank(booth_bank(tints, thin=True))
    optics = fit.optics
    assert optics.per_um
    hiding = errors(tints, optics, random_grams(54, 10, 60))
    assert np.median(hiding) <= 0.10
    assert hiding.max() <= 0.30
    grams = random_grams(55, 10, 40)
    shares = volume_fractions(grams, optics.dry_ml_per_g)
    builds = np.random.default_rng(6).uniform(30, 80, 40)
    off, ratios = [], []
    for share, weighed, build in zip(shares, grams, builds, strict=True):
        luminous = []
        for ground in (BLACK_GROUND, WHITE_GROUND):
            true = film_reflectance(share, pigments, build_um=build, ground=ground)
            ours = predicted_reflectance(optics.over(Backing("card", build, ground)), weighed)
            off.append(float(de00(reflectance_to_lab(true), reflectance_to_lab(ours))))
            luminous.append([reflectance_to_xyz(true)[1], reflectance_to_xyz(ours)[1]])
        (true_black, black), (true_white, white) = luminous
        ratios.append(abs(true_black / true_white - black / white))
    assert np.median(off) <= 0.15
    assert np.percentile(off, 95) <= 0.4
    assert np.percentile(ratios, 95) <= 0.0035


def test_spreads_learnt_from_some_panels_serve_all(monkeypatch: pytest.MonkeyPatch) -> None:
    tints = tint_specs(1, 5)
    bank = booth_bank(tints)
    seen = []

    def counted(problem: Problem, *given: Any) -> Posterior:
        seen.append((len(problem.panels.names), (problem.panels.fractions > 0).any(axis=0).all()))
        return from_all(problem, *given)

    from_all = learn._learnt_from_all
    monkeypatch.setattr(learn, "_learnt_from_all", counted)
    monkeypatch.setattr(learn, "_MOST_PANELS", len(bank.panels) // 2)
    fit = fit_bank(bank)
    assert len(fit.panels) == len(bank.panels)
    ((panels, every_tint),) = seen
    assert panels <= len(bank.panels) // 2 + len(tints)
    assert every_tint
    off = errors(tints, fit.optics, random_grams(51, 5, 30))
    assert np.median(off) <= 0.05
    assert off.max() <= 0.15


def test_only_films_of_known_build_are_enough() -> None:
    tints = tint_specs(5, 6)
    bank = booth_bank(tints, thin=True)
    thin = replace(bank, panels=tuple(panel for panel in bank.panels if not panel.hides))
    names = {tint for panel in thin.panels for tint, grams in panel.grams if grams > 0}
    thin = replace(thin, tints=tuple(tint for tint in bank.tints if tint.name in names))
    fit = fit_bank(thin)
    assert fit.optics.per_um
    assert np.median([panel.residual_de00 for panel in fit.panels]) < 0.4


@pytest.mark.slow
def test_noise_gives_wider_uncertainty_and_draws_that_hold_the_truth() -> None:
    tints = tint_specs(6, 8)
    quiet = fit_bank(booth_bank(tints))
    noisy = fit_bank(booth_bank(tints, Noise(reading_sd=0.002, weighing_sd_g=0.05, repeats=3)))
    assert np.median(noisy.S_sd) > 1.3 * np.median(quiet.S_sd)
    grams = random_grams(7, 8, 40, white_share=1)
    shares = volume_fractions(grams, noisy.optics.dry_ml_per_g)
    true = reflectance_to_lab(film_reflectance(shares, [tint.pigment for tint in tints]))[:, 0]
    draws = noisy.optics.draws
    assert draws.shape[1:] == (2, 8, 31)
    drawn = np.stack(
        [reflectance_to_lab(predicted_reflectance(replace(noisy.optics, K=K, S=S), grams))[:, 0] for K, S in draws]
    )
    middle = reflectance_to_lab(predicted_reflectance(noisy.optics, grams))[:, 0]
    within = np.abs(true - middle) <= 2.5 * drawn.std(axis=0) + 0.02
    assert within.mean() >= 0.85


@pytest.mark.slow
@pytest.mark.parametrize(("one", "two"), [("ochre masstone", "scarlet masstone"), ("blue 5/95", "blue 20/80")])
def test_swapped_panels_are_named_and_do_not_spoil_the_rest(one: str, two: str) -> None:
    bank = read_bank(SWATCHES / "bank")
    by_name = {panel.name: panel for panel in bank.panels if panel.hides}
    swapped = {one: by_name[two].repeats, two: by_name[one].repeats}
    panels = tuple(
        replace(panel, repeats=swapped[panel.name]) if panel.hides and panel.name in swapped else panel
        for panel in bank.panels
    )
    fit = fit_bank(replace(bank, panels=panels))
    assert {panel.panel for panel in fit.panels if panel.misfit} == {one, two}
    rest = [panel.residual_de00 for panel in fit.panels if not panel.misfit]
    assert max(rest) < 2
    told = [warning for warning in fit.warnings if "does not fit" in warning]
    assert len(told) == 2
    assert all(f"reads like {other}" in " ".join(told) for other in (one, two))


def test_the_bundled_bank_fits_and_names_nothing() -> None:
    fit = fit_bank(read_bank(SWATCHES / "bank"))
    residuals = [panel.residual_de00 for panel in fit.panels]
    assert np.median(residuals) < 0.15
    assert not any(panel.misfit for panel in fit.panels)
    assert fit.warnings == ()
    assert fit.optics.surface.k1 == pytest.approx(0.04)


def test_a_stored_fit_is_the_same_fit_and_is_left_when_the_bank_changes(tmp_path: Path) -> None:
    bank = read_bank(SWATCHES / "bank")
    fit = fit_bank(bank)
    store_fit(tmp_path, bank, fit)
    again = load_fit(tmp_path, bank)
    np.testing.assert_array_equal(again.optics.K, fit.optics.K)
    np.testing.assert_allclose(again.optics.draws, fit.optics.draws, rtol=1e-6)
    assert again.optics.surface == fit.optics.surface
    assert (again.usable, again.warnings, again.panels) == (fit.usable, fit.warnings, fit.panels)
    assert load_fit(tmp_path, replace(bank, digest="0" * 64)) is None


def flat(value: float) -> np.ndarray:
    """One flat reading."""
    return np.full((1, 31), value)


def test_a_tint_whose_strength_nothing_tells_is_left_out_and_a_bank_without_panels_refused() -> None:
    tints = tuple(
        Tint(name, role, "", 1.2, 0.4, 1, 100) for name, role in (("w", "white"), ("r", "tint"), ("z", "tint"))
    )
    panels = (
        Panel("w", (("w", 100.0),), None, None, flat(0.9)),
        Panel("r", (("r", 100.0),), None, None, flat(0.1)),
        Panel("wr", (("w", 80.0), ("r", 20.0)), None, None, flat(0.3)),
        Panel("z", (("z", 100.0),), None, None, flat(0.2)),
    )
    fit = fit_bank(Bank("b", "di8", 1.5, tints, panels, (), "x"))
    assert fit.usable == ("w", "r")
    assert any("tint z" in warning and "letdown" in warning for warning in fit.warnings)
    without = fit_bank(Bank("b", "di8", 1.5, tints, panels[:3], (), "x"))
    assert without.optics.names == without.usable == ("w", "r")
    assert any("tint z: is in no panel that was read" in warning for warning in without.warnings)
    with pytest.raises(InputError, match="no panels"):
        fit_bank(Bank("b", "di8", 1.5, tints, (), (), "x"))


def test_masstones_alone_and_one_tint_are_said_in_one_line_each() -> None:
    tints = tuple(
        Tint(name, role, "", 1.2, 0.4, 1, 100) for name, role in (("w", "white"), ("r", "tint"), ("z", "tint"))
    )
    panels = tuple(
        Panel(name, ((name, 100.0),), None, None, flat(value)) for name, value in (("w", 0.9), ("r", 0.1), ("z", 0.3))
    )
    alone = fit_bank(Bank("b", "di8", 1.5, tints, panels, (), "x"))
    assert alone.usable == ("w",)
    assert alone.warnings == (
        "no panel mixes tints, so no strength is known and nothing can be mixed; add letdowns with white",
    )
    one = fit_bank(Bank("b", "di8", 1.5, tints[1:2], panels[1:2], (), "x"))
    assert one.warnings == ("r is the only tint with a colour: no mixture can be made of it; add a white",)
