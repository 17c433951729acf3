"""Many candidate recipes brought to their best together: least squares on ΔE00 in every light and on the spectrum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.subset_factors import Ints
from finishmatch.optics import TintOptics, mixture_reflectance, mixture_slope

# ΔE00 counted for a root-mean-square misfit of one in the spectrum: 0.01 of reflectance counts 0.1
SPECTRAL_WEIGHT = 10.0
_LEAST_SHARE = 1e-7
_SETTLED = 1e-11  # share of the misfit: a round that changes less is the last
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Candidates:
    """Recipes under way: `members` of shape (m, k), -1 where shorter, and `shares` of the weight, summing to 1."""

    members: Ints
    shares: Floats

    def __getitem__(self, chosen: Any) -> Candidates:
        """Return some of the candidates."""
        return Candidates(self.members[chosen], self.shares[chosen])

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.members)


def joined(parts: list[Candidates]) -> Candidates:
    """Return several lists as one, each subset once (the first of its kind is kept)."""
    members = np.concatenate([part.members for part in parts])
    shares = np.concatenate([part.shares for part in parts])
    _, first = np.unique(members, axis=0, return_index=True)
    keep = np.sort(first)
    return Candidates(members[keep], shares[keep])


def without_traces(candidates: Candidates, least_share: float, always: Sequence[int] = ()) -> Candidates:
    """Return candidates without the parts below a share, each subset once: the refinement found them to be of no use.

    At least the largest part of each stays, and the tints `always` wanted.
    """
    enough = candidates.shares >= np.minimum(least_share, candidates.shares.max(axis=1))[:, None]
    kept = (candidates.members >= 0) & (enough | np.isin(candidates.members, always))
    members = np.where(kept, candidates.members, np.iinfo(np.int64).max)
    order = np.argsort(members, axis=1)
    members = np.take_along_axis(members, order, axis=1)
    shares = np.take_along_axis(np.where(kept, candidates.shares, 0.0), order, axis=1)
    members = np.where(members == np.iinfo(np.int64).max, -1, members)
    return joined([Candidates(members, shares / shares.sum(axis=1, keepdims=True))])


def candidate_reflectance(candidates: Candidates, optics: TintOptics) -> Floats:
    """Return the predicted spectra, shape (m, 31)."""
    K, S, dry = gathered(candidates, optics)
    return mixture_reflectance(candidates.shares * dry, K, S, optics.surface, optics.backing)


def gathered(candidates: Candidates, optics: TintOptics) -> tuple[Floats, Floats, Floats]:
    """Return K and S, shape (m, k, 31), and dry volume per gram, shape (m, k), of each candidate's tints."""
    return optics.K[candidates.members], optics.S[candidates.members], optics.dry_ml_per_g[candidates.members]


def refine(
    candidates: Candidates,
    optics: TintOptics,
    target: ColourTarget,
    limits: Floats,
    rounds: int = 25,
    minimax: bool = False,
    spectral_weight: float = SPECTRAL_WEIGHT,
) -> Candidates:
    """Bring candidates to their least misfit by Levenberg-Marquardt, all at once.

    Parameters
    ----------
    candidates : Candidates
    optics : TintOptics
    target : ColourTarget
    limits : ndarray, shape (tints,)
        Largest share of the weight each tint may take.
    rounds : int
    minimax : bool
        Make the worst light small instead of the sum of squares (Lawson's reweighting of the lights).
    spectral_weight : float
        What a root-mean-square misfit of one in the spectrum counts, in ΔE00.

    Returns
    -------
    Candidates
        The same subsets with better shares; shares stay positive and within the limits.
    """
    used = candidates.members >= 0
    cap = np.where(used, limits[candidates.members], 0.0)
    misfit = _Misfit(*gathered(candidates, optics), optics, target, spectral_weight)
    m = len(candidates)
    light_weight = np.ones((m, len(target.lights)))
    shares, capped = _within(candidates.shares, cap)
    damping = np.full(m, 1e-3)
    for _ in range(rounds):
        seen = misfit.seen(shares)
        if minimax:
            light_weight = _lawson(light_weight, np.sqrt((seen.vectors**2).sum(axis=-1)))
        out, jacobian = misfit.weighted(seen, light_weight)
        free = used & ~capped
        moved = _moved(shares * free, out, jacobian, damping)
        trial, now_capped = _within(np.where(capped, shares, np.maximum(moved, _LEAST_SHARE * free)), cap)
        after = misfit.residuals(trial, light_weight)
        before, now = (out**2).sum(axis=1), (after**2).sum(axis=1)
        better = now <= before + 1e-15
        shares = np.where(better[:, None], trial, shares)
        capped = np.where(better[:, None], now_capped, capped)
        damping = np.clip(np.where(better, damping * 0.3, damping * 5), 1e-9, 1e6)
        if not minimax and (np.abs(before - now) <= _SETTLED * before + 1e-15).all():
            break
    return Candidates(candidates.members, shares)


