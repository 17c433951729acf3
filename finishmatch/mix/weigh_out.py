"""A recipe on the scale: what was poured of each part, what is still to go, and the slips a person makes there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.mix.weighing import Scale

Parts = tuple[tuple[str, float], ...]

OFF_STEPS = 2.0  # a hand pour lands within a step or two of what was meant («common practice»)
OFF_SHARE = 0.005  # and of a large part half a percent doesn't show («common practice»)
_NEAR_WHOLE = (0.8, 1.25)
_POWERS = (10.0, 100.0, 1000.0, 0.1, 0.01, 0.001)  # a thousand: a kilogram for a gram
_PARTS = {0.1: "tenth", 0.01: "hundredth", 0.001: "thousandth"}
_POWER_OFF = 0.08  # share by which a weight may miss ten times another and still be taken for a slipped point


@dataclass(frozen=True)
class PourLine:
    """A part of a recipe as it was poured: grams planned, 0 where the recipe doesn't hold it, and poured.

    `off` tells that the two differ by more than a pour does.
    """

    tint: str
    planned_g: float
    poured_g: float
    off: bool

    @property
    def to_go_g(self) -> float:
        """What is still to be poured."""
        return self.planned_g - self.poured_g if self.off and self.poured_g < self.planned_g else 0.0

    @property
    def over_g(self) -> float:
        """What was poured too much."""
        return self.poured_g - self.planned_g if self.off and self.poured_g > self.planned_g else 0.0


@dataclass(frozen=True)
class Slip:
    """What looks like a slip of the hand: where, what, and what was likely meant."""

    where: str
    what: str
    mend: str


def summed(parts: Sequence[tuple[str, float]]) -> dict[str, float]:
    """Return grams by tint, a tint poured twice added up."""
    grams: dict[str, float] = {}
    for tint, weight in parts:
        grams[tint] = grams.get(tint, 0.0) + weight
    return grams


def off_by(planned_g: float, scale: Scale) -> float:
    """Return by how much a weight may differ from what was planned and still be what a pour does."""
    return max(OFF_STEPS * scale.step_g, OFF_SHARE * planned_g) + 1e-9


def is_off(planned_g: float, poured_g: float, scale: Scale) -> bool:
    """Return whether a weight differs from what was planned by more than a pour does."""
    return abs(poured_g - planned_g) > off_by(planned_g, scale)


def pour_lines(planned: Parts, poured: Parts, scale: Scale) -> tuple[PourLine, ...]:
    """Return the parts of a recipe as they were poured, in its order, then what it doesn't hold."""
    meant, there = summed(planned), summed(poured)
    lines = []
    for tint in dict.fromkeys([*meant, *there]):
        want, have = meant.get(tint, 0.0), there.get(tint, 0.0)
        off = is_off(want, have, scale) or (want > 0 and have == 0)  # a part by a letdown may be less than a slip
        lines.append(PourLine(tint, want, have, off))
    return tuple(lines)


def likely_size(planned: Parts, poured: Parts, scale: Scale) -> float:
    """Return how much of a recipe was meant, 1 for the whole of it: what most of its parts agree on.

    A size near the whole is never guessed: the part that is off was poured wrong then.
    """
    meant, there = summed(planned), summed(poured)
    both = {tint: there[tint] / grams for tint, grams in meant.items() if grams > 0 and there.get(tint, 0.0) > 0}

    def agree(size: float) -> int:
        return sum(not is_off(size * meant[tint], there[tint], scale) for tint in both)

    best = max((size for size in both.values() if not _NEAR_WHOLE[0] < size < _NEAR_WHOLE[1]), key=agree, default=1.0)
    if agree(best) < 2 or 2 * agree(best) <= len(both) or agree(best) <= agree(1.0):
        return 1.0
    alike = [tint for tint in both if not is_off(best * meant[tint], there[tint], scale)]
    return sum(there[tint] for tint in alike) / sum(meant[tint] for tint in alike)


def weights_of(totals: Parts, start_g: float = 0.0) -> Parts:
    """Return the weights of parts from the running totals that the scale showed.

    Parameters
    ----------
    totals : tuple of (tint, grams)
        In the order poured.
    start_g : float
        What stood on the scale before.

    Raises
    ------
    InputError
        Totals that fall: they are none.
    """
    weights, before = [], start_g
    for tint, total in totals:
        if total < before:
            what = f"{total:g} g after {before:g} g: a running total never falls"
            raise InputError(f"{tint[:40]}", what, "leave out `running` if these are the weights of the parts")
        weights.append((tint, round(total - before, 6)))
        before = total
    return tuple(weights)


