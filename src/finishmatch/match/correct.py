"""Bringing a poured tin to its target by adding only, and by adding as little as possible."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from finishmatch.colour import Floats, de00, difference_words, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.match.addition import Tin, least_addition, nearest_addition
from finishmatch.match.expected import intervals
from finishmatch.match.strength import StrengthPrior, update_strengths
from finishmatch.match.target import ColourTarget
from finishmatch.match.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.panelset import MODEL_FLOOR, MODEL_SHARE, READING_SD
from finishmatch.readings import Reading

AIMS = (1.0, 0.8, 0.6, 0.4, 0.2)  # shares of the tolerance aimed at, until the chance of being inside does
SURE = 0.9  # a chance of being inside that is sure enough
_NOT_WORTH = 0.04  # chance that more paint isn't added for
_FAR_GROWTH = 4.0  # growth looked at when the limit doesn't do


@dataclass(frozen=True)
class Correction:
    """What to add, and what it is expected to do.

    Parameters
    ----------
    reachable : bool
        Whether the tolerance is reached within the growth limit and the stock.
    additions : tuple of (tint, grams)
        Largest first; the best that can be done within the limit when it isn't reachable.
    growth : float
        Weight added over weight poured.
    before, lights : dict of str to float
        ΔE00 to the target in each light as sprayed, and as predicted after the additions.
    strengths : dict of str to float
        Of the tints of the batch, 1 is as characterised.
    why : str
    reflectance : ndarray, shape (31,), or None
        Predicted after the additions; None when the spray-out was read as CIELAB.
    growth_needed : float or None
        Growth that would reach it when the limit doesn't allow it, None when none was found.
    chance : float or None
        Of every light being inside the tolerance at the next spray-out.
    intervals : dict of str to (low, high)
        What the ΔE00 of the next spray-out lies within in each light 95 times in 100.
    posterior : StrengthPrior or None
        What is believed of the tins after this spray-out, to start from at the next.
    """

    reachable: bool
    additions: tuple[tuple[str, float], ...]
    growth: float
    before: dict[str, float]
    lights: dict[str, float]
    strengths: dict[str, float]
    why: str
    reflectance: Floats | None = None
    growth_needed: float | None = None
    chance: float | None = None
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    posterior: StrengthPrior | None = None


def correct_batch(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    tolerance: float = 0.5,
    max_growth: float = 0.2,
    scale: Scale | None = None,
    prior: StrengthPrior | None = None,
) -> Correction:
    """Return the smallest addition that brings a tin within tolerance of its target in every light.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of the usable tints of the bank.
    tints : tuple of Tint
        The bank's, for the stock.
    batch : tuple of (tint, grams)
        As poured.
    sprayed : Reading
        Of the spray-out of that batch.
    tolerance : float
        ΔE00, above 0.
    max_growth : float
        Largest weight added over weight poured, above 0.
    scale : Scale or None
    prior : StrengthPrior or None
        What earlier spray-outs, not this one, told of the tins.

    Returns
    -------
    Correction

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, or numbers that can't be.

    Notes
    -----
    The strengths of the tins are updated from the spray-out first; what then still parts reading and model is taken
    to stay as it is. For nearer and nearer aims the lightest addition is sought over all tints at once
    (`least_addition`), in whole scale steps, until the chance of being inside the tolerance (by what the spray-out
    leaves open of the strengths, by pouring and by the noise of the readings) is 0.9, or doesn't grow any more.
    """
    scale = scale or Scale()
    _check(tolerance, max_growth)
    tin, strengths, posterior, warnings, clear_grams = _tin(target, optics, tints, batch, sprayed, scale, prior)
    before = _sprayed_differences(target, sprayed)
    total = tin.total + clear_grams
    nothing = np.zeros(len(tin.poured))
    now = _chance(tin.drawn(nothing, scale.step_g), tolerance)
    if max(before.values()) <= tolerance:
        return Correction(
            True, (), 0.0, before, before, strengths, "already inside the tolerance in every light: add nothing",
            sprayed.reflectance, 0.0, now, intervals(target, tin.drawn(nothing, scale.step_g)), warnings, posterior,
        )  # fmt: skip
    stock = {tint.name: tint.stock_g for tint in tints}
    room = np.array([stock[name] for name in tin.optics.names])
    room = np.where(room < scale.smallest_g, 0.0, room)
    most = max_growth * total
    added = _likeliest(tin, room, tolerance, most, scale)
    needed = None
    reachable = added is not None
    if added is None:
        added = nearest_addition(tin, room, most, scale)
        far = least_addition(tin, room, AIMS[0] * tolerance, _FAR_GROWTH * total, scale)
        needed = None if far is None else float(far.sum() / total)
    drawn = tin.drawn(added, scale.step_g)
    after = {light: float(de) for light, de in zip(target.lights, tin.differences(added), strict=True)}
    order = [int(i) for i in np.argsort(-added, kind="stable") if added[i] > 0]
    return Correction(
        reachable=reachable,
        additions=tuple((tin.optics.names[i], float(added[i])) for i in order),
        growth=float(added.sum() / total),
        before=before,
        lights=after,
        strengths=strengths,
        why=_why(reachable, max(after.values()), tolerance, max_growth, needed, target, sprayed),
        reflectance=None
        if tin.lab_offset is not None
        else predicted_reflectance(tin.optics, tin.poured + added) + tin.offset,
        growth_needed=needed,
        chance=_chance(drawn, tolerance),
        intervals=intervals(target, drawn),
        warnings=warnings,
        posterior=posterior,
    )


def _likeliest(tin: Tin, room: Floats, tolerance: float, most: float, scale: Scale) -> Floats | None:
    """Return the lightest addition that is inside the tolerance as surely as adding can make it, or None.

    The surer an addition must be, the nearer it has to aim and the more it weighs; what reading noise alone keeps
    uncertain isn't chased: a chance within a few hundredths of the best there is will do.
    """
    nothing = np.zeros(len(tin.poured))
    tried = [(_chance(tin.drawn(nothing, scale.step_g), tolerance), nothing)]
    for aim in AIMS:
        added = least_addition(tin, room, aim * tolerance, most, scale)
        if added is None:
            break
        chance = _chance(tin.drawn(added, scale.step_g), tolerance)
        tried.append((chance, added))
        if chance >= SURE:
            break
    if len(tried) == 1 and tin.differences(nothing).max() > tolerance:
        return None
    enough = min(SURE, max(chance for chance, _ in tried) - _NOT_WORTH)
    return min((added for chance, added in tried if chance >= enough), key=lambda added: float(added.sum()))


def _chance(drawn: Floats, tolerance: float) -> float:
    """Return how often every light is inside the tolerance."""
    return float((drawn.max(axis=1) <= tolerance).mean())


def _check(tolerance: float, max_growth: float) -> None:
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise InputError("--tolerance", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")
    if not (np.isfinite(max_growth) and 0 < max_growth <= 10):
        raise InputError("--max-growth", f"{max_growth:g} is not a growth", "0.2 lets the tin grow by a fifth")


def _sprayed_differences(target: ColourTarget, sprayed: Reading) -> dict[str, float]:
    labs = np.stack([sprayed.lab_in(light, target.observer) for light in target.lights])
    return {light: float(de) for light, de in zip(target.lights, de00(target.labs, labs), strict=True)}


def _tin(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    scale: Scale,
    prior: StrengthPrior | None,
) -> tuple[Tin, dict[str, float], StrengthPrior, tuple[str, ...], float]:
    clears = {tint.name for tint in tints if tint.role == "clear"}
    poured: dict[str, float] = {}
    for name, grams in batch:
        if grams > 0:
            poured[name] = poured.get(name, 0.0) + grams
    clear_grams = sum(poured.pop(name) for name in clears & poured.keys())
    for name in poured:
        if name not in optics.names:
            raise InputError(f"the batch, tint {name!r}", "its optics aren't known", "add letdowns of it to the bank")
    if not poured:
        raise InputError("the batch", "holds no coloured tint", "check the batch file")
    mine = optics.chosen(list(poured))
    weights = np.array(list(poured.values()))
    believed = prior or StrengthPrior.default(mine.names)
    update = update_strengths(mine, weights, sprayed, prior=believed)
    posterior = believed.learnt(mine.names, weights, update, POUR_SD_STEPS * scale.step_g)
    # of what is in the tin, a slip of the pour is as good as strength: there the update holds as it is
    beliefs = believed.learnt(mine.names, weights, update).chosen(optics.names)
    everything = np.zeros(len(optics.names))
    everything[[optics.index(name) for name in mine.names]] = weights
    today = optics.strengthened(beliefs.factors)
    model = predicted_reflectance(today, everything)
    warnings = list(dict.fromkeys((*target.warnings, *sprayed.warnings)))
    if sprayed.reflectance is not None:
        # what parts reading and model is partly the theory's, which stays, and partly noise, which doesn't
        noise = READING_SD**2 / len(sprayed.repeats)
        theory = (MODEL_SHARE * model) ** 2 + MODEL_FLOOR**2
        offset, lab_offset = (sprayed.reflectance - model) * theory / (theory + noise), None
    else:
        warnings.append("the spray-out is known as Lab only: the strengths are less certain than from a spectrum")
        offset = np.zeros_like(model)
        lab_offset = np.asarray(sprayed.lab) - reflectance_to_lab(model, sprayed.light, sprayed.observer)
    beyond = [name for name, f in zip(mine.names, update.factors, strict=True) if not 0.85 <= f <= 1.18]
    if beyond:
        warnings.append(
            f"{', '.join(beyond)}: today's strength is far from the bank's; check the weights poured and the tin"
        )
    strengths = {name: float(factor) for name, factor in zip(mine.names, update.factors, strict=True)}
    return (
        Tin(
            today,
            everything,
            float(weights.sum()),
            offset,
            lab_offset,
            target,
            beliefs.log_covariance,
            0.0 if sprayed.reflectance is None else READING_SD / float(np.sqrt(len(sprayed.repeats))),
        ),
        strengths,
        posterior,
        tuple(warnings),
        float(clear_grams),
    )


def _why(
    reachable: bool,
    worst: float,
    tolerance: float,
    max_growth: float,
    needed: float | None,
    target: ColourTarget,
    sprayed: Reading,
) -> str:
    words = difference_words(target.labs[0], sprayed.lab_in(target.lights[0], target.observer))
    was = " and ".join(words[:2]) or "only just off"
    if reachable:
        return f"the spray-out is {was}; with this the worst light is expected at ΔE00 {worst:.2f}"
    tail = (
        f"adding {100 * needed:.2g} % would reach it"
        if needed is not None
        else "no addition reaches it, however large: something in the tin can't be covered by adding"
    )
    return (
        f"the spray-out is {was}; within a growth of {100 * max_growth:.3g} % the worst light comes to "
        f"ΔE00 {worst:.2f}, not {tolerance:g}; {tail}; a fresh batch is the other way"
    )