@dataclass(frozen=True)
class _Seen:
    """What candidates look like, whatever a light counts: spectra, (m, 31), and ΔE00 vectors, (m, lights, 3).

    Slopes of the vectors with the spectrum, (m, lights, 3, 31), and of the spectrum with shares, (m, k, 31).
    """

    spectrum: Floats
    vectors: Floats
    per_spectrum: Floats
    per_share: Floats


@dataclass(frozen=True)
class _Misfit:
    """What candidates are off by: the vectors of ΔE00 in every light, and the spectrum where the target has one.

    K and S of each candidate's tints, shape (m, k, 31), and dry volume per gram, shape (m, k).
    """

    K: Floats
    S: Floats
    dry: Floats
    optics: TintOptics
    target: ColourTarget
    spectral_weight: float

    def residuals(self, shares: Floats, light_weight: Floats) -> Floats:
        """Return the residuals, shape (m, 3·lights or more), of shares, (m, k), with lights weighted, (m, lights)."""
        r = mixture_reflectance(shares * self.dry, self.K, self.S, self.optics.surface, self.optics.backing)
        return self._stacked(r, self.target.vectors(r), light_weight)

    def seen(self, shares: Floats) -> _Seen:
        """Return what shares look like, and how that moves with them."""
        surface, backing = self.optics.surface, self.optics.backing
        r, per_amount = mixture_slope(shares * self.dry, self.K, self.S, surface, backing)
        return _Seen(r, *self.target.vectors_and_slope(r), per_amount * self.dry[..., None])

    def weighted(self, seen: _Seen, light_weight: Floats) -> tuple[Floats, Floats]:
        """Return the residuals and their slope per share, with lights weighted, (m, lights)."""
        r, per_share = seen.spectrum, seen.per_share.transpose(0, 2, 1)
        turned = (np.sqrt(light_weight)[..., None, None] * seen.per_spectrum).reshape(len(r), -1, r.shape[-1])
        jacobian = [np.matmul(turned, per_share)]
        if self.target.reflectance is not None:
            jacobian.append(per_share * (self.spectral_weight / np.sqrt(r.shape[-1])))
        return self._stacked(r, seen.vectors, light_weight), np.concatenate(jacobian, axis=1)

    def _stacked(self, r: Floats, vectors: Floats, light_weight: Floats) -> Floats:
        parts = [(np.sqrt(light_weight)[..., None] * vectors).reshape(len(r), -1)]
        if self.target.reflectance is not None:
            parts.append((r - self.target.reflectance) * (self.spectral_weight / np.sqrt(r.shape[-1])))
        return np.concatenate(parts, axis=1)


def _moved(free_shares: Floats, out: Floats, jacobian: Floats, damping: Floats) -> Floats:
    """Return the free shares, shape (m, k), after a damped step; their sum stays: shares = rest · softmax(u)."""
    w = free_shares
    rest = np.maximum(w.sum(axis=1, keepdims=True), 1e-300)
    per_u = jacobian * w[:, None, :] - np.matmul(jacobian, w[:, :, None]) * (w / rest)[:, None, :]
    normal = np.matmul(per_u.transpose(0, 2, 1), per_u)
    slope = np.matmul(per_u.transpose(0, 2, 1), out[:, :, None])[:, :, 0]
    diagonal = np.einsum("mii->mi", normal)
    ridge = damping[:, None] * np.maximum(diagonal, 1e-9) + 1e-12
    step = -np.linalg.solve(normal + ridge[:, :, None] * np.eye(w.shape[1]), slope[:, :, None])[:, :, 0]
    moved: Floats = w * np.exp(np.clip(step, -3, 3))
    moved *= rest / np.maximum(moved.sum(axis=1, keepdims=True), 1e-300)
    return moved


def _within(shares: Floats, cap: Floats) -> tuple[Floats, Bools]:
    """Return shares held to their caps, the rest stretched to sum to 1, and which parts are held."""
    capped = np.zeros(shares.shape, dtype=bool)
    shares = shares / shares.sum(axis=1, keepdims=True)
    for _ in range(shares.shape[1]):
        over = (shares > cap * (1 + 1e-12)) & ~capped
        if not over.any():
            break
        capped |= over
        held = np.where(capped, cap, 0.0)
        rest = np.where(capped, 0.0, shares)
        room = np.maximum(1 - held.sum(axis=1, keepdims=True), 0)
        shares = held + rest * room / np.maximum(rest.sum(axis=1, keepdims=True), 1e-300)
    return shares, capped


def _lawson(weight: Floats, de: Floats) -> Floats:
    """Return light weights moved towards the lights that are worst off, mean 1."""
    moved = weight * (0.25 + de / np.maximum(de.max(axis=1, keepdims=True), 1e-9))
    out: Floats = moved / moved.mean(axis=1, keepdims=True)
    return out