def find_slip(planned: Parts, poured: Parts, scale: Scale, *, half_way: bool = False) -> Slip | None:
    """Return what looks like a slip in the weights of a recipe, or None.

    Parameters
    ----------
    planned : tuple of (tint, grams)
        In the size that was meant.
    poured : tuple of (tint, grams)
        As entered, in the order poured.
    scale : Scale
    half_way : bool
        More is going to be poured, so that too little is no slip.
    """
    slip = _running_totals(planned, poured, scale) or _entered_twice(planned, poured, scale)
    lines = pour_lines(planned, poured, scale)
    return slip or _exchanged(lines, scale) or _another_tint(lines, scale) or _point_slipped(lines, half_way)


def _running_totals(planned: Parts, poured: Parts, scale: Scale) -> Slip | None:
    meant = summed(planned)
    entered = [grams for _, grams in poured]
    if len(poured) < 2 or any(tint not in meant for tint, _ in poured) or entered != sorted(entered):
        return None
    weights = weights_of(poured)
    as_weights = sum(abs(grams - meant[tint]) for tint, grams in poured)
    as_totals = sum(abs(grams - meant[tint]) for tint, grams in weights)
    off = sum(is_off(meant[tint], grams, scale) for tint, grams in poured)
    if off == 0 or as_totals > 0.2 * as_weights or as_weights < 0.1 * sum(meant.values()):
        return None
    shown = ", ".join(f"{grams:g}" for grams in entered[:4])
    return Slip("the weights", f"{shown} look like the scale's running totals", "say so with `running`")


def _entered_twice(planned: Parts, poured: Parts, scale: Scale) -> Slip | None:
    meant, there = summed(planned), summed(poured)
    for tint, grams in poured:
        times = sum(part == (tint, grams) for part in poured)
        if times > 1 and tint in meant and not is_off(meant[tint], grams, scale) and there[tint] > meant[tint]:
            return Slip(tint, f"stands {times} times with {grams:g} g, and is planned once", "write it once")
    return None


def _exchanged(lines: Sequence[PourLine], scale: Scale) -> Slip | None:
    off = [line for line in lines if line.off and line.planned_g > 0 and line.poured_g > 0]
    for one in off:
        for other in off:
            crossed = not is_off(one.planned_g, other.poured_g, scale) and not is_off(
                other.planned_g, one.poured_g, scale
            )
            if one is not other and crossed:
                what = f"{one.poured_g:g} g is what {other.tint} should weigh, and the other way round"
                return Slip(f"{one.tint} and {other.tint}", what, "exchange the two weights")
    return None


def _another_tint(lines: Sequence[PourLine], scale: Scale) -> Slip | None:
    missing = [line for line in lines if line.planned_g > 0 and line.poured_g == 0]
    for stranger in (line for line in lines if line.planned_g == 0 and line.poured_g > 0):
        for line in missing:
            if not is_off(line.planned_g, stranger.poured_g, scale):
                what = f"is not in it, and {line.poured_g + line.planned_g:g} g of {line.tint} are"
                return Slip(stranger.tint, what, f"was it {line.tint}?")
    return None


def _point_slipped(lines: Sequence[PourLine], half_way: bool) -> Slip | None:
    for line in lines:
        if not line.off or line.planned_g == 0 or line.poured_g == 0:
            continue
        for power in _POWERS:
            if abs(line.poured_g / (power * line.planned_g) - 1) <= _POWER_OFF and (power > 1 or not half_way):
                times = f"{power:g} times" if power > 1 else f"a {_PARTS[power]} of"
                what = f"{line.poured_g:g} g is {times} what is planned ({line.planned_g:g} g)"
                return Slip(line.tint, what, f"is it {line.poured_g / power:g} g?")
    return None


def in_proportion(lines: Sequence[PourLine], scale: Scale) -> Parts | None:
    """Return what has to be added for every part to stand as in the recipe again, the tin growing as it must.

    Parameters
    ----------
    lines : sequence of PourLine
    scale : Scale
        In whole steps of which it is given.

    Returns
    -------
    tuple of (tint, grams), or None
        In the order of the recipe; None where something was poured that the recipe doesn't hold.
    """
    if any(line.planned_g == 0 and line.poured_g > 0 for line in lines):
        return None
    size = max([1.0, *(line.poured_g / line.planned_g for line in lines if line.off and line.planned_g > 0)])
    wanted = ((line.tint, round((size * line.planned_g - line.poured_g) / scale.step_g)) for line in lines)
    return tuple((tint, round(steps * scale.step_g, 6)) for tint, steps in wanted if steps > 0)
