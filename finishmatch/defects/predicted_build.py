"""What the build of a layer may be at spots where it was not read, from readings around them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from finishmatch.defects.film import FilmLayer
from finishmatch.defects.rework_figures import ReworkFigures

Floats = npt.NDArray[np.floating[Any]]
MOST_SPOTS = 36  # more are judged by these, each standing for several


@dataclass(frozen=True)
class Spots:
    """Where the defects lie: how many, and places in mm that stand for them, (K, 2), or None when not measured."""

    count: int
    places_mm: Floats | None = None

    @property
    def standing(self) -> int:
        """How many places stand for the spots; 1 where none is known."""
        return 1 if self.places_mm is None else len(self.places_mm)


@dataclass(frozen=True)
class Build:
    """What one layer may be at the spots, for each of C ways in which builds may be alike along the panel.

    Parameters
    ----------
    mean_um : (C, K) array
        The build to expect at each place.
    shared : (C, K, K) array
        Covariance in µm² of what isn't a spot's own: the error of the mean, and what runs along the panel.
    own : (C,) array
        Variance in µm² of what is a spot's own.
    freedom : float
        Degrees of freedom of the spread both rest on; infinite when the spread is taken as known.
    """

    mean_um: Floats
    shared: Floats
    own: Floats
    freedom: float


@dataclass(frozen=True)
class Builds:
    """The layers of a film at the spots, from the metal up, and how likely each way of being alike is (C,)."""

    weights: Floats
    layers: tuple[Build, ...]
    spots: Spots

    def part(self, start: int, end: int) -> Builds:
        """Return the layers from start to end, the end not counted."""
        return Builds(self.weights, self.layers[start:end], self.spots)


def spread_is_assumed(layer: FilmLayer) -> bool:
    """Return whether the readings show no spread: there is one, or they are all the same."""
    return max(layer.builds_um) == min(layer.builds_um)


def predicted_builds(layers: Sequence[FilmLayer], figures: ReworkFigures, spots: Spots) -> Builds:
    """Return what the layers may be at the spots.

    Parameters
    ----------
    layers : sequence of FilmLayer
        With n readings each; with their places in mm where those are known.
    figures : ReworkFigures
        The gauge's error, the spread to assume where the readings show none, and how builds may run along a panel.
    spots : Spots

    Returns
    -------
    Builds

    Notes
    -----
    Without places: Student's t with n - 1 degrees of freedom about the mean m, of scale s·sqrt(1 + 1/n); of it
    s/sqrt(n) is shared by all spots (ISO 16269-8). s is not taken below the gauge's error, which is in the readings and
    not in the film: it is taken off a spot's own spread again, down to itself.

    With places: ordinary kriging with an exponential correlation and a share of the spread that is a spot's own; mean
    and spread unknown, so that it is Student's t again. How far builds are alike is not known either: several reaches
    are weighed by how likely the readings are with each (marginal likelihood).

    One reading, or readings all the same: s is an assumed share of the build and the gauge's error, added as squares,
    taken as known («common practice»).

    References
    ----------
    ISO 16269-8; B. D. Ripley, Spatial Statistics (1981), 4.4; kriging with unknown mean and sill: P. K. Kitanidis,
    "Parameter uncertainty in estimation of spatial functions", Water Resources Research 22 (1986).
    """
    placed = spots.places_mm is not None and any(layer.places_mm for layer in layers)
    if not placed:
        alone = Spots(spots.count)
        return Builds(np.ones(1), tuple(_unplaced(layer, figures, 1, 1) for layer in layers), alone)
    ways: list[tuple[float, float] | None] = [None, *itertools.product(figures.reach_mm, figures.own)]
    log_weights = np.zeros(len(ways))
    found = []
    for layer in layers:
        if not layer.places_mm:
            found.append(_unplaced(layer, figures, len(ways), spots.standing))
            continue
        parts = [_kriged(layer, figures, spots, way) for way in ways]
        if not spread_is_assumed(layer):
            log_weights += [part[3] for part in parts]
        found.append(
            Build(
                np.array([part[0] for part in parts]),
                np.array([part[1] for part in parts]),
                np.array([part[2] for part in parts]),
                _freedom(layer),
            )
        )
    weights = np.exp(log_weights - log_weights.max())
    return Builds(weights / weights.sum(), tuple(found), spots)


def _freedom(layer: FilmLayer) -> float:
    return math.inf if spread_is_assumed(layer) else len(layer.builds_um) - 1.0


def _variance(layer: FilmLayer, figures: ReworkFigures, squares: float) -> float:
    """Return s² from the sum of squared residuals, not below the gauge's; the assumed one where they show none."""
    if spread_is_assumed(layer):
        return (figures.spread * layer.mean_um) ** 2 + figures.gauge_um**2
    return max(squares / (len(layer.builds_um) - 1), figures.gauge_um**2)


