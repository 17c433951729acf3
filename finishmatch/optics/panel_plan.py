"""Which panels to draw of a shop's tints, the most telling first: how far each lowers the doubt of mixtures to come.

Colours of panels that might be drawn and of mixtures that might be wanted vary together over draws of K and S. What is
seen of a panel takes away the part of the mixtures' variance that goes with it; the panel that takes most is drawn,
and so on. What isn't known is too wide for that to choose well: the white comes first where nothing tells of it yet,
and the first letdown of a tint is of one part in ten.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.colour.grid import SIZE
from finishmatch.colour.local_metric import de00_metric
from finishmatch.errors import InputError
from finishmatch.optics.bank import Bank, Tint
from finishmatch.optics.fit import fit_bank
from finishmatch.optics.mixture import mixture_reflectance
from finishmatch.optics.panel_set import Bools
from finishmatch.optics.pigment_kinds import kind_of, pigment_kinds
from finishmatch.optics.pigment_prior import may_be
from finishmatch.optics.posterior import log_optics
from finishmatch.optics.priors import Beliefs, smooth_precision
from finishmatch.optics.surface import Surface, usual_surface

PANEL_G = 100.0
SHARES = (0.02, 0.05, 0.1, 0.2, 0.4, 1.0)  # of a tint in the white, by weight
FIRST = 0.1  # of a tint that nothing tells of yet, in the white: neither drowned nor washed out («common practice»)
IN_THREE = 0.1  # of each of two tints in the white, of the mixtures thought of
DRAWS, WANTED = 400, 80
BY_EYE, OF_PICTURE, BY_INSTRUMENT = 0.7, 1.0, 0.1  # of CIELAB, standard deviations («common practice»)
_WHITE = 0  # the first of the panels thought of
_FARTHEST = 6.0  # logarithm: K and S drawn further off than this from their middle don't occur


@dataclass(frozen=True)
class PlannedPanel:
    """A panel to draw: grams to weigh, and what unseen mixtures are off by once it is read (ΔE00, root mean square)."""

    name: str
    parts: tuple[tuple[str, float], ...]
    doubt_de00: float


@dataclass(frozen=True)
class PanelPlan:
    """Panels in the order in which they tell most.

    Parameters
    ----------
    panels : tuple of PlannedPanel
    doubt_de00 : float
        What unseen mixtures are off by as it stands (ΔE00, root mean square).
    fitted : tuple of str
        The tints of which panels tell already.
    kinds : tuple of (str, str)
        Of the others, as what kind of pigment each is taken by its name, "" for none.
    by_instrument : bool
        Whether the panels are reckoned to be read by an instrument, as those there are.
    """

    panels: tuple[PlannedPanel, ...]
    doubt_de00: float
    fitted: tuple[str, ...]
    kinds: tuple[tuple[str, str], ...]
    by_instrument: bool


def plan_panels(bank: Bank, count: int) -> PanelPlan:
    """Return the panels that tell most of unseen mixtures of a bank's tints, one after the other.

    Parameters
    ----------
    bank : Bank
        With all of its panels, some, or none.
    count : int

    Raises
    ------
    InputError
        There is no white, or nothing to mix with it; panels there are that can't be fitted.
    """
    tints = [tint for tint in bank.tints if tint.role != "clear"]
    white = next((i for i, tint in enumerate(tints) if tint.role == "white"), None)
    if white is None:
        raise InputError(f"bank {bank.name}", "has no white to let tints down with", "give a tint the role white")
    if len(tints) < 2:
        raise InputError(f"bank {bank.name}", "has a white alone", "write the tints into tints.csv")
    fitted, K, S, surface = _drawn(bank, tints, white)
    by_instrument = any(panel.seen is None for panel in bank.panels)
    ideas, wanted = _ideas(len(tints), white), _wanted(len(tints), white)
    dry = np.array([tint.dry_ml_per_g for tint in tints])
    labs = reflectance_to_lab(mixture_reflectance((np.concatenate([ideas, wanted]) * dry)[:, None], K, S, surface))
    metric = de00_metric(labs[len(ideas) :].mean(axis=1))
    off = (labs - labs.mean(axis=1, keepdims=True)).transpose(0, 2, 1)  # (mixtures, 3, draws)
    off[len(ideas) :] = metric @ off[len(ideas) :]
    holds = np.delete(ideas > 0, white, axis=1)
    known = np.array([tint.name in fitted for i, tint in enumerate(tints) if i != white])
    first = [] if tints[white].name in fitted else [_WHITE]
    chosen, doubts = _greedy(
        off, (holds, known, ideas.max(axis=1) == (1 - FIRST) * PANEL_G), count, by_instrument, first
    )
    return PanelPlan(
        tuple(
            PlannedPanel(_name(tints, ideas[i], white, chosen[:at].count(i)), _parts(tints, ideas[i]), doubt)
            for at, (i, doubt) in enumerate(zip(chosen, doubts[1:], strict=True))
        ),
        doubts[0],
        fitted,
        tuple((tint.name, _kind(tint)) for tint in tints if tint.name not in fitted),
        by_instrument,
    )


def _greedy(
    off: Floats, of: tuple[Bools, Bools, Bools], count: int, by_instrument: bool, first: Sequence[int] = ()
) -> tuple[list[int], list[float]]:
    """Return which panels to draw, those of `first` before others, and the doubt of what is wanted before and after.

    `of` is which tints each panel thought of holds, beside the white, which tints panels tell of, and which panels are
    of a tenth. As long as nothing tells of some tint, such a one is drawn; so two tints share a panel only once each
    was in one without the other: what two unknown tints do together is told apart by no colour. What a picture is off
    by is off alike for all panels in it, so it is known the better the more there are.
    """
    holds, known, tenth = of
    ideas = len(holds)
    flat = off.reshape(-1, off.shape[2])
    covariance = flat @ flat.T / off.shape[2]
    seen = 3 * ideas
    if not by_instrument:
        covariance[:seen, :seen] += np.tile(np.eye(3) * OF_PICTURE**2, (ideas, ideas))
    noise = np.eye(3) * (BY_INSTRUMENT if by_instrument else BY_EYE) ** 2
    chosen: list[int] = []
    doubts = [_doubt(covariance, seen)]
    for number in range(count):
        new = (holds & ~known).any(axis=1)
        asked = new & (holds.sum(axis=1) == 1) & tenth if new.any() else np.ones(ideas, dtype=bool)
        gains = [_gain(covariance, seen, i, noise) if asked[i] else -1.0 for i in range(ideas)]
        best = first[number] if number < len(first) else int(np.argmax(gains))
        known = known | holds[best]
        at = slice(3 * best, 3 * best + 3)
        pull = covariance[:, at]
        covariance = covariance - pull @ np.linalg.solve(covariance[at, at] + noise, pull.T)
        chosen.append(best)
        doubts.append(_doubt(covariance, seen))
    return chosen, doubts


def _gain(covariance: Floats, seen: int, idea: int, noise: Floats) -> float:
    """Return by how much a panel lowers the variance of what is wanted."""
    at = slice(3 * idea, 3 * idea + 3)
    pull = covariance[seen:, at]
    return float((pull * np.linalg.solve(covariance[at, at] + noise, pull.T).T).sum())


def _doubt(covariance: Floats, seen: int) -> float:
    variance = np.diagonal(covariance)[seen:].reshape(-1, 3).sum(axis=1)
    return float(np.sqrt(np.maximum(variance, 0).mean()))


def _drawn(bank: Bank, tints: Sequence[Tint], white: int) -> tuple[tuple[str, ...], Floats, Floats, Surface]:
    """Return the tints that panels tell of, and draws of K and S of all, shape (d, n, 31), with the surface."""
    r = np.random.default_rng(7)
    held = {name for panel in bank.panels for name, grams in panel.grams if grams > 0}
    known = [tint for tint in bank.tints if tint.name in held and tint.role != "clear"]
    logs = np.zeros((DRAWS, 2, len(tints), SIZE))
    surface, fitted = usual_surface(bank.binder_index, bank.geometry), tuple[str, ...]()
    if known:
        some = replace(bank, tints=tuple(t for t in bank.tints if t.name in held), warnings=(), digest="")
        fit = fit_bank(some)
        assert fit.posterior is not None
        drawn = log_optics(fit.posterior, DRAWS, seed=7)
        surface, fitted = fit.optics.surface, fit.optics.names
        for i, tint in enumerate(tints):
            if tint.name in fitted:
                logs[:, :, i] = drawn[:, :, fitted.index(tint.name)]
    if tints[white].name not in fitted:
        logs[:, 0, white] = _believed(tints[white], r)[:, 0]
        if known:  # what sets the scale of those that are known is another tint
            logs[:, 1, white] = logs[:, 1, [i for i, t in enumerate(tints) if t.name in fitted]].max(axis=1)
            logs[:, 0, white] += logs[:, 1, white]
    for i, tint in enumerate(tints):
        if i != white and tint.name not in fitted:
            logs[:, :, i] = _believed(tint, r) + logs[:, 1, white][:, None]
    middle = np.median(logs, axis=0)
    K, S = np.exp(np.clip(logs, middle - _FARTHEST, middle + _FARTHEST)).transpose(1, 0, 2, 3)
    return fitted, K, S, surface


def _believed(tint: Tint, r: np.random.Generator) -> Floats:
    """Return draws of log K and log S of a tint of which nothing was read, over S of the white, shape (d, 2, 31)."""
    beliefs = Beliefs()
    name = _kind(tint)
    shape = np.linalg.inv(smooth_precision(beliefs.s_length_nm, beliefs.s_sd))
    if name:
        kind = pigment_kinds()[name]
        middle, covariance, level, s_shape = kind.log_k, np.linalg.inv(kind.precision), kind.log_s, kind.s_shape
    else:
        middle, level, s_shape = np.full(SIZE, beliefs.k_mean), (beliefs.s_mean, beliefs.s_level_sd), np.zeros(SIZE)
        covariance = np.linalg.inv(smooth_precision(beliefs.k_length_nm, beliefs.k_sd))
    k = middle + r.standard_normal((DRAWS, SIZE)) @ np.linalg.cholesky(covariance).T
    s = level[0] + level[1] * r.standard_normal((DRAWS, 1)) + s_shape
    return np.stack([k, s + r.standard_normal((DRAWS, SIZE)) @ np.linalg.cholesky(shape).T], axis=1)


def _kind(tint: Tint) -> str:
    """Return the kind a tint is by its name, or by its role where the name tells none."""
    named = kind_of(tint.colour_index)
    if named and may_be(tint, named):
        return named
    return tint.role if tint.role in ("white", "black") else ""


def _ideas(n: int, white: int) -> Floats:
    """Return grams of the panels thought of, shape (i, n): the white, letdowns, and two tints in white."""
    each = np.eye(n)
    others = [i for i in range(n) if i != white]
    made = [each[white]] + [share * each[i] + (1 - share) * each[white] for i in others for share in SHARES]
    made += [IN_THREE * (each[i] + each[j]) + (1 - 2 * IN_THREE) * each[white] for i in others for j in others if i < j]
    return PANEL_G * np.array(made)


def _wanted(n: int, white: int) -> Floats:
    """Return grams of mixtures that might be wanted, shape (w, n): one to three tints in white, few dark ones."""
    r = np.random.default_rng(11)
    grams = np.zeros((WANTED, n))
    others = [i for i in range(n) if i != white]
    for row in grams:
        used = r.choice(others, min(int(r.integers(1, 4)), len(others)), replace=False)
        row[used] = np.exp(r.uniform(np.log(0.5), np.log(40), used.size))
        row[white] = max(PANEL_G - row.sum(), 0.0)
    return grams


def _parts(tints: Sequence[Tint], grams: Floats) -> tuple[tuple[str, float], ...]:
    return tuple((tint.name, round(float(g), 2)) for tint, g in zip(tints, grams, strict=True) if g > 0)


def panel_name(parts: Sequence[tuple[str, float]], white: str) -> str:
    """Return what a panel is called by its shares: blue 5/95, blue + ochre 10/10/80, blue for the tint alone.

    Parameters
    ----------
    parts : sequence of (tint, grams)
        What is in it, in the order of the bank.
    white : str
        The tint that lets the others down, named last in the shares alone; "" for none.
    """
    weighed = [(tint, grams) for tint, grams in parts if grams > 0]
    whole = sum(grams for _, grams in weighed) / PANEL_G
    names = " + ".join(tint for tint, _ in weighed if tint != white) or white
    if len(weighed) < 2:
        return names
    order = [*(part for part in weighed if part[0] != white), *(part for part in weighed if part[0] == white)]
    return f"{names} " + "/".join(_share(grams / whole) for _, grams in order)


def _share(percent: float) -> str:
    return f"{percent:.0f}" if percent >= 1 else f"{percent:.1g}"


def _name(tints: Sequence[Tint], grams: Floats, white: int, times: int) -> str:
    """Return what a panel is called, the second time with a number: blue 5/95 (2)."""
    parts = [(tint.name, float(g)) for tint, g in zip(tints, grams, strict=True)]
    return panel_name(parts, tints[white].name) + (f" ({times + 1})" if times else "")
