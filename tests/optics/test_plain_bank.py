"""A bank of plain paints small enough to see through: its arrays, its unknowns, and each slope against small steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from finishmatch.colour import reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.optics import Bank, Panel, predicted_reflectance
from finishmatch.optics.bank import SeenColour
from finishmatch.optics.curvature import (
    Processes,
    border_off,
    border_precision,
    by_border,
    field_off,
    linearised,
)
from finishmatch.optics.leave_out import left_out, score
from finishmatch.optics.mixture import Backing
from finishmatch.optics.panel_model import amount_factors, panel_readings, with_amounts
from finishmatch.optics.panel_set import REPEATABILITY_SD, WEIGHING_SD_G, PanelSet, panel_set
from finishmatch.optics.pigment_kinds import pigment_kinds
from finishmatch.optics.posterior import Posterior, log_evidence, settled
from finishmatch.optics.priors import BEAM_BACK, K2, SCALE_SD, Beliefs, smooth_precision
from finishmatch.optics.start import start_state
from finishmatch.optics.surface import ground_in_contact, usual_surface
from finishmatch.optics.unknowns import BACK_RANGE, K2_RANGE, Problem, State, moved
from tests.helpers.plain_paints import PAINTS, TINTS, grams

SURFACE = usual_surface(1.5, "di8")
BARE = (("black card", np.full(31, 0.06)), ("white card", np.full(31, 0.85)))


def panel(name: str, ground: str | None = None, build: float | None = None, **poured: float) -> Panel:
    """A panel of the plain paints, read once without noise."""
    optics = PAINTS
    if ground is not None:
        below = ground_in_contact(dict(BARE)[ground], 1.5, True)
        optics = PAINTS.over(Backing(ground, build, below))
    return Panel(name, tuple(poured.items()), ground, build, predicted_reflectance(optics, grams(**poured))[None])


PANELS = (
    panel("white", white=100.0),
    panel("blue", blue=50.0),
    panel("pale blue", white=90.0, blue=10.0),
    panel("mauve", white=60.0, blue=20.0, red=15.0),
    panel("pink", "black card", 30.0, white=80.0, red=20.0),
    panel("pink", "white card", 30.0, white=80.0, red=20.0),
    panel("red", red=40.0),
)


def bank(panels: tuple[Panel, ...] = PANELS, tints: tuple[object, ...] = TINTS[:3]) -> Bank:
    return Bank("plain", "di8", 1.5, tints, panels, BARE, "")  # type: ignore[arg-type]


def problem_of(panels: PanelSet, **other: object) -> Problem:
    return Problem(panels, amount_factors(panels), np.ones(len(panels.names), bool), **other)  # type: ignore[arg-type]


def state_of(problem: Problem, seed: int = 2) -> State:
    """Somewhere near the truth."""
    r = np.random.default_rng(seed)
    n = problem.tints
    field = np.concatenate([np.log(PAINTS.K[:n]), np.zeros((n, 31))]).T + 0.05 * r.standard_normal((31, 2 * n))
    level = np.log(np.array([0.25, 0.1, 0.15])[:n])
    shared = 0.1 * r.standard_normal((problem.panels.shared, 3))
    return State(field, level, 0.02 * r.standard_normal(problem.factors.count), SURFACE, shared)


def test_a_bank_becomes_arrays_and_what_is_left_aside_is_said() -> None:
    found, warnings = panel_set(bank(tints=(*TINTS[:3], TINTS[4])))
    assert warnings == ("clear: a clear has no colour in a film that hides; it is left out",)
    assert [tint.name for tint in found.tints] == ["white", "blue", "red"]
    assert found.names[:5] == ("white", "blue", "pale blue", "mauve", "pink over black card, 30 µm")
    np.testing.assert_allclose(found.grams[3], [60, 20, 15])
    dry = np.array([60 * 0.30, 20 * 0.40, 15 * 0.45])
    np.testing.assert_allclose(found.fractions[3], dry / dry.sum())
    np.testing.assert_allclose(found.dry, PAINTS.dry_ml_per_g[:3])
    assert found.build_um.tolist() == [np.inf] * 4 + [30.0] * 2 + [np.inf]
    assert found.hiding.tolist() == [True] * 4 + [False] * 2 + [True]
    np.testing.assert_allclose(found.ground[0], 0)
    np.testing.assert_allclose(found.ground[4], ground_in_contact(BARE[0][1], 1.5, True))
    np.testing.assert_allclose(found.readings[1], PANELS[1].reflectance)
    np.testing.assert_allclose(found.reading_sd, REPEATABILITY_SD)
    assert found.mixture.tolist() == [0, 1, 2, 3, 4, 4, 5]
    assert (found.anchor, found.shared, found.spectral.all()) == (0, 0, True)
    colours = replace(found, tints=tuple(replace(tint, role="tint") for tint in found.tints))
    assert colours.anchor == 0
    assert replace(colours, fractions=found.fractions[:, [1, 0, 2]]).anchor == 1
    some = found.chosen(np.array([True, False, True, False, False, False, False]), np.array([0, 1]))
    assert some.names == ("white", "pale blue")
    np.testing.assert_allclose(some.grams, [[100, 0], [90, 10]])
    np.testing.assert_allclose(some.fractions, found.fractions[[0, 2]][:, :2])
    assert some.mixture.tolist() == [0, 2]


def test_repeats_tell_how_surely_a_panel_was_read() -> None:
    """Four panels read twice, 0.002 apart each: 0.001² of eight, over four free, so the mean of two is 0.001 off."""
    twice = tuple(replace(one, repeats=one.repeats + np.array([[-0.001], [0.001]])) for one in PANELS[:4])
    found, _ = panel_set(bank((*twice, *PANELS[4:])))
    single = np.sqrt(2) * 0.001
    np.testing.assert_allclose(found.reading_sd[:4], single / np.sqrt(2))
    np.testing.assert_allclose(found.reading_sd[4:], single)
    few, _ = panel_set(bank((*twice[:2], *PANELS[2:])))
    np.testing.assert_allclose(few.reading_sd[:2], REPEATABILITY_SD / np.sqrt(2))


def test_a_bank_that_cant_be_fitted_is_told() -> None:
    for made, told in (
        (bank(()), "bank plain: has no panels; add masstones and letdowns"),
        (
            replace(bank(PANELS[:1]), tints=TINTS[1:3]),
            "bank plain: no panel that was read holds any of its tints; add masstones and letdowns",
        ),
    ):
        with pytest.raises(InputError) as caught:
            panel_set(made)
        assert str(caught.value) == told
    thin = (*PANELS, panel("clear pink", "white card", 20.0, white=50.0, red=5.0))
    cleared = replace(thin[-1], grams=(*thin[-1].grams, ("clear", 9.0)))
    found, warnings = panel_set(bank((*PANELS, cleared), (*TINTS[:3], TINTS[4])))
    assert warnings == ()
    assert found.tints[-1].name == "clear"


def test_a_tint_that_was_entered_before_its_panels_are_drawn_is_left_out_and_named() -> None:
    found, warnings = panel_set(bank(PANELS[:3]))
    assert "red" not in [tint.name for tint in found.tints]
    assert warnings == (
        "tint red: is in no panel that was read, so it can't be mixed with; "
        "add a letdown with white (bank plan names the most telling)",
    )
    np.testing.assert_array_equal(found.grams.sum(axis=1), panel_set(bank(PANELS))[0].grams[:3].sum(axis=1))


def test_all_wavelengths_of_a_panel_share_how_far_its_weights_and_its_build_are_off() -> None:
    found, _ = panel_set(bank())
    factors = amount_factors(found)
    # blue of the pale blue, blue and red of the mauve, red and build of the pink, the same over both cards
    assert factors.tint.tolist() == [1, 1, 2, 2, -1]
    assert factors.slots.tolist() == [[5, 5], [5, 5], [0, 5], [1, 2], [3, 4], [3, 4], [5, 5]]
    assert factors.of_build.tolist() == [False] * 4 + [True]
    weighing = [(10, 90), (20, 60), (15, 60), (20, 80)]
    expected = [WEIGHING_SD_G * np.hypot(1 / part, 1 / most) for part, most in weighing]
    np.testing.assert_allclose(factors.weighing_sd, [*expected, 0.0])
    logs = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
    by_tint = factors.of_panels(logs, 3)
    np.testing.assert_allclose(by_tint[[2, 3, 4]], [[0, 0.1, 0], [0, 0.2, 0.3], [0.5, 0.5, 0.9]])
    np.testing.assert_allclose(by_tint[[0, 1, 6]], 0)
    np.testing.assert_allclose(with_amounts(found, factors, logs).fractions, found.fractions * np.exp(by_tint))


def test_panels_read_as_their_mixtures_do() -> None:
    found, _ = panel_set(bank())
    np.testing.assert_allclose(
        panel_readings(found, PAINTS.K[:3], PAINTS.S[:3], PAINTS.surface), found.readings, atol=1e-12
    )


def test_k_and_s_of_a_state_share_the_scale_of_the_white() -> None:
    problem = problem_of(panel_set(bank())[0])
    state = state_of(problem)
    K, S = state.optics(0)
    scale = state.field[:, 3] + state.level[0]
    np.testing.assert_allclose(np.log(S[0]), scale)
    np.testing.assert_allclose(np.log(K), state.field[:, :3].T + scale)
    np.testing.assert_allclose(np.log(S[1]), state.field[:, 4] + state.level[1] + scale)


def test_a_step_stays_in_range() -> None:
    problem = problem_of(panel_set(bank())[0])
    state = state_of(problem)
    m, n = problem.factors.count, 3
    border = np.concatenate([np.full(m, 0.9), np.full(n, -2.0), [0.01, -0.02]])
    after = moved(problem, state, (np.full((31, 6), 2.0), border))
    np.testing.assert_allclose(after.field, np.clip(state.field + 1.5, -25, 12))
    np.testing.assert_allclose(after.level, state.level - 1)
    np.testing.assert_allclose(after.factors, state.factors + 0.5)
    assert after.surface.k2 == pytest.approx(SURFACE.k2 + 0.01)
    assert after.surface.beam_back == pytest.approx(SURFACE.beam_back - 0.02)
    border[-2:] = 5.0
    assert moved(problem, state, (np.zeros((31, 6)), border)).surface.k2 == K2_RANGE[1]
    assert moved(problem, state, (np.zeros((31, 6)), border)).surface.beam_back == BACK_RANGE[1]
    held = replace(problem, free_surface=False)
    assert moved(held, state, (np.zeros((31, 6)), border)).surface == SURFACE


def test_every_slope_is_that_of_a_small_step() -> None:
    """Of the readings of all panels by K, S, weights, builds, levels and the surface, over the readings' sd."""
    problem, beliefs = problem_of(panel_set(bank())[0]), Beliefs(theory=0.7, run=3.0)
    state = state_of(problem)
    linear = linearised(problem, state, beliefs)
    panels, m, n = problem.panels, problem.factors.count, 3

    def read(step: np.ndarray) -> np.ndarray:
        field, border = step[: 31 * 6].reshape(31, 6), step[31 * 6 :]
        surface = replace(SURFACE, k2=SURFACE.k2 + border[m + n], beam_back=SURFACE.beam_back + border[m + n + 1])
        other = State(state.field + field, state.level + border[m : m + n], state.factors + border[:m], surface)
        poured = with_amounts(panels, problem.factors, other.factors)
        return np.asarray(panel_readings(poured, *other.optics(0), other.surface)).ravel()

    steps = approx_fprime(np.zeros(31 * 6 + m + n + 2), read, 1e-7).reshape(len(panels.names), 31, -1)
    by_step = steps / linear.sd[:, :, None]
    for w in (0, 13, 30):
        np.testing.assert_allclose(by_step[:, w, 6 * w : 6 * w + 6], linear.by_field[:, :, w], rtol=1e-3, atol=1e-3)
    values = np.random.default_rng(4).standard_normal((len(panels.names), 31))
    expected = np.einsum("pws,pw->s", by_step[:, :, 31 * 6 :], values)
    np.testing.assert_allclose(by_border(problem.factors, linear, values), expected, rtol=2e-3, atol=2e-2)
    np.testing.assert_allclose(linear.reading.ravel(), read(np.zeros(31 * 6 + m + n + 2)))
    np.testing.assert_allclose(linear.misfit, (linear.reading - panels.readings) / linear.sd)


