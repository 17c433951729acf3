"""How a tin stands against what was to be poured: what is still to go, and what an overshoot costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from finishmatch.correct.fresh_batch import cost_of
from finishmatch.errors import InputError
from finishmatch.ledger import CorrectionEntry, Nth
from finishmatch.mix.unreachable import more_than_there
from finishmatch.mix.weigh_out import PourLine, find_slip, in_proportion, off_by, pour_lines, summed
from finishmatch.mix.weighing import PARTS, Scale
from finishmatch.optics import Tint
from finishmatch.readings.batch_file import LEAST_GRAMS
from finishmatch.steps.bank import FittedBank, film_of
from finishmatch.steps.hazards import parts_document
from finishmatch.steps.matching import Parts, scale_of
from finishmatch.steps.planned_pour import Before, Meant, PourPlan
from finishmatch.steps.shelf import Shelf
from finishmatch.steps.todays_tins import TodaysTins
from finishmatch.steps.way_back import MEANT, Goal, HeldAgainst, Unsprayed, WayBackRequest, held_against

SLIP_TOLERANCE = 0.5  # ΔE00 from what was meant that a slip may make where the job asks for no less
OF_A_SLIP = WayBackRequest(tolerance=SLIP_TOLERANCE)


@dataclass(frozen=True)
class Bench:
    """The bank a tin is poured from, today's tins and the stock that is left when the pour is recorded, as far as they
    are known."""

    fitted: FittedBank
    tins: TodaysTins
    shelf: Shelf


@dataclass(frozen=True)
class WeighOut:
    """How a tin stands.

    Parameters
    ----------
    plan : PourPlan
        What was to be poured.
    before : Before or None
        What was in the tin before.
    lines : tuple of PourLine
        Each part of it, as it was poured.
    against : HeldAgainst or None
        Where something was poured too much: how the tin, with all that is still to go, differs from what was meant, and
        the way back by adding only. None where nothing was, or the bank isn't known.
    proportion : tuple of (tint, grams), or None
        What would have to be added, with what is still to go, for every part to stand as planned again.
    tints : tuple of Tint
        Of the bank, for what it costs, with the stock that is left; empty where that isn't known.
    step_g : float
        Of the scale.
    """

    plan: PourPlan
    before: Before | None
    lines: tuple[PourLine, ...]
    against: HeldAgainst | None
    proportion: Parts | None
    tints: tuple[Tint, ...] = ()
    step_g: float = 0.1

    @property
    def overshot(self) -> bool:
        """Whether something was poured too much."""
        return any(line.over_g > 0 for line in self.lines)

    @property
    def to_go(self) -> Parts:
        """What is still to be poured by the plan alone, in whole steps of the scale; by a letdown in tenths of them."""
        steps = {tint: self.step_g / PARTS for tint, *_ in self.plan.letdowns}
        found = ((line, steps.get(line.tint, self.step_g)) for line in self.lines)
        weights = ((line.tint, round(round(line.to_go_g / step) * step, 6)) for line, step in found)
        return tuple((tint, grams) for tint, grams in weights if grams > 0)

    @property
    def to_add(self) -> Parts:
        """The way back beyond that; nothing where none is needed or known."""
        return () if self.against is None or self.against.within else self.against.way_back.additions

    @property
    def to_pour(self) -> Parts:
        """What is still to go and the way back together, each tint once."""
        return tuple((tint, round(grams, 6)) for tint, grams in summed((*self.to_go, *self.to_add)).items())

    @property
    def reachable(self) -> bool:
        """Whether adding brings the tin back within the growth limit."""
        return self.against is None or self.against.within or self.against.way_back.reachable

    @property
    def lacking(self) -> tuple[tuple[str, float, float], ...]:
        """What every part in proportion takes more than the shelf holds: (tint, needed grams, grams in stock)."""
        return self._more_than_there(self.proportion or ())

    @property
    def lacking_words(self) -> str:
        """That in words; "" where the shelf holds it."""
        return more_than_there(self.lacking)

    @property
    def not_there(self) -> tuple[str, ...]:
        """A note of what is still to go that the shelf doesn't hold; nothing where it does."""
        short = self._more_than_there(self.to_go)
        return (f"the stock is too small for what is still to go: {more_than_there(short)}",) if short else ()

    def _more_than_there(self, parts: Parts) -> tuple[tuple[str, float, float], ...]:
        left = {tint.name: tint.stock_g for tint in self.tints}
        wanted = ((tint, grams, left.get(tint, grams)) for tint, grams in parts)
        return tuple(part for part in wanted if part[1] > part[2] + 1e-9)

    @property
    def grams(self) -> float:
        """What is in the tin now."""
        there = 0.0 if self.before is None else self.before.grams
        return there + sum(line.poured_g for line in self.lines)

    def slack_g(self, line: PourLine) -> float:
        """Return how much less of a part than planned is as much as planned: a pour lands no nearer."""
        return off_by(line.planned_g, scale_of(self.step_g))

    def cost(self, parts: Parts) -> float | None:
        """Return what some parts cost, in the shop's currency; None where the bank isn't known."""
        return cost_of(parts, self.tints) if self.tints else None

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON form."""
        against, proportion = self.against, self.proportion
        kind, number = self.plan.named
        return {
            "plan": {"number": number, "kind": kind, "size": self.plan.size},
            "added_to": None if self.before is None else self.before.number,
            "lines": [
                {
                    "tint": line.tint,
                    "planned": line.planned_g,
                    "poured": line.poured_g,
                    "to_go": line.to_go_g,
                    "over": line.over_g,
                }
                for line in self.lines
            ],
            "overshot": self.overshot,
            "against": None if against is None else against.as_dict(),
            "way_back": None if against is None else against.way_back_as_dict(),
            "way_back_cost": self.cost(self.to_add) if against is not None else None,
            "in_proportion": None
            if proportion is None or not self.overshot
            else {
                "additions": parts_document(proportion),
                "grams": self.grams + sum(grams for _, grams in proportion),
                "cost": self.cost(proportion),
                "lacking": [{"tint": tint, "needed": need, "left": left} for tint, need, left in self.lacking],
            },
        }


def weigh_out(
    meant: Meant,
    scale: Scale,
    tints: tuple[Tint, ...] = (),
    bench: Callable[[], Bench] | None = None,
    request: WayBackRequest = OF_A_SLIP,
) -> WeighOut:
    """Return how a tin stands against its plan: what is still to go, and, of an overshoot, the way back.

    Parameters
    ----------
    meant : Meant
        What was poured so far, and by what plan, which it must have.
    scale : Scale
    tints : tuple of Tint
        Of the bank, with the stock that is left when this pour is recorded; empty where that isn't known.
    bench : callable or None
        Opens the bank where something was poured too much; None: it isn't known, and an overshoot is answered in
        proportion alone.
    request : WayBackRequest
        Its tolerance is that of a slip; None is 0.5.

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough.
    """
    plan = meant.plan
    assert plan is not None
    lines = pour_lines(plan.parts, meant.poured, scale)
    found = WeighOut(plan, meant.before, lines, None, in_proportion(lines, scale), tints, scale.step_g)
    if bench is None or not found.overshot:
        return found
    return replace(found, against=_against(found, bench(), scale, request))


def way_back_due(stands: WeighOut | None, recipe: int | None) -> CorrectionEntry | None:
    """Return the way back from an overshoot as it is kept, so that it is known to be due; None where none is needed.

    Nor is one kept of a tin that doesn't follow the recipe it is held against, by its number, or holds a tint of its
    own.
    """
    if stands is None or stands.against is None or not stands.to_add or not stands.reachable:
        return None
    strange = any(line.planned_g == 0 and line.over_g > 0 for line in stands.lines)  # hardly a slip of the hand
    if stands.plan.kind == "recipe" and (strange or stands.plan.number != recipe):
        return None
    grown = sum(grams for _, grams in stands.to_add) / max(stands.grams, LEAST_GRAMS)
    lights, why = stands.against.way_back.lights, f"poured too much by {stands.plan.name}"
    return CorrectionEntry(Nth(0), stands.to_pour, grown, True, lights, {}, why)


def _against(found: WeighOut, bench: Bench, scale: Scale, request: WayBackRequest) -> HeldAgainst:
    """Return how the tin, with what is still to go, differs from what was meant."""
    there = () if found.before is None else found.before.parts
    full = tuple((line.tint, max(line.planned_g, line.poured_g) if line.off else line.poured_g) for line in found.lines)
    planned = tuple((line.tint, line.planned_g if line.off else line.poured_g) for line in found.lines)
    film = film_of(bench.fitted).optics
    shelf = bench.shelf.less(found.to_go)
    batch = Unsprayed(bench.fitted, film, bench.tins.prior, _put_together(there, full), shelf, found.plan.without)
    goal = Goal(None, SLIP_TOLERANCE if request.tolerance is None else request.tolerance)
    held = held_against(batch, goal, _put_together(there, planned), scale, request)
    return replace(held, name=f"{MEANT} ({found.plan.name})")


def _put_together(*parts: Parts) -> Parts:
    """Return what several lists of parts come to, each tint once."""
    grams = summed([part for some in parts for part in some])
    return tuple((tint, weight) for tint, weight in grams.items() if weight > 0)


def refuse_slip(meant: Meant, scale: Scale, *, half_way: bool, anyway: bool) -> tuple[str, ...]:
    """See that the weights of a pour can be what was poured; return a note of what is taken as it is.

    Raises
    ------
    InputError
        Names the likeliest slip.
    """
    if meant.plan is None:
        return ()
    slip = find_slip(meant.plan.parts, meant.poured, scale, half_way=half_way)
    if slip is None:
        return ()
    if anyway:
        return (f"{slip.where}: {slip.what}; taken as it is",)
    joined = " With" if slip.mend.endswith("?") else "; with"
    where = f"{slip.where} ({meant.plan.name})"
    raise InputError(where, slip.what, f"{slip.mend}{joined} `anyway` it is taken as it is")
