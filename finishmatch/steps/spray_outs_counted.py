"""Which spray-outs of the record count for the tins in use today, each once, and what they show together."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.ledger import (
    BatchEntry,
    EntryView,
    JobView,
    Ledger,
    SprayOutEntry,
    StrengthEntry,
    fallen_since,
    first_found,
    jobs_with_strengths,
    new_tins_at,
    newest_strength,
    strengths_by_tins,
    strengths_counted,
)
from finishmatch.ledger.entries import Parts
from finishmatch.optics import Tint
from finishmatch.optics.strength import PANELS_OWN_SD, PRIOR_SD, StrengthEvidence, StrengthPrior, lot_spread
from finishmatch.steps.known_again import KnownAgain

# of a precision, that of any tin being 400: what a difference of two may leave where a spray-out shows nothing
_NOTHING = 1e-3
_OLDER_SPREAD = 0.05  # of tins nothing was known of, when entries of an older form were made


@dataclass(frozen=True)
class CountedSprayOut:
    """A spray-out that counts.

    Parameters
    ----------
    shown : StrengthEvidence
        What it shows by itself; its names are those of tins, by `tin_name`.
    job : str
        The ref of its job.
    number : int or None
        Of the spray-out; of the strength itself where a tin was tried by a letdown.
    entry : SprayOutEntry or None
    lots : tuple of str
        Of the tins.
    tints : tuple of str
        Their tints.
    parts : tuple of (tint, grams)
        What was in the tin that was sprayed; empty where that isn't known.
    mixture : str
        What the card's tin has in common with the tins it went on from.
    letdown : StrengthEntry or None
        Where it isn't a spray-out, but a letdown that a tin was tried by.
    """

    shown: StrengthEvidence
    job: str
    number: int | None
    entry: SprayOutEntry | None
    lots: tuple[str, ...]
    tints: tuple[str, ...] = ()
    parts: Parts = ()
    mixture: str = ""
    letdown: StrengthEntry | None = None


def strength_entry_of(view: EntryView) -> StrengthEntry:
    """Return the entry of a view that is known to be a strength."""
    assert isinstance(view.entry, StrengthEntry)
    return view.entry


def tin_name(tint: str, lot: str, job: str) -> str:
    """Return what sets one tin apart from all others: tint and lot; without a lot it is known within its job only."""
    return "\0".join((tint, lot, "" if lot else job))


def tins_of_panels(tints: Sequence[Tint]) -> frozenset[str]:
    """Return the tins that the panels of a bank were drawn from, by `tin_name`, whether they are open or not."""
    return frozenset(tin_name(tint.name, tint.panels_lot, "") for tint in tints if tint.panels_lot)


def open_of_panels(tints: Sequence[Tint], lots: Mapping[str, str]) -> tuple[str, ...]:
    """Return the tints whose tin of these lots is the one that their panels were drawn from."""
    return tuple(tint.name for tint in tints if tint.panels_lot and lots[tint.name] == tint.panels_lot)


def counted(
    entry: StrengthEntry,
    shown: StrengthEvidence,
    job: str,
    spray_out: SprayOutEntry | None,
    by_number: Mapping[int, EntryView],
) -> CountedSprayOut:
    """Return a spray-out as it counts: `entry` holds the lots of its tins, `shown` is by tint."""
    lots = dict(zip(entry.tints, entry.lots, strict=True))
    names = tuple(tin_name(tint, lots[tint], job) for tint in shown.names)
    of_these = tuple(lots[tint] for tint in shown.names)
    parts, mixture = _sprayed_of(None if spray_out is None else spray_out.batch, by_number)
    return CountedSprayOut(
        replace(shown, names=names), job, entry.spray_out, spray_out, of_these, shown.names, parts, mixture
    )


def _sprayed_of(batch: int | None, by_number: Mapping[int, EntryView]) -> tuple[Parts, str]:
    """Return what was in the tin of a batch as it stands now, and what it has in common with those before and after."""
    if batch is None:
        return (), ""
    view = by_number[batch]
    while view.superseded_by is not None:
        view = by_number[view.superseded_by]
    assert isinstance(view.entry, BatchEntry)
    parts, first = tuple(view.entry.parts), view
    while isinstance(first.entry, BatchEntry) and first.entry.continues is not None:
        first = by_number[first.entry.continues]
    return parts, f"batch {first.place}"


def of_job(views: Sequence[EntryView], strengths: Sequence[EntryView], job: str) -> list[CountedSprayOut]:
    """Return the spray-outs that some strengths of a job were found from, oldest first.

    Parameters
    ----------
    views : sequence of EntryView
        All entries of the job.
    strengths : sequence of EntryView
        The strengths meant.
    job : str
        Its ref.
    """
    by_number = {view.number: view for view in views}
    found = []
    for view in strengths:
        entry = strength_entry_of(view)
        spray_out = None if entry.spray_out is None else by_number[entry.spray_out].entry
        assert spray_out is None or isinstance(spray_out, SprayOutEntry)
        here = counted(entry, shown_by_itself(view, by_number), job, spray_out, by_number)
        found.append(here if entry.letdown is None else replace(here, number=view.number, letdown=entry))
    return found


def tins_as_shown(views: Sequence[EntryView]) -> StrengthPrior | None:
    """Return what the cards of a job showed of its tins, by tint, as its newest strength has it: without what a card
    showed that was struck since. None where there is none, or where that card was of other tins as well.

    `views` are all entries of the job.
    """
    newest = newest_strength(views)
    if newest is None:
        return None
    entry, by_number = strength_entry_of(newest), {view.number: view for view in views}
    lots = dict(zip(entry.tints, entry.lots, strict=True))
    shown = StrengthPrior(tuple(entry.tints), np.array(entry.log_mean), np.array(entry.log_covariance))
    for view in fallen_since(views, newest):
        fallen, its = shown_by_itself(view, by_number), strength_entry_of(view)
        of_lots = dict(zip(its.tints, its.lots, strict=True))
        if any(lots.get(name) != of_lots[name] for name in fallen.names):
            return None
        shown = shown.given(replace(fallen, precision=-fallen.precision, information=-fallen.information))
    return shown


def of_other_jobs(ledger: Ledger, bank: str, own: JobView | None) -> list[CountedSprayOut]:
    """Return the spray-outs of other jobs that were of tins with a lot, oldest first.

    A lot opened anew (`fresh_tins`, in any job) is another tin than what was sprayed of it before.
    """
    jobs = jobs_with_strengths(ledger, bank)
    since = max((new_tins_at(views, bank) for _, views in jobs), default=0)
    found: list[CountedSprayOut] = []
    for job, views in jobs:
        if own is None or job.id != own.id:
            strengths = [view for view in strengths_counted(views, bank) if first_found(views, bank, view) > since]
            here = of_job(views, strengths, job.ref)
            if any(lot for spray_out in here for lot in spray_out.lots):
                found += here
    return found


def each_once(
    spray_outs: Sequence[CountedSprayOut], but: SprayOutEntry | StrengthEntry | None
) -> list[CountedSprayOut]:
    """Return spray-outs without those of one reading or letdown, and of the same in two jobs only the last."""
    kept: list[CountedSprayOut] = []
    known = KnownAgain(but)
    for spray_out in reversed(spray_outs):
        if not known.has(spray_out.entry, spray_out.letdown):
            known.add(spray_out.entry, spray_out.letdown)
            kept.append(spray_out)
    return kept[::-1]


def of_whole_record(
    ledger: Ledger, bank: str, but: SprayOutEntry | StrengthEntry | None = None
) -> list[CountedSprayOut]:
    """Return all spray-outs of a bank, each once, the tins of each job by themselves; `but` is left out."""
    shown: list[CountedSprayOut] = []
    for job, views in jobs_with_strengths(ledger, bank):
        for number, strengths in enumerate(strengths_by_tins(views, bank)):
            own = of_job(views, strengths, f"{job.ref}/{number}")
            shown += [replace(spray_out, job=job.ref) for spray_out in own]
    return each_once(shown, but)


def with_former_tins(counted: Sequence[CountedSprayOut], whole: Sequence[CountedSprayOut]) -> list[CountedSprayOut]:
    """Return the spray-outs that count for today's tins, and before them those of former tins, each once.

    Parameters
    ----------
    counted : sequence of CountedSprayOut
        Of today's tins.
    whole : sequence of CountedSprayOut
        Of the whole record.
    """
    numbers = {spray_out.number for spray_out in counted}
    former, known = [], KnownAgain()
    for one in counted:
        known.add(one.entry, one.letdown)
    for spray_out in whole:
        if spray_out.number in numbers or known.has(spray_out.entry, spray_out.letdown):
            continue
        # a lot opened anew is another tin than the one that bore its name before
        names = tuple(f"former\0{spray_out.job}\0{name}" for name in spray_out.shown.names)
        former.append(replace(spray_out, shown=replace(spray_out.shown, names=names)))
    return [*former, *counted]


def spread_of_tins(whole: Sequence[CountedSprayOut], of_panels: Collection[str] = ()) -> float:
    """Return how far tins differ from a bank, one standard deviation of the logarithm, by the shop's whole record.

    `of_panels` are those that the panels were drawn from, by `tin_name`.
    """
    return lot_spread([spray_out.shown for spray_out in whole], of_panels)


def strengths_known(
    spray_outs: Sequence[CountedSprayOut],
    lots: Mapping[str, str],
    job: str,
    spread: float = PRIOR_SD,
    before: StrengthPrior | None = None,
    of_panels: Collection[str] = (),
) -> StrengthPrior | None:
    """Return what spray-outs show of the tins of these lots, by tint, or None when nothing is known of any tin.

    Parameters
    ----------
    spray_outs : sequence of CountedSprayOut
    lots : mapping of str to str
        Of each tint of the bank, the lot of the tin that is meant.
    job : str
        The ref of the job that asks; "" for none.
    spread : float
        Of tins nothing was sprayed of.
    before : StrengthPrior or None
        What is known of tins without these spray-outs, by `tin_name`.
    of_panels : collection of str
        The tins that the panels were drawn from, by `tin_name`.
    """
    today = {tin_name(tint, lot, job): tint for tint, lot in lots.items()}
    shown = [spray_out.shown for spray_out in bearing_on(spray_outs, today)]
    known = before or StrengthPrior.default((), spread)
    meant = {*today, *(name for one in shown for name in one.names)}.intersection(of_panels).difference(known.names)
    known = known.beside(StrengthPrior.default(sorted(meant), min(PANELS_OWN_SD, spread))).given(*shown)
    names = [name for name in known.names if name in today]
    if not names:
        return None if spread == PRIOR_SD else StrengthPrior.default((), spread)
    return replace(known.chosen(names), names=tuple(today[name] for name in names))


def bearing_on(spray_outs: Sequence[CountedSprayOut], tins: Collection[str]) -> list[CountedSprayOut]:
    """Return the spray-outs that show something of some tins, if only through another spray-out."""
    reached = set(tins)
    joined: list[int] = []
    while more := [i for i, one in enumerate(spray_outs) if i not in joined and reached & set(one.shown.names)]:
        joined += more
        reached.update(*(spray_outs[i].shown.names for i in more))
    return [spray_outs[i] for i in sorted(joined)]


def shown_by_itself(view: EntryView, by_number: Mapping[int, EntryView]) -> StrengthEvidence:
    """Return what a spray-out shows by itself, by tint; of an older form of entry what it added to the one before."""
    entry = strength_entry_of(view)
    if entry.card_precision is not None:
        precision, information = np.array(entry.card_precision), np.array(entry.card_information)
    else:
        before = _before(entry, by_number).chosen(entry.tints)
        after, weight = np.linalg.inv(np.array(entry.log_covariance)), np.linalg.inv(before.log_covariance)
        precision = after - weight
        information = after @ np.array(entry.log_mean) - weight @ before.log_mean
    at = [int(i) for i in np.flatnonzero(np.abs(precision).max(axis=1) > _NOTHING)]
    return StrengthEvidence(tuple(entry.tints[i] for i in at), precision[np.ix_(at, at)], information[at])


def _before(entry: StrengthEntry, by_number: Mapping[int, EntryView]) -> StrengthPrior:
    """Return what an entry of an older form started from: the chain before it, as far as it is of the same tins."""
    lots = dict(zip(entry.tints, entry.lots, strict=True))
    prior = StrengthPrior.default((), _OLDER_SPREAD)
    number = entry.starts_from
    while number is not None:
        older = strength_entry_of(by_number[number])
        tins = enumerate(zip(older.tints, older.lots, strict=True))
        at = [i for i, (tint, lot) in tins if tint not in prior.names and lots.get(tint) == lot]
        if at:
            mean, covariance = np.array(older.log_mean), np.array(older.log_covariance)
            of_these = StrengthPrior(tuple(older.tints[i] for i in at), mean[at], covariance[np.ix_(at, at)])
            prior = prior.beside(of_these)
        number = older.starts_from
    return prior


def tins_changed(lots: Mapping[str, str], tints: Sequence[Tint]) -> tuple[str, ...]:
    """Return in words the tins of these lots, by tint, in whose place a bank has others open."""

    def named(lot: str) -> str:
        return f"of lot {lot}" if lot else "without a lot"

    pairs = ((tint.name, lots.get(tint.name, tint.lot), tint.lot) for tint in tints)
    return tuple(f"{name} was {named(was)} and is {named(now)} now" for name, was, now in pairs if was != now)