def test_a_panel_that_isnt_trusted_or_is_doubted_counts_less() -> None:
    problem, beliefs = problem_of(panel_set(bank())[0]), Beliefs()
    state = state_of(problem)
    plain = linearised(problem, state, beliefs)
    trusted = np.arange(7) != 2
    aside = linearised(replace(problem, trusted=trusted), state, beliefs)
    np.testing.assert_allclose(aside.sd[2], 1e4 * plain.sd[2])
    np.testing.assert_allclose(aside.sd[trusted], plain.sd[trusted])
    doubted = linearised(replace(problem, doubt=np.array([1.0, 2, 1, 1, 1, 1, 3])), state, beliefs)
    np.testing.assert_allclose(doubted.sd / plain.sd, np.array([1.0, 2, 1, 1, 1, 1, 3])[:, None] * np.ones(31))
    # the theory is off by its share of the reading over so many wavelengths, beside the reading's own noise
    wide = linearised(problem, state, replace(beliefs, theory=2.0))
    theory = plain.sd**2 - problem.panels.reading_sd**2
    np.testing.assert_allclose(wide.sd**2 - problem.panels.reading_sd**2, 4 * theory)
    longer = linearised(problem, state, replace(beliefs, run=6.0))
    np.testing.assert_allclose(longer.sd**2 - problem.panels.reading_sd**2, 3 * theory)


