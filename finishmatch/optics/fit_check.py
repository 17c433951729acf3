"""A fit that was kept is held against the panels before it is believed: what it says of them is computed again."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.colour.grid import SIZE
from finishmatch.optics.card_panels import BankToday
from finishmatch.optics.fit import BankFit
from finishmatch.optics.panel_model import panel_readings
from finishmatch.optics.panel_set import PanelSet
from finishmatch.optics.pigment_kinds import pigment_kinds
from finishmatch.optics.posterior import Posterior, settled

SAME_DE00 = 0.01  # a residual that is computed again differs by rounding alone
STAYS = 0.1  # of the logarithms of K and S, by a step from where they were fitted
_LEAST = 1e-30
DRAWS_OFF_SD = 3.0  # the middle of the draws lies within so many standard deviations of what was fitted


def fit_agrees(panels: PanelSet, fit: BankFit) -> bool:
    """Return whether a fit can be that of a bank: its shapes, its tints, and how far each panel is from it.

    Parameters
    ----------
    panels : PanelSet
        Those of the bank.
    fit : BankFit
        As it was read; anything may be wrong in it.
    """
    with np.errstate(all="ignore"):
        return _is_of(panels, fit) and draws_agree(fit) and _residuals_agree(panels, fit) and _posterior_agrees(fit)


def today_agrees(fit: BankFit, found: BankToday) -> bool:
    """Return whether what was kept of a bank with its cards can be that: its shapes, its tints, what it says of tins.

    Parameters
    ----------
    fit : BankFit
        Of the bank alone.
    found : BankToday
        As it was read; anything may be wrong in it.
    """
    own, tins = found.fit, found.tins
    count = len(tins.names)
    if tins.log_mean.shape != (count,) or tins.log_covariance.shape != (count, count):
        return False
    spectra = (own.optics.K, own.optics.S, own.K_sd, own.S_sd)
    with np.errstate(all="ignore"):
        return bool(
            all(values.shape == fit.optics.K.shape and _positive(values) for values in spectra)
            and draws_agree(own)
            and np.isfinite(tins.log_mean).all()
            and np.allclose(tins.log_covariance, tins.log_covariance.T)
            and (np.linalg.eigvalsh(tins.log_covariance) > 0).all()
        )


def _is_of(panels: PanelSet, fit: BankFit) -> bool:
    """Whether a fit is of the tints and panels of a bank, and holds numbers that can be."""
    optics, names = fit.optics, tuple(tint.name for tint in panels.tints)
    shape = (len(names), SIZE)
    spectra = (optics.K, optics.S, fit.K_sd, fit.S_sd)
    return (
        optics.names == names
        and set(fit.usable) <= set(names)
        and tuple(panel.panel for panel in fit.panels) == tuple(panels.names)
        and optics.per_um == bool((~panels.hiding).any())
        and all(values.shape == shape and _positive(values) for values in spectra)
        and optics.dry_ml_per_g.shape == panels.dry.shape
        and bool(np.allclose(optics.dry_ml_per_g, panels.dry, rtol=1e-9))
        and all(0 <= value < 1 for value in (optics.dispersal_sd, optics.model_sd))
        and all(isinstance(warning, str) for warning in fit.warnings)
    )


def _positive(values: Floats) -> bool:
    return bool(np.isfinite(values).all() and (values >= 0).all())


def draws_agree(fit: BankFit) -> bool:
    """Return whether the draws of K and S lie about K and S."""
    draws = fit.optics.draws
    if draws is None:
        return True
    if draws.ndim != 4 or not len(draws) or draws.shape[1:] != (2, *fit.optics.K.shape) or not _positive(draws):
        return False
    middle = np.log(np.maximum([fit.optics.K, fit.optics.S], _LEAST))
    off = np.abs(np.log(np.maximum(draws, _LEAST)).mean(axis=0) - middle)
    return bool((off <= DRAWS_OFF_SD * np.maximum([fit.K_sd, fit.S_sd], 0.01)).all())


def _residuals_agree(panels: PanelSet, fit: BankFit) -> bool:
    """Whether each panel is as far from what is fitted as the fit says."""
    fitted = panel_readings(panels, fit.optics.K, fit.optics.S, fit.optics.surface)
    residuals = de00(reflectance_to_lab(panels.readings), reflectance_to_lab(fitted))
    said = np.array([panel.residual_de00 for panel in fit.panels], dtype=float)
    return bool((np.abs(residuals - said) <= SAME_DE00).all())


def _posterior_agrees(fit: BankFit) -> bool:
    """Whether what the fit is said to be from makes its K and S."""
    if (found := fit.posterior) is None:
        return True
    problem, state, n = found.problem, found.state, len(fit.optics.names)
    shapes = state.level.shape == (n,) and state.factors.shape == (problem.factors.count,)
    shapes = shapes and state.shared.shape == (problem.panels.shared, 3)
    if not shapes or problem.trusted.shape != (len(problem.panels.names),):
        return False
    values = {name: value for name, value in vars(found.beliefs).items() if name not in ("kinds", "kinds_fine")}
    kinds = found.beliefs.kinds
    beliefs = all(isinstance(value, float) and np.isfinite(value) for value in values.values())
    beliefs = beliefs and all(value > 0 for name, value in values.items() if not name.endswith(("_mean", "_off")))
    beliefs = (
        beliefs
        and isinstance(found.beliefs.kinds_fine, bool)
        and len(kinds) in (0, n)
        and all(not kind or kind in pigment_kinds() for kind in kinds)
    )
    same = np.allclose(state.optics(problem.panels.anchor), [fit.optics.K, fit.optics.S], rtol=1e-6)
    finite = np.isfinite(state.factors).all() and np.isfinite(state.shared).all()
    return bool(beliefs and finite and same and _middle_stays(found))


def _middle_stays(found: Posterior) -> bool:
    """Whether K and S are where what is added to the readings would have them; cards are put to a bank about that."""
    if found.problem.shifted is None:
        return True
    if not np.isfinite(found.problem.shifted).all():
        return False
    after = settled(found.problem, found.beliefs, found.state, rounds=1)
    return bool((np.abs(after.state.field - found.state.field) <= STAYS).all())