def _of_film(variance: float, figures: ReworkFigures) -> float:
    """Return the variance of the film itself: the gauge's error is in the readings, not in the paint."""
    gauge = figures.gauge_um**2
    return max(variance - gauge, min(variance, gauge))


def _unplaced(layer: FilmLayer, figures: ReworkFigures, ways: int, places: int) -> Build:
    n, mean = len(layer.builds_um), layer.mean_um
    variance = _variance(layer, figures, math.fsum((build - mean) ** 2 for build in layer.builds_um))
    return Build(
        np.full((ways, places), mean),
        np.full((ways, places, places), variance / n),
        np.full(ways, _of_film(variance, figures)),
        _freedom(layer),
    )


def _correlation(distances: Floats, way: tuple[float, float] | None) -> Floats:
    """Return the correlation of two spots, without what is each one's own."""
    if way is None:
        return np.zeros_like(distances)
    reach, own = way
    correlation: Floats = (1 - own) * np.exp(-distances / reach)
    return correlation


def _kriged(
    layer: FilmLayer, figures: ReworkFigures, spots: Spots, way: tuple[float, float] | None
) -> tuple[Floats, Floats, float, float]:
    """Return mean, shared covariance and own variance at the places, and the log marginal likelihood, for one way."""
    assert spots.places_mm is not None
    read, at = np.array(layer.places_mm), spots.places_mm
    own = 1.0 if way is None else way[1]
    builds, n = np.array(layer.builds_um), len(layer.builds_um)
    among = _correlation(_distances(read, read), way)
    np.fill_diagonal(among, 1.0)
    inverse = np.linalg.inv(among)
    to_spots = _correlation(_distances(read, at), way)  # (n, K)
    ones = np.ones(n)
    weight = float(ones @ inverse @ ones)
    mean = float(ones @ inverse @ builds) / weight
    residual = builds - mean
    squares = float(residual @ inverse @ residual)
    variance = _variance(layer, figures, squares)
    expected = mean + to_spots.T @ inverse @ residual
    short = 1 - ones @ inverse @ to_spots  # what the weights lack of 1 is the mean's own error
    shared = _correlation(_distances(at, at), way) - to_spots.T @ inverse @ to_spots + np.outer(short, short) / weight
    floor = max(squares, (n - 1) * figures.gauge_um**2, 1e-12)
    likely = -0.5 * (np.linalg.slogdet(among)[1] + math.log(weight) + (n - 1) * math.log(floor))
    return expected, variance * shared, _of_film(variance * own, figures), likely


def _distances(one: Floats, other: Floats) -> Floats:
    apart: Floats = np.linalg.norm(one[:, None, :] - other[None, :, :], axis=2)
    return apart


def with_more_readings(builds: Builds, layers: Sequence[FilmLayer], more: float) -> Builds:
    """Return builds as they would be with so many more readings of each layer that came out like those there are."""
    again = []
    for build, layer in zip(builds.layers, layers, strict=True):
        n = len(layer.builds_um)
        again.append(replace(build, shared=build.shared * (n / (n + more)), freedom=build.freedom + more))
    return replace(builds, layers=tuple(again))


def spots_over(count: int, at_mm: Sequence[float], over_mm: Sequence[float]) -> Spots:
    """Return spots spread over a rectangle about a place; all at the place when no rectangle is given.

    Parameters
    ----------
    count : int
    at_mm : sequence of two float, or empty
        Across and down the panel; empty when not measured.
    over_mm : sequence of two float, or empty
        Width and height of the rectangle.

    Notes
    -----
    Where each spot lies is not known: they are set evenly by the additive recurrence of the plastic number
    (M. Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018).
    """
    if not at_mm:
        return Spots(count)
    middle = np.array(at_mm, dtype=float)
    if not over_mm or count == 1:
        return Spots(count, middle[None, :])
    plastic = 1.32471795724474602596
    index = np.arange(1, min(count, MOST_SPOTS) + 1)[:, None]
    even = (0.5 + index * np.array([1 / plastic, 1 / plastic**2])) % 1.0
    return Spots(count, middle + (even - 0.5) * np.array(over_mm, dtype=float))