def test_what_was_believed_holds_each_unknown_as_firmly_as_it_says() -> None:
    beliefs = Beliefs(dispersal_sd=0.02, build_sd=0.05, kinds=("", "phthalocyanine blue", ""), kinds_off=0.3)
    kind = pigment_kinds().get("phthalocyanine blue") or next(iter(pigment_kinds().values()))
    name = next(key for key, value in pigment_kinds().items() if value is kind)
    beliefs = replace(beliefs, kinds=("", name, ""), scale_mean=-1.1)
    problem = problem_of(panel_set(bank())[0])
    m = problem.factors.count
    firm = border_precision(problem, beliefs)
    sd = [*np.hypot(0.02, problem.factors.weighing_sd[:4]), 0.05]
    np.testing.assert_allclose(firm[:m], np.array(sd) ** -2.0)
    np.testing.assert_allclose(firm[m : m + 3], [SCALE_SD**-2, kind.log_s[1] ** -2, beliefs.s_level_sd**-2])
    np.testing.assert_allclose(firm[m + 3 :], [K2[1] ** -2, BEAM_BACK[1] ** -2])
    assert (border_precision(replace(problem, free_surface=False), beliefs)[-2:] > 1e9).all()
    hiding = problem_of(panel_set(bank((*PANELS[:4], PANELS[6])))[0])
    assert border_precision(hiding, beliefs)[hiding.factors.count] > 1e9
    assert not hiding.per_um
    known = replace(problem, factors=replace(problem.factors, known_sd=np.array([0.5, 0, 0, 0, 0])))
    np.testing.assert_allclose(border_precision(known, beliefs)[:2], [0.5**-2, sd[1] ** -2])
    state = state_of(problem)
    off = border_off(problem, beliefs, state)
    np.testing.assert_allclose(off[:m], state.factors)
    level = state.level - np.array([-1.1, kind.log_s[0], beliefs.s_mean])
    np.testing.assert_allclose(off[m : m + 3], level)
    np.testing.assert_allclose(off[m + 3 :], [SURFACE.k2 - K2[0], SURFACE.beam_back - BEAM_BACK[0]])
    np.testing.assert_allclose(border_off(replace(problem, free_surface=False), beliefs, state)[-2:], 0)
    field = field_off(problem, beliefs, state)
    np.testing.assert_allclose(field[:, [0, 2]], state.field[:, [0, 2]] - beliefs.k_mean)
    np.testing.assert_allclose(field[:, 1], state.field[:, 1] - kind.log_k - 0.3)
    np.testing.assert_allclose(field[:, 4], state.field[:, 4] - kind.s_shape)
    np.testing.assert_allclose(field[:, [3, 5]], state.field[:, [3, 5]])
    each = Processes.believed(problem, beliefs).of_field(3, 0)
    np.testing.assert_allclose(each[0], smooth_precision(beliefs.k_length_nm, beliefs.k_sd))
    np.testing.assert_allclose(each[1], kind.precision)
    np.testing.assert_allclose(each[3], smooth_precision(beliefs.scale_length_nm, beliefs.scale_sd))
    np.testing.assert_allclose(each[4], smooth_precision(beliefs.s_length_nm, beliefs.s_sd))


