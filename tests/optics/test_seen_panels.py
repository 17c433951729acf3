"""Panels of which only a colour is known: what they say is exact, is carried as doubt, and spectra go on to win."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib import import_module

import numpy as np
import pytest

from booth.banks import booth_bank, random_grams, tint_specs
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.colour.grid import SIZE
from finishmatch.optics import (
    Bank,
    BankFit,
    CardPanel,
    Panel,
    bank_today,
    fit_bank,
    mixture_reflectance,
    predicted_reflectance,
)
from finishmatch.optics.bank import SeenColour
from finishmatch.optics.curvature import Processes, border_precision
from finishmatch.optics.panel_model import amount_factors
from finishmatch.optics.panel_set import panel_set
from finishmatch.optics.posterior import Posterior, log_evidence, settled
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.seen_panels import (
    AGAIN,
    OF_CAMERA,
    OF_PICTURE,
    OF_TINT,
    by_camera,
    seen_labs,
    seen_rows,
    stand_in,
)
from finishmatch.optics.start import start_state
from finishmatch.optics.surface import usual_surface
from finishmatch.optics.unknowns import Problem

SD, SHARED_SD = 0.5, 1.0
learn = import_module("finishmatch.optics.learn")


def as_seen(
    bank: Bank, which: slice, seed: int = 1, shared_sd: float = 0.0, pictures: int = 3, camera: bool = False
) -> Bank:
    """The bank with some of its panels known by their colour alone, from so many pictures, off by chance.

    `camera` is whether what they are off by is shared as a camera's is.
    """
    r = np.random.default_rng(seed)
    surface = usual_surface(bank.binder_index, bank.geometry)
    off = r.normal(0, 1, (pictures, 3)) * shared_sd
    chosen = set(range(len(bank.panels))[which])
    panels: list[Panel] = []
    for i, panel in enumerate(bank.panels):
        if i in chosen:
            lab = seen_labs(panel.reflectance, surface) + r.normal(0, SD, 3) + off[i % pictures]
            seen = SeenColour(lab, np.eye(3) * SD**2, f"picture {i % pictures}", np.eye(3) * shared_sd**2)
            if camera:
                seen = by_camera(lab, np.eye(3) * (SD**2 + shared_sd**2), seen.picture)
            panels.append(replace(panel, repeats=stand_in(seen, surface)[None], seen=seen))
        else:
            panels.append(panel)
    return replace(bank, panels=tuple(panels))


@cache
def bank_of(tints: int) -> Bank:
    """A bank of invented tints."""
    return booth_bank(tint_specs(11, tints))


def posterior_of(bank: Bank) -> Posterior:
    """The posterior of its panels by what is believed of any bank."""
    panels, _ = panel_set(bank)
    start = start_state(panels, usual_surface(bank.binder_index, bank.geometry), Beliefs())
    problem = Problem(panels, amount_factors(panels), np.ones(len(panels.names), bool))
    return settled(problem, Beliefs(), start, exact=1e-9)


def dense(posterior: Posterior) -> Floats:
    """The curvature as one matrix over the field (tint by tint within a wavelength) and the border."""
    problem, linear = posterior.problem, posterior.linear
    n, m, panels = problem.tints, problem.factors.count, problem.panels
    assert linear.seen is not None
    assert panels.seen is not None
    prior = border_precision(problem, posterior.beliefs)
    p, u, size = len(panels.names), 2 * n, SIZE * 2 * n + prior.size
    by_reading = np.zeros((p, SIZE, size))  # of each misfit, by everything
    for w in range(SIZE):
        by_reading[:, w, w * u : (w + 1) * u] = linear.by_field[:, :, w]
    for k, slots in enumerate(problem.factors.slots.T):
        for i, slot in enumerate(slots):
            if slot < m:
                by_reading[i, :, SIZE * u + slot] += linear.by_factor[i, k]
    by_reading[:, :, SIZE * u + m : SIZE * u + m + n] = linear.by_field[:, n:].transpose(0, 2, 1)
    by_reading[:, :, SIZE * u + m + n : SIZE * u + m + n + 2] = linear.by_surface.transpose(0, 2, 1)
    at = panels.seen.rows
    colours = np.einsum("qjw,qwx->qjx", linear.seen.by_reading, by_reading[at] * linear.sd[at][:, :, None])
    first = SIZE * u + m + n + 2
    colours[:, :, first : first + 3 * panels.shared] += linear.seen.by_shared
    rows = np.concatenate([by_reading.reshape(-1, size), colours.reshape(-1, size)])
    matrix = rows.T @ rows
    each = Processes.believed(problem, posterior.beliefs).of_field(n, panels.anchor)
    for i in range(u):
        at_field = np.arange(SIZE) * u + i
        matrix[np.ix_(at_field, at_field)] += each[i]
    matrix[SIZE * u :, SIZE * u :] += np.diag(prior)
    return matrix


@pytest.mark.parametrize("camera", [False, True])
def test_the_banded_system_with_colours_in_its_border_is_the_dense_one(camera: bool) -> None:
    posterior = posterior_of(as_seen(bank_of(4), slice(1, None, 2), shared_sd=SHARED_SD, camera=camera))
    matrix, system = dense(posterior), posterior.system
    u = 2 * posterior.problem.tints
    r = np.random.default_rng(3)
    right = r.normal(size=(len(matrix), 3))
    assert posterior.linear.seen is not None
    further = np.zeros((posterior.linear.seen.misfit.size, 3))
    field, border = right[: SIZE * u].reshape(SIZE, u, 3), np.concatenate([right[SIZE * u :], further])
    solved, common = system.solve(field, border)
    expected = np.linalg.solve(matrix, right)
    np.testing.assert_allclose(solved.reshape(-1, 3), expected[: SIZE * u], rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(common[: len(expected) - SIZE * u], expected[SIZE * u :], rtol=1e-6, atol=1e-8)
    assert system.log_determinant == pytest.approx(np.linalg.slogdet(matrix)[1], rel=1e-9)


def test_draws_scatter_as_the_dense_covariance_says() -> None:
    posterior = posterior_of(as_seen(bank_of(3), slice(0, None, 2), shared_sd=SHARED_SD))
    covariance = np.linalg.inv(dense(posterior))
    field, border = posterior.draws(4000)
    flat = np.concatenate([field.reshape(len(field), -1), border[:, : len(covariance) - field[0].size]], axis=1)
    found = flat.std(axis=0) / np.sqrt(np.diag(covariance))
    assert np.abs(found - 1).max() < 0.08


def test_the_middle_is_where_the_cost_is_least_whatever_it_started_from() -> None:
    bank = as_seen(bank_of(3), slice(None), shared_sd=SHARED_SD)
    posterior = posterior_of(bank)
    far = replace(posterior.state, field=posterior.state.field + 0.4, shared=posterior.state.shared + 1)
    again = settled(posterior.problem, posterior.beliefs, far, exact=1e-10)
    assert log_evidence(again) == pytest.approx(log_evidence(posterior), abs=1e-3)
    np.testing.assert_allclose(again.state.optics(0)[0], posterior.state.optics(0)[0], rtol=0.01)


def off(fit: BankFit, truth: BankFit, grams: Floats) -> Floats:
    """ΔE00 between what two fits predict of mixtures."""
    labs = [reflectance_to_lab(predicted_reflectance(each.optics, grams)) for each in (fit, truth)]
    return de00(*labs)


@cache
def fits() -> dict[str, BankFit]:
    """Of one bank: by its spectra, by colours alone, by both, and by colours of pictures that are off together."""
    bank = bank_of(10)
    return {
        "spectra": fit_bank(bank),
        "colours": fit_bank(as_seen(bank, slice(None))),
        "both": fit_bank(as_seen(bank, slice(0, None, 2))),
        "off together": fit_bank(as_seen(bank, slice(None), shared_sd=SHARED_SD)),
    }


@pytest.mark.slow
def test_a_bank_of_colours_alone_predicts_mixtures_and_says_how_well() -> None:
    grams = random_grams(3, 10, 120)
    found = fits()
    errors = {name: off(found[name], found["spectra"], grams) for name in found}
    print({name: np.quantile(each, [0.5, 0.9]).round(2) for name, each in errors.items()})
    assert np.median(errors["colours"]) < 0.6
    assert np.quantile(errors["colours"], 0.9) < 1.6
    assert np.median(errors["both"]) < 0.7 * np.median(errors["colours"])
    for name in ("colours", "both", "off together"):
        optics = found[name].optics
        assert optics.draws is not None
        amounts = grams * optics.dry_ml_per_g
        drawn = np.stack([mixture_reflectance(amounts, K, S, optics.surface) for K, S in optics.draws])
        labs = reflectance_to_lab(drawn)
        stated = np.quantile(de00(reflectance_to_lab(predicted_reflectance(optics, grams)), labs), 0.95, axis=0)
        assert np.mean(errors[name] <= stated) >= 0.86, name


@pytest.mark.slow
def test_no_colour_is_named_as_a_misfit_for_its_noise_and_one_that_is_wrong_is() -> None:
    bank = as_seen(bank_of(10), slice(None))
    for name in ("colours", "both", "off together"):
        assert not any(panel.misfit for panel in fits()[name].panels), name
    at = next(i for i, panel in enumerate(bank.panels) if "masstone" not in panel.name)
    wrong = bank.panels[at]
    assert wrong.seen is not None
    seen = replace(wrong.seen, lab=wrong.seen.lab + np.array([12.0, 0, 0]))
    panels = list(bank.panels)
    surface = usual_surface(bank.binder_index, bank.geometry)
    panels[at] = replace(wrong, seen=seen, repeats=stand_in(seen, surface)[None])
    found = fit_bank(replace(bank, panels=tuple(panels)))
    assert [panel.panel for panel in found.panels if panel.misfit] == [wrong.name]


@pytest.mark.slow
def test_a_card_is_put_to_a_bank_of_colours_with_all_that_the_colours_say() -> None:
    truth, fit = fits()["spectra"], fits()["off together"]
    names = [tint.name for tint in bank_of(10).tints]
    parts = {names[0]: 400.0, names[3]: 40.0, names[5]: 15.0}
    own = truth.optics.chosen(list(parts))
    grams = np.array(list(parts.values()))
    reading = predicted_reflectance(own.strengthened(np.array([1.0, 1.2, 1.0])), grams)
    sd = np.full(SIZE, 0.001)
    card = CardPanel(tuple(parts), tuple(parts), "batch", grams, reading, sd, 0.1)
    found = bank_today(fit, [card], {name: name for name in names})
    assert found.fit.posterior is not None
    strength = dict(zip(found.tins.names, np.exp(found.tins.log_mean), strict=True))
    assert strength[names[3]] == pytest.approx(1.2, abs=0.12)
    assert all(0.85 < factor < 1.3 for factor in strength.values())
    mixtures = random_grams(3, 10, 120)
    assert np.median(off(found.fit, truth, mixtures)) < 1.1 * np.median(off(fit, truth, mixtures))


@pytest.mark.slow
@pytest.mark.parametrize("seen", [slice(None), slice(2, 3)])  # of the last, no panel is learnt from
def test_of_many_tints_some_are_learnt_from_whether_or_not_their_panels_have_spectra(
    seen: slice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(learn, "_MOST_TINTS", 6)
    fit = fit_bank(as_seen(bank_of(10), seen, shared_sd=SHARED_SD))
    assert np.median(off(fit, fits()["spectra"], random_grams(3, 10, 60))) < 0.8


PANEL = Panel("blue 10/90", (("blue", 10.0), ("white", 90.0)), None, None, np.full((1, SIZE), 0.4))
OFF = np.diag([1.0, 2.0, 0.5])  # the covariance of what a camera makes of a panel


def seen_as(*panels: tuple[str, str]) -> list[Panel]:
    """Panels of names, each in a picture, all of one colour."""
    lab = np.array([60.0, -10.0, -25.0])
    return [replace(PANEL, name=name, seen=by_camera(lab, OFF, picture)) for name, picture in panels]


def test_what_panels_share_is_the_cameras_their_tints_and_their_pictures() -> None:
    panels = seen_as(("blue 10/90", "one"), ("blue 40/60", "two"), ("red 10/90", "one"), ("mauve", "two"))
    by_tint = np.array([[0, 1, 0], [0, 1, 0], [0, 0, 1], [0, 0.5, 0.5]])
    found = seen_rows(panels, by_tint)
    assert found is not None
    together = np.einsum("igjk,hglk->ihjl", found.shared, found.shared)
    np.testing.assert_allclose(together[0, 1], (OF_CAMERA + OF_TINT) * OFF, atol=1e-12)
    np.testing.assert_allclose(together[0, 2], (OF_CAMERA + OF_PICTURE) * OFF, atol=1e-12)
    np.testing.assert_allclose(together[1, 2], OF_CAMERA * OFF, atol=1e-12)
    np.testing.assert_allclose(together[1, 3], (OF_CAMERA + OF_PICTURE + OF_TINT / 2) * OFF, atol=1e-12)
    for i in range(4):  # each is as far off in all as it was said to be
        np.testing.assert_allclose(together[i, i] + found.covariance[i], OFF, atol=1e-12)
    np.testing.assert_allclose(found.unsure, np.sqrt(np.trace(OFF) / 3))
    swapped = found.exchanged(0, 1)  # the colours and their pictures change place, the tints don't
    together = np.einsum("igjk,hglk->ihjl", swapped.shared, swapped.shared)
    np.testing.assert_allclose(together[1, 2], (OF_CAMERA + OF_PICTURE) * OFF, atol=1e-12)


def test_a_panels_next_picture_tells_hardly_more_of_it() -> None:
    once = seen_rows(seen_as(("blue 10/90", "one")), np.array([[0.0, 1.0]]))
    again = seen_rows(seen_as(*(("blue 10/90", f"picture {i}") for i in range(4))), np.tile([0.0, 1.0], (4, 1)))
    assert once is not None
    assert again is not None
    mean = again.covariance.mean(axis=0) / 4
    np.testing.assert_allclose(mean, (AGAIN + (1 - AGAIN) / 4) * once.covariance[0], atol=1e-12)


def test_errors_that_are_shared_go_the_same_way_for_colours_that_lie_near() -> None:
    """The root of a covariance is unique only if it is symmetric: else one number is lightness here, hue there."""
    r = np.random.default_rng(3)
    a = r.normal(size=(3, 3))
    labs = np.array([[60.0, -10.0, -25.0], [60.2, -10.1, -25.0]])
    panels = [
        replace(PANEL, name=str(i), seen=by_camera(lab, a @ a.T + 0.01 * i * np.eye(3), "one"))
        for i, lab in enumerate(labs)
    ]
    found = seen_rows(panels, np.array([[0.0, 1.0]] * 2))
    assert found is not None
    np.testing.assert_allclose(found.shared[0], found.shared[1], atol=0.05)
