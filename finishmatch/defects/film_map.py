"""The film over a panel: the topcoat to expect at any place, the chance of breaking through, the depth safe to rub."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from finishmatch.defects.breakthrough import film_left
from finishmatch.defects.film import Film
from finishmatch.defects.options import HIGH, LOW, RUB
from finishmatch.defects.predicted_build import Builds, Floats, Spots, predicted_builds
from finishmatch.defects.rework_figures import ReworkFigures
from finishmatch.defects.spread import Cut, spot_cut, sum_of_cuts

HALVINGS = 16  # of a length sought between nothing and the thickest film
DEEPEST_SDS = 6.0


@dataclass(frozen=True)
class FilmMap:
    """The film at some places of a panel, each array of shape (K,).

    Parameters
    ----------
    build_um, low_um, high_um : ndarray
        The topcoat to expect, and what it lies between 80 times in 100, as it stands now.
    chance : ndarray
        Of breaking through, 0 to 1: that less than must stay is left, once a defect there is rubbed out.
    safe_um : ndarray
        How deep a pit may go there for that chance to be no more than is accepted; 0 where none may be rubbed at all.
    cut_um : float
        What the steps of rubbing and polishing take besides the depth, with the rim of a pit.
    keep_um, max_risk : float
        What must stay, and the chance that is accepted.
    """

    build_um: Floats
    low_um: Floats
    high_um: Floats
    chance: Floats
    safe_um: Floats
    cut_um: float
    keep_um: float
    max_risk: float


def film_map(
    film: Film,
    figures: ReworkFigures,
    places_mm: Floats,
    depth_um: float | None = None,
    keep_um: float | None = None,
    max_risk: float | None = None,
) -> FilmMap:
    """Return the film at places of a panel, from the readings around them.

    Parameters
    ----------
    film : Film
        With the places of its readings where they are known; else all places are alike.
    figures : ReworkFigures
    places_mm : ndarray, shape (K, 2)
        Across and down the panel.
    depth_um : float or None
        Of the pit that is rubbed out, as it is measured; None is only the steps, over no pit.
    keep_um : float or None
        Topcoat that must stay; by the figures when left out.
    max_risk : float or None
        The chance of breaking through that is accepted at one place; by the figures when left out.

    Notes
    -----
    Builds between readings are predicted by `predicted_builds` (kriging), as everywhere in this room: the chance at a
    place is the one that `advise` gives for one pit there. The depth that is safe is found by halving.
    """
    keep = figures.keep_um[film.layers[-1].role] if keep_um is None else keep_um
    risk = figures.max_risk if max_risk is None else max_risk
    builds = predicted_builds(film.layers, figures, Spots(1, places_mm)).part(film.top_start, len(film.layers))
    steps = tuple(figures.steps[name] for name in figures.sequence[RUB])
    cut = tuple(Cut(step.mean_um, step.panel_sd_um, step.spot_sd_um) for step in steps)
    with_rim = (*cut, spot_cut(figures.rim_um))
    flat, pitted = film_left(builds, cut), film_left(builds, with_rim)
    many = builds.spots.standing
    whole = np.full(many, float(keep))
    none = np.zeros(many)
    low_um, high_um = _thickest(builds)

    def chance_of(depth: Floats) -> Floats:
        return pitted.chances_at(whole + depth, np.hypot(figures.depth_error_um, figures.depth_error * depth))

    as_it_is = film_left(builds, ())
    chance = flat.chances_at(whole, none) if depth_um is None else chance_of(np.full(many, float(depth_um)))
    found = FilmMap(
        build_um=_mean(builds),
        low_um=_quantile(lambda length: as_it_is.chances_at(length, none), LOW, low_um, high_um),
        high_um=_quantile(lambda length: as_it_is.chances_at(length, none), HIGH, low_um, high_um),
        chance=np.clip(chance, 0.0, 1.0),
        safe_um=_quantile(chance_of, risk, none, high_um),
        cut_um=sum_of_cuts(cut if depth_um is None else with_rim).mean_um,
        keep_um=keep,
        max_risk=risk,
    )
    return _at_each(found, len(places_mm))


def _mean(builds: Builds) -> Floats:
    """Return the mean of the topcoat at each place, over the ways builds may be alike."""
    layers = (np.tensordot(builds.weights, build.mean_um, 1) for build in builds.layers)
    mean: Floats = np.sum(list(layers), axis=0)
    return mean


def _thickest(builds: Builds) -> tuple[Floats, Floats]:
    """Return lengths between which the topcoat surely lies at each place."""
    mean = _mean(builds)
    spread = np.zeros_like(mean)
    for build in builds.layers:
        variances = np.diagonal(build.shared, axis1=1, axis2=2) + build.own[:, None]
        spread = spread + variances.max(axis=0)
    reach = np.maximum(DEEPEST_SDS * np.sqrt(spread), mean)
    return np.zeros_like(mean), np.asarray(mean + reach)


def _quantile(chance_of: Callable[[Floats], Floats], share: float, low: Floats, high: Floats) -> Floats:
    """Return at each place the length whose chance is no more than a share, found by halving; the low end at least."""
    low, high = low.copy(), high.copy()
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        fits = chance_of(middle) <= share
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low


def _at_each(found: FilmMap, many: int) -> FilmMap:
    """Return a map whose places are all alike with one value for each."""
    if found.build_um.size == many:
        return found
    arrays = {
        name: np.full(many, float(getattr(found, name)[0]))
        for name in ("build_um", "low_um", "high_um", "chance", "safe_um")
    }
    return FilmMap(**arrays, cut_um=found.cut_um, keep_um=found.keep_um, max_risk=found.max_risk)