def test_a_smooth_process_has_its_spread_and_its_length() -> None:
    """On the average a variance of sd²; a longer one is alike over more wavelengths; two diagonals on each side."""
    for length, sd in ((60.0, 2.0), (150.0, 0.3)):
        precision = smooth_precision(length, sd)
        covariance = np.linalg.inv(precision)
        assert np.mean(np.diag(covariance)) == pytest.approx(sd**2)
        np.testing.assert_allclose(precision, precision.T)
        assert np.abs(np.triu(precision, 3)).max() == 0
        assert np.abs(np.diag(precision, 2)).min() > 0
    near = [np.linalg.inv(smooth_precision(length, 1.0)) for length in (40.0, 200.0)]
    alike = [c[15, 18] / np.sqrt(c[15, 15] * c[18, 18]) for c in near]
    assert 0.2 < alike[0] < 0.9 < alike[1] < 1


def fitted() -> Posterior:
    panels, _ = panel_set(bank())
    return settled(problem_of(panels), Beliefs(), start_state(panels, SURFACE, Beliefs()), exact=1e-9)


def test_the_fit_reads_its_panels_back_and_is_where_the_cost_has_no_slope() -> None:
    found = fitted()
    assert np.abs(found.linear.reading - found.problem.panels.readings).max() < 0.006
    linear, problem = found.linear, found.problem
    processes = Processes.believed(problem, found.beliefs).of_field(3, 0)
    off = field_off(problem, found.beliefs, found.state)
    pull = np.einsum("puw,pw->wu", linear.by_field, linear.misfit)
    held = np.einsum("uvw,wu->vu", processes, off)
    assert np.abs(pull + held).max() < 0.02 * np.abs(held).max()
    border = by_border(problem.factors, linear, linear.misfit)
    firm = border_precision(problem, found.beliefs) * border_off(problem, found.beliefs, found.state)
    assert np.abs(border + firm).max() < 0.02 * max(np.abs(firm).max(), 1)
    worse = replace(found, state=replace(found.state, level=found.state.level + 0.3))
    assert log_evidence(worse) < log_evidence(found)


