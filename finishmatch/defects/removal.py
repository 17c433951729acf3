"""What a step takes off, learnt from a shop's own readings before and after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from finishmatch.defects.rework_figures import ReworkFigures, Step

Floats = npt.NDArray[np.floating[Any]]

# how far a shop may be from common practice before it reads anything («common practice»)
MEAN_SHARE = 0.5  # of the mean, one standard deviation
SPREAD_FACTOR = 0.6  # of the logarithm of a spread
GRID = 21
GRID_REACH = 2.5  # standard deviations of the logarithm
LEAST_MEAN_UM = 0.05


@dataclass(frozen=True)
class Removal:
    """One reading of the film before and after a step at one spot of a panel, µm."""

    panel: str
    step: str
    before_um: float
    after_um: float

    @property
    def taken_um(self) -> float:
        """What was taken off, by the readings."""
        return self.before_um - self.after_um


def calibrated(figures: ReworkFigures, removals: Sequence[Removal]) -> ReworkFigures:
    """Return the figures with their steps as a shop's own readings say; a step without readings stays as it is."""
    steps = {name: calibrated_step(step, removals, figures.gauge_um) for name, step in figures.steps.items()}
    return replace(figures, steps=steps)


def calibrated_step(step: Step, removals: Sequence[Removal], gauge_um: float) -> Step:
    """Return a step whose mean and spreads are learnt from readings before and after it.

    Parameters
    ----------
    step : Step
        As common practice has it; it is the prior.
    removals : sequence of Removal
        Those of other steps are passed over.
    gauge_um : float
        The gauge's own error, which a difference of two readings has twice; it is no part of what the step takes.

    Returns
    -------
    Step
        mean_um is the mean to expect on a new panel, panel_sd_um its spread from panel to panel and what is not known
        of the mean, spot_sd_um the spread from spot to spot.

    Notes
    -----
    Panels of mean m and spread τ, spots of spread σ about their panel (a model of two levels). m is normal about common
    figures, τ and σ log-normal about theirs; both are summed over a grid of 21 × 21, m in closed form given them.
    The law of total variance joins them. With many readings it is the shop's own mean and spreads; with few it stays
    near common practice.

    References
    ----------
    A. Gelman and others, Bayesian Data Analysis (3rd edition, 2013), 5.4.
    """
    by_panel: dict[str, list[float]] = {}
    for removal in removals:
        if removal.step == step.name:
            by_panel.setdefault(removal.panel.casefold(), []).append(removal.taken_um)
    if not by_panel:
        return step
    spread = np.exp(SPREAD_FACTOR * np.linspace(-GRID_REACH, GRID_REACH, GRID))
    log_prior = -0.5 * (np.log(spread) / SPREAD_FACTOR) ** 2
    tau2 = (step.panel_sd_um * spread[:, None]) ** 2
    sigma2 = (step.spot_sd_um * spread[None, :]) ** 2
    log_like, mean, mean_variance = _given_spreads(step, by_panel, tau2, sigma2, gauge_um)
    weights = np.exp(log_like + log_prior[:, None] + log_prior[None, :] - log_like.max())
    weights /= weights.sum()
    expected = float((weights * mean).sum())
    between = weights * (mean_variance + (mean - expected) ** 2 + tau2)
    return replace(
        step,
        mean_um=max(LEAST_MEAN_UM, expected),
        panel_sd_um=float(np.sqrt(between.sum())),
        spot_sd_um=float(np.sqrt((weights * sigma2).sum())),
        readings=sum(map(len, by_panel.values())),
        panels=len(by_panel),
    )


def _given_spreads(
    step: Step, by_panel: Mapping[str, Sequence[float]], tau2: Floats, sigma2: Floats, gauge_um: float
) -> tuple[Floats, Floats, Floats]:
    """Return, per pair of spreads, the log likelihood with the mean summed out, and the mean's mean and variance."""
    read2 = sigma2 + 2 * gauge_um**2
    precision = np.full(np.broadcast_shapes(tau2.shape, sigma2.shape), 1 / (MEAN_SHARE * step.mean_um) ** 2)
    pull = precision * step.mean_um
    squares = precision * step.mean_um**2
    log_like = 0.5 * np.log(precision)
    for taken in by_panel.values():
        n, mean = len(taken), float(np.mean(taken))
        within = float(np.sum((np.array(taken) - mean) ** 2))
        variance = tau2 + read2 / n
        precision = precision + 1 / variance
        pull = pull + mean / variance
        squares = squares + mean**2 / variance
        log_like = log_like - 0.5 * ((n - 1) * np.log(read2) + within / read2 + np.log(variance))
    centre = pull / precision
    log_like = log_like - 0.5 * np.log(precision) - 0.5 * (squares - precision * centre**2)
    return log_like, centre, 1 / precision
