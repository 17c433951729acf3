"""The film left after a cut, and the chance that it is too little, at one spot and anywhere among all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np
import scipy  # its `stats`, slow to import, is loaded by the first panel whose readings have places
from scipy.special import gammaincinv, ndtr, ndtri

from finishmatch.defects.predicted_build import Build, Builds, Floats
from finishmatch.defects.spread import Cut, EvenLength, Length, sum_of_cuts

SPREAD_NODES = 400  # of the unknown spread
SHARED_NODES = 40  # of what all spots share
LATTICE = 4096  # points where places run into one another
LEAST_SD_UM = 1e-3  # a film known for sure: a step this narrow stands for it
CELLS, REFINED = 32, 3  # a quantile: so many cells, refined so often
FIRST_REACH_UM, FARTHEST_UM = 16.0, 1e6


@dataclass(frozen=True)
class _Way:
    """One way in which builds may be alike: the film less the cut at the places, for a spread of 1."""

    weight: float
    mean_um: Floats  # (K,)
    shared: Floats  # (K, K)
    own: float
    freedom: float


@dataclass(frozen=True)
class FilmLeft:
    """What is left of a film after a cut.

    mean_um is the mean of the readings less the mean cut, not below 0. With nothing of the film there, nothing is left.
    """

    builds: Builds
    cut: Cut
    even: EvenLength | None

    @property
    def mean_um(self) -> float:
        """What is left on the whole."""
        return max(0.0, self._middle)

    def chance_below(self, keep_um: float) -> float:
        """Return the chance that less than keep_um is left at one spot."""
        return float(self._below(np.array([float(keep_um)]))[0])

    def chances_at(self, keep_um: Floats, doubt_um: Floats) -> Floats:
        """Return, for each place the builds are known at, the chance that less than its own length is left there.

        Parameters
        ----------
        keep_um : ndarray, shape (K,)
            A length for each place; K is 1 where places aren't known.
        doubt_um : ndarray, shape (K,)
            Standard deviation of that length.
        """
        chance = np.zeros(keep_um.size)
        for way in self._ways:
            own = np.diag(way.shared) + way.own
            varies = own[:, None] * _spreads(way.freedom)[None, :] + self.cut.sd_um**2 + doubt_um[:, None] ** 2
            sd = np.sqrt(np.maximum(varies, LEAST_SD_UM**2))
            chance += way.weight * _share_below((keep_um - way.mean_um)[:, None], sd, self.even).mean(1)
        return chance

    def quantile_um(self, share: float) -> float:
        """Return the film that is exceeded 1 - share of the time at one spot, not below 0."""
        if not self.builds.layers:
            return 0.0
        if self.chance_below(0.0) >= share:
            return 0.0
        low, high = 0.0, max(self._middle, 0.0) + FIRST_REACH_UM
        while self.chance_below(high) < share and high < FARTHEST_UM:
            low, high = high, 2 * high
        for _ in range(REFINED):
            lengths = np.linspace(low, high, CELLS + 1)
            at = int(np.searchsorted(self._below(lengths), share))
            low, high = lengths[max(at - 1, 0)], lengths[min(max(at, 1), CELLS)]
        return float(low + high) / 2

    def chance_anywhere(self, keep_um: float) -> float:
        """Return the chance that less than keep_um is left at one at least of all the spots.

        Notes
        -----
        Spots of a panel share the error of the mean, the unknown spread and what differs from panel to panel in the
        cut. Given those they are independent: P = 1 - E[(1 - p)^n] over what they share. Where places run into one
        another, what they share is drawn on a lattice without chance (4096 points of Sobol); else by quadrature.
        """
        spots = self.builds.spots
        if spots.count == 1:
            return self.chance_below(keep_um)
        if not self.builds.layers:
            return self.chance_below(keep_um)
        chance = math.fsum(way.weight * self._anywhere(way, keep_um) for way in self._ways)
        one = self.chance_below(keep_um)  # what it can't be below, nor above so many times
        return min(max(chance, one), spots.count * one, 1.0)

    @cached_property
    def _middle(self) -> float:
        removed = self.cut.mean_um + (0.0 if self.even is None else self.even.mean_um)
        means = (np.average(build.mean_um.mean(1), weights=self.builds.weights) for build in self.builds.layers)
        film = math.fsum(map(float, means))
        return film - removed

    @cached_property
    def _ways(self) -> tuple[_Way, ...]:
        layers = self.builds.layers
        return tuple(
            _Way(
                float(weight),
                np.sum([build.mean_um[i] for build in layers], axis=0) - self.cut.mean_um,
                np.sum([build.shared[i] for build in layers], axis=0),
                math.fsum(float(build.own[i]) for build in layers),
                _pooled_freedom(layers, i),
            )
            for i, weight in enumerate(self.builds.weights)
        )

    def _below(self, keep_um: Floats) -> Floats:
        """Return the chance that less than each length is left at one spot, any one of several."""
        if not self.builds.layers:
            return (keep_um + self.cut.mean_um > 0).astype(float)
        chance = np.zeros(keep_um.size)
        for way in self._ways:
            widths = _spreads(way.freedom)  # (W,)
            for place, mean in enumerate(way.mean_um):
                film = (way.shared[place, place] + way.own) * widths
                sd = np.sqrt(np.maximum(film + self.cut.sd_um**2, LEAST_SD_UM**2))
                below = _share_below(keep_um[:, None] - mean, sd[None, :], self.even).mean(1)
                chance += way.weight / len(way.mean_um) * below
        return chance

    def _anywhere(self, way: _Way, keep_um: float) -> float:
        if len(way.mean_um) == 1:
            return self._anywhere_alike(way, keep_um)
        return self._anywhere_placed(way, keep_um)

    def _anywhere_alike(self, way: _Way, keep_um: float) -> float:
        nodes, weights = np.polynomial.hermite_e.hermegauss(SHARED_NODES)
        weights = weights / weights.sum()
        widths = _spreads(way.freedom)
        shared = np.sqrt(way.shared[0, 0] * widths + self.cut.panel_sd_um**2)
        own = np.sqrt(np.maximum(way.own * widths + self.cut.spot_sd_um**2, LEAST_SD_UM**2))
        short = keep_um - way.mean_um[0] - shared[:, None] * nodes[None, :]
        spared = 1 - _share_below(short, own[:, None], self.even)
        whole = spared**self.builds.spots.count
        return 1 - float((whole * weights).sum(1).mean())

    def _anywhere_placed(self, way: _Way, keep_um: float) -> float:
        values, vectors = np.linalg.eigh(way.shared)
        kept = values > 1e-9 * max(values.max(), 1e-12)
        root = vectors[:, kept] * np.sqrt(values[kept])  # (K, r)
        points = _lattice(int(kept.sum()) + 2)
        widths = _spread_at(way.freedom, points[:, 0])
        field = ndtri(points[:, 2:]) @ root[:, ::-1].T * np.sqrt(widths)[:, None]  # the widest direction first
        panel = ndtri(points[:, 1]) * self.cut.panel_sd_um
        own = np.sqrt(np.maximum(way.own * widths + self.cut.spot_sd_um**2, LEAST_SD_UM**2))
        short = keep_um - way.mean_um[None, :] - field - panel[:, None]
        spared = 1 - _share_below(short, own[:, None], self.even)
        whole = np.prod(spared ** (self.builds.spots.count / len(way.mean_um)), axis=1)
        return 1 - float(whole.mean())


def film_left(builds: Builds, removed: Sequence[Length]) -> FilmLeft:
    """Return what is left of a film's layers less the sum of what is removed.

    Parameters
    ----------
    builds : Builds
        The layers at the spots; with none of them there is no film.
    removed : sequence of Length
        The depth of the defect and the parts of the cut; one of them may be an `EvenLength`.

    Notes
    -----
    The spreads of the layers are added by Welch and Satterthwaite: their sum is Student's t with degrees of freedom
    (Σ v)² / Σ(v² / ν), v the predictive variance of a layer and ν its degrees of freedom. The t, as a normal length
    whose variance is unknown, is then joined with the normal (or even) lengths of the cut by quadrature.

    References
    ----------
    B. L. Welch, "The generalization of Student's problem when several different population variances are involved",
    Biometrika 34 (1947); F. E. Satterthwaite, Biometrics Bulletin 2 (1946).
    """
    evens = [item for item in removed if isinstance(item, EvenLength)]
    assert len(evens) <= 1
    cut = sum_of_cuts(item for item in removed if isinstance(item, Cut))
    return FilmLeft(builds, cut, evens[0] if evens else None)


def _pooled_freedom(layers: Sequence[Build], way: int) -> float:
    """Return the degrees of freedom of the sum of layers (Welch, Satterthwaite), at the mean of the places."""
    variances = [float(np.diag(build.shared[way]).mean() + build.own[way]) for build in layers]
    below = math.fsum(v**2 / build.freedom for v, build in zip(variances, layers, strict=True))
    return math.inf if below == 0 else math.fsum(variances) ** 2 / below


@lru_cache(maxsize=256)  # what differs from film to film is asked of one again and again
def _spreads(freedom: float) -> Floats:
    """Return equally likely values of the true variance over the one read: ν/χ² of ν degrees of freedom."""
    if math.isinf(freedom):
        return np.ones(1)
    spreads = _spread_at(freedom, (np.arange(SPREAD_NODES) + 0.5) / SPREAD_NODES)
    spreads.setflags(write=False)
    return spreads


def _spread_at(freedom: float, share: Floats) -> Floats:
    if math.isinf(freedom):
        return np.ones_like(share)
    width: Floats = freedom / (2 * gammaincinv(freedom / 2, share))
    return width


def _share_below(short: Floats, sd: Floats, even: EvenLength | None) -> Floats:
    """Return the chance that a normal length of mean 0, less an even one, lies below each value."""
    if even is None:
        chance: Floats = ndtr(short / sd)
        return chance

    # ∫Φ = zΦ + φ, so the even length joins in closed form
    def rising(z: Floats) -> Floats:
        area: Floats = z * ndtr(z) + np.exp(-0.5 * np.minimum(z * z, 1400.0)) / math.sqrt(2 * math.pi)
        return area

    high, low = (short + even.high_um) / sd, (short + even.low_um) / sd
    chance = sd * (rising(high) - rising(low)) / (even.high_um - even.low_um)
    return np.clip(chance, 0.0, 1.0)


@cache
def _lattice(size: int) -> Floats:
    """Return points spread evenly over the unit cube, always the same."""
    points = scipy.stats.qmc.Sobol(size, scramble=False).random(LATTICE)
    shifted: Floats = (points + np.sqrt(np.arange(2, size + 2)) + 0.5 / LATTICE) % 1.0
    points = np.clip(shifted, 1e-9, 1 - 1e-9)
    points.setflags(write=False)
    return points