def test_a_mixture_left_out_is_foretold_as_by_a_fit_without_it() -> None:
    """Where all is linear: the fit without a mixture, one step from the fit with it, foretells the same."""
    found = fitted()
    out = {tuple(each.rows): each for each in left_out(found)}
    assert set(out) == {(0,), (1,), (2,), (3,), (4, 5), (6,)}
    rows = np.array([2])
    without = replace(found.problem, trusted=np.arange(7) != 2)
    again = settled(without, found.beliefs, found.state, exact=1e-9)
    foretold = again.linear.reading[2] - found.problem.panels.readings[2]
    np.testing.assert_allclose(out[2,].residual[0], foretold, atol=0.1 * np.abs(foretold).max())
    assert out[2,].rows.tolist() == rows.tolist()
    assert out[4, 5].residual.shape == (2, 31)
    assert out[4, 5].covariance.shape == (62, 62)
    assert np.linalg.eigvalsh(out[2,].covariance).min() > -1e-9
    few = left_out(found, 3)
    assert [tuple(each.rows) for each in few] == [(0,), (2,), (6,)]
    noise, theory = np.full((7, 31), 1e-3), np.full((7, 31), 2e-3)
    by_hand = 0.0
    alike = 0.5 ** np.abs(np.subtract.outer(np.arange(31), np.arange(31)))
    for each in few:
        covariance = each.covariance + 4e-6 * alike + 1e-6 * np.eye(31)
        distance = each.residual[0] @ np.linalg.solve(covariance, each.residual[0])
        by_hand -= np.linalg.slogdet(covariance)[1] / 2 + (8 + 31) / 2 * np.log1p(distance / 8)
    assert score(few, noise, theory, 3.0) == pytest.approx(by_hand, rel=1e-6)


def test_the_start_has_the_paints_nearly() -> None:
    panels, _ = panel_set(bank())
    start = start_state(panels, SURFACE, Beliefs())
    assert start.factors.tolist() == [0.0] * 5
    assert start.level[1:].tolist() == [Beliefs().s_mean] * 2
    K, S = start.optics(0)
    scale = np.log(S[0].mean() / 0.25)
    assert abs(scale) < 1.2
    hiding, _ = panel_set(bank((*PANELS[:4], PANELS[6])))
    assert start_state(hiding, SURFACE, Beliefs()).level[0] == 0.0
    assert (K > 0).all()
    seen = SeenColour(reflectance_to_lab(PANELS[2].reflectance), np.eye(3), "p", np.zeros((3, 3)))
    colours, _ = panel_set(bank((*PANELS[:2], replace(PANELS[2], seen=seen), *PANELS[3:])))
    assert colours.spectral.tolist() == [True, True, False, True, True, True, True]
    assert colours.shared == 1
    assert colours.seen is not None
    kept = colours.seen.chosen(np.array([False, True, True, False, False, False, False]))
    assert kept is not None
    assert kept.rows.tolist() == [1]
    assert colours.seen.chosen(np.array([True, True, False, True, True, True, True])) is None
    assert start_state(colours, SURFACE, Beliefs()).shared.shape == (1, 3)
