"""The tins of a day: the lots that are meant, and what the job's own strengths say of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from finishmatch.ledger import (
    EntryView,
    SprayOutEntry,
    strength_found,
    strength_standing,
    strengths_counted,
)
from finishmatch.ledger.pouring import grams_of_lots, lots_in_tin
from finishmatch.optics import Tint
from finishmatch.optics.strength import StrengthPrior
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.spray_outs_counted import CountedSprayOut, strength_entry_of


@dataclass(frozen=True)
class Day:
    """The tins a spray-out is of, or those open now: their lots, and the strengths found of them in the job.

    `number` is the last of these strengths, `found` the one that stands of the very reading; `of_several` has the lots
    of the tints that are of more than one, `grams_of` the grams of each of these lots, where they are known.
    """

    lots: dict[str, str]
    strengths: tuple[EntryView, ...]
    number: int | None
    found: EntryView | None
    of_several: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    grams_of: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def day_of(
    views: list[EntryView],
    fitted: FittedBank,
    spray_out: SprayOutEntry | None,
    replaced: int | None,
    fresh: bool,
    batch: int | None = None,
) -> Day:
    """Return the tins that a spray-out is of, or those open now.

    `spray_out` is that in hand, `replaced` the number of one that it replaces; `fresh` is whether new tins were opened,
    `batch` the number of what is in the tin.
    """
    bank = fitted.bank.name
    open_now = {tint.name: tint.lot for tint in fitted.bank.tints}
    lots = dict(open_now) if fresh else lots_meant(views, batch, open_now)
    strengths = strengths_counted(views, bank)
    found = None if spray_out is None else strength_found(views, bank, spray_out)
    start = strength_standing(views, bank)
    number = None if start is None else start.number
    was = found
    if replaced:
        was = next((view for view in strengths if strength_entry_of(view).spray_out == replaced), None)
    if was is not None and not fresh:
        kept = strength_entry_of(was)
        lots |= dict(zip(kept.tints, kept.lots, strict=True))
        strengths, number = strengths_counted(views, bank, was), kept.starts_from
    left = [view for view in strengths if replaced is None or strength_entry_of(view).spray_out != replaced]
    in_tin = {} if fresh or batch is None else lots_in_tin(views, batch)
    several = {tint: of for tint, of in in_tin.items() if len(of) > 1}
    by_lot = {} if not several or batch is None else grams_of_lots(views, batch)
    grams_of = {tint: by_lot[tint] for tint in several if tint in by_lot}
    return Day(lots, tuple(left), number, None if replaced else found, several, grams_of)


def lots_meant(views: Sequence[EntryView], batch: int | None, lots: Mapping[str, str]) -> dict[str, str]:
    """Return the lots of the tins that a batch was poured from, by tint; where that isn't known those of `lots`.

    A tint that is of two lots is a tin of its own ("" for a lot), known in its job alone: what a card shows of it is
    neither's.
    """
    if batch is None:
        return dict(lots)
    in_tin = lots_in_tin(views, batch)
    mixed = {tint: of[0] if len(of) == 1 else "" for tint, of in in_tin.items()}
    return {tint: mixed.get(tint, lot) for tint, lot in lots.items()}


def _several(day: Day) -> tuple[str, ...]:
    """Return a warning for every tint of a tin that is of several lots."""
    alone = "what its card shows of it is kept for this tin alone, and tells little of either lot"
    said = []
    for tint, of in day.of_several.items():
        grams = day.grams_of.get(tint)
        weights = "" if grams is None else f" ({' and '.join(f'{grams[lot]:.4g} g' for lot in of)})"
        taken = "" if grams is None else "it counts as strong as these together, what is to be added of it too; "
        said.append(f"{tint} in this tin is of the lots {' and '.join(of)}{weights}: {taken}{alone}")
    return tuple(said)


def _new_tins(day: Day, known: Sequence[str]) -> tuple[str, ...]:
    """Return a warning for every tint of the job that is poured from a tin nothing is known of."""
    sprayed = [tint for view in day.strengths if view is not day.found for tint in strength_entry_of(view).tints]
    return tuple(
        f"{tint}{f' of lot {lot}' if (lot := day.lots[tint]) else ''} is a new tin to this job: "
        "its strength is taken as the bank's"
        for tint in dict.fromkeys(sprayed)
        if tint in day.lots and tint not in known and tint not in day.of_several
    )


def _other_tins(day: Day, fitted: FittedBank) -> tuple[str, ...]:
    """Return a warning of a card whose tins aren't those that are open now."""
    single = [tint for tint in fitted.bank.tints if tint.name not in day.of_several]
    changed = ", ".join(tins_changed(day.lots, single))
    return (f"{changed} (tints.csv): what is worked out from this card is for the tins it was of",) if changed else ()


def of_lots(
    day: Day, fitted: FittedBank, known: StrengthPrior | None, cards: Sequence[CountedSprayOut] = (), job: str = ""
) -> tuple[str, ...]:
    """Return a warning for every tin of the day that nothing is known of, of several lots, or not open any more.

    `cards` are those of the whole record, where a job, by its ref, is asked of before any of its own.
    """
    names = () if known is None else known.names
    unmarked = _of_no_lot(job, cards, names) if job and not day.strengths else ()
    return (*_new_tins(day, names), *_several(day), *_other_tins(day, fitted), *unmarked)


def _of_no_lot(job: str, cards: Sequence[CountedSprayOut], known: Sequence[str]) -> tuple[str, ...]:
    """Return a note where cards of other jobs showed tins that bear no lot, so that nothing of it counts in this one.

    Parameters
    ----------
    job : str
        The ref of the job in hand.
    cards : sequence of CountedSprayOut
        Of the whole record.
    known : sequence of str
        The tints of which something is known here.
    """
    others = [one for one in cards if one.job != job]
    shown = [(one.job, tint) for one in others for tint, lot in zip(one.tints, one.lots, strict=True) if not lot]
    tints = ", ".join(dict.fromkeys(tint for _, tint in shown if tint not in known))
    if not tints:
        return ()
    jobs = ", ".join(dict.fromkeys(ref for ref, tint in shown if tint not in known))
    return (
        f"how strong cards of {jobs} showed their tins isn't used here ({tints}): they had no lot in tints.csv; any "
        "mark will do, as the day a tin was opened, and every later job knows the tin by it",
    )


def tins_changed(lots: Mapping[str, str], tints: Sequence[Tint]) -> tuple[str, ...]:
    """Return in words the tins of these lots, by tint, in whose place a bank has others open."""

    def named(lot: str) -> str:
        return f"of lot {lot}" if lot else "without a lot"

    pairs = ((tint.name, lots.get(tint.name, tint.lot), tint.lot) for tint in tints)
    return tuple(f"{name} was {named(was)} and is {named(now)} now" for name, was, now in pairs if was != now)
