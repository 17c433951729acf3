"""What the record knows of today's tins, as `mix`, `correct` and `job spray` use it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import (
    EntryView,
    JobView,
    Ledger,
    RecipeEntry,
    SprayOutEntry,
    StrengthEntry,
    bank_of_job,
    cards_without_strength,
    ledger_exists,
    open_ledger,
    same_reading,
)
from finishmatch.ledger.entries import Parts
from finishmatch.mix.foretold import Foretold
from finishmatch.optics.strength import PRIOR_SD, StrengthPrior
from finishmatch.readings import Reading
from finishmatch.steps import spray_outs_counted as counting
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.bank_with_cards import BankWithCards, bank_with_cards
from finishmatch.steps.entries import spray_out_entry
from finishmatch.steps.lots_mixed import lots_together
from finishmatch.steps.spray_out_strengths import Poured, reading_kept, strength_entry, tins_shown
from finishmatch.steps.spray_outs_counted import CountedSprayOut
from finishmatch.steps.tins_of_day import Day, day_of, lots_meant, of_lots


@dataclass(frozen=True)
class TodaysTins:
    """What is started from: the strengths, the spray-outs they come from, and what is to be kept with the next.

    Parameters
    ----------
    prior : StrengthPrior or None
        Without names where nothing is known of the tins but how far tins of the shop differ; None before any spray-out.
    spray_outs : tuple of (str, int)
        The ref of the job ("" for the job in hand) and the number of the spray-outs it comes from, oldest first.
    letdowns : frozenset of (str, int)
        Those that are strengths found by a letdown.
    lots : mapping of str to str
        Of each tint, the lot of the tin that is meant.
    number : int or None
        Of the last strength of these tins in the job.
    found : EntryView or None
        What was found from the same reading before.
    kept_spray_out : SprayOutEntry or None
        The same reading as it stands in the job.
    forgotten : bool
        Whether something was known, and new tins were opened.
    caught_up : tuple of StrengthEntry
        From spray-outs of the job that weren't judged yet: to be kept.
    warnings : tuple of str
    bank : BankWithCards or None
        What the strengths are held against: the bank with the cards of the record; None where there is no record.
    by_themselves : StrengthPrior or None
        The strengths by what each card shows by itself, against the bank alone: what is kept goes on from these.
    of_panels : tuple of str
        The tints whose open tin is the one that their panels were drawn from.
    together : tuple of frozenset of str
        Of each card and letdown, the tints whose open tin it was of; each such set once.
    foretold : tuple of Foretold
        How far the cards of the bank came from what was foretold of them, oldest first.
    """

    prior: StrengthPrior | None = None
    spray_outs: tuple[tuple[str, int], ...] = ()
    letdowns: frozenset[tuple[str, int]] = frozenset()
    lots: Mapping[str, str] = field(default_factory=dict)
    number: int | None = None
    found: EntryView | None = None
    kept_spray_out: SprayOutEntry | None = None
    forgotten: bool = False
    caught_up: tuple[StrengthEntry, ...] = ()
    warnings: tuple[str, ...] = ()
    bank: BankWithCards | None = None
    by_themselves: StrengthPrior | None = None
    of_panels: tuple[str, ...] = ()
    together: tuple[frozenset[str], ...] = ()
    foretold: tuple[Foretold, ...] = ()

    @property
    def sprayed(self) -> frozenset[str]:
        """The tints whose open tin a card or letdown was of."""
        return frozenset[str]().union(*self.together)

    def of_today(self, fitted: FittedBank) -> FittedBank:
        """Return a bank as the cards of the record have it today."""
        return fitted if self.bank is None or not self.bank.cards else replace(fitted, today=self.bank.found.fit)

    def shown_before(self, parts: Parts) -> StrengthPrior | None:
        """Return what a card of some parts goes on from: what is known of its tins and of those sprayed before."""
        return None if self.by_themselves is None else self.by_themselves.among({*self.sprayed, *dict(parts)})

    def as_dict(self) -> dict[str, Any]:
        """Return what the bank is today, the strengths used and the spray-outs they come from, in their JSON form."""
        known = [] if self.prior is None else zip(self.prior.names, self.prior.factors, self.prior.sd, strict=True)
        return {
            "strengths_used": {name: {"factor": float(factor), "sd": float(sd)} for name, factor, sd in known},
            "strengths_from": [{"job": job or None, "spray_out": number} for job, number in self.spray_outs],
            "lot_spread": PRIOR_SD if self.prior is None else self.prior.spread,
            "tins_of_panels": list(self.of_panels),
            "bank_today": None if self.bank is None else self.bank.as_dict(),
        }


def todays_tins(
    job: str | None,
    fitted: FittedBank,
    fresh_tins: bool = False,
    reading: Reading | None = None,
    batch: int | None = None,
) -> TodaysTins:
    """Return what the record knows of the tins of a bank.

    Parameters
    ----------
    job : str or None
        Its own spray-outs show all its tins; those of other jobs, and without a job, tins with a lot.
    fitted : FittedBank
        The name of its bank, and the lots of its tints today: a tin of another lot is another tin.
    fresh_tins : bool
        New tins were opened: nothing is known of these.
    reading : Reading or None
        Of a spray-out to be judged: what it showed itself, when it was judged before, is left out.
    batch : int or None
        The number of what is in the tin that is meant, in the job: its tins are those it was poured from.
    """
    lots = {tint.name: tint.lot for tint in fitted.bank.tints}
    alone = TodaysTins(lots=lots)
    if not fresh_tins:
        known = counting.strengths_known((), lots, "", of_panels=counting.tins_of_panels(fitted.bank.tints))
        alone = replace(
            alone, prior=known, by_themselves=known, of_panels=counting.open_of_panels(fitted.bank.tints, lots)
        )
    if job is not None:
        with open_ledger(create=False) as ledger:
            return tins_in(ledger, ledger.find_job(job), fitted, fresh_tins, reading, batch=batch)
    if not ledger_exists():
        return alone
    try:
        with open_ledger(create=False) as ledger:
            return tins_in(ledger, None, fitted, fresh_tins, reading)
    except InputError as error:  # nothing was asked of the record: what is asked for is done without it
        unused = f"what the record knows of these lots is not used: {error.where} {error.what}"
        return replace(alone, warnings=(unused,) if any(lots.values()) and not fresh_tins else ())


def tins_asked_for(
    job: str | None,
    fitted: FittedBank,
    fresh_tins: bool,
    reading: Reading | None = None,
    batch: int | None = None,
) -> TodaysTins:
    """Return what `todays_tins` does for who asks for it.

    Raises
    ------
    InputError
        New tins that bear the lot of those that the panels were drawn from: the lots tell which they are.
    """
    same = (
        counting.open_of_panels(fitted.bank.tints, {tint.name: tint.lot for tint in fitted.bank.tints})
        if fresh_tins
        else ()
    )
    if same:
        problem = f"{', '.join(same[:3])}{f' and {len(same) - 3} more' if len(same) > 3 else ''}"
        problem += ": by tints.csv these are the tins that the panels were drawn from"
        raise InputError("`fresh_tins`", problem, "write the lots of the new tins there")
    return todays_tins(job, fitted, fresh_tins, reading, batch)


def tins_in(
    ledger: Ledger,
    job: JobView | None,
    fitted: FittedBank,
    fresh_tins: bool = False,
    reading: Reading | None = None,
    replaced: int | None = None,
    with_cards: bool = True,
    letdown: StrengthEntry | None = None,
    batch: int | None = None,
) -> TodaysTins:
    """Return what an open ledger knows of the tins of a bank, as `todays_tins` does.

    What a spray-out numbered `replaced` showed, or a `letdown`, is left out. Without `with_cards` each card shows what
    it shows by itself. The tins are those that `batch` was poured from, by its number, else those that are open.
    """
    bank, own, of_panels = fitted.bank.name, "" if job is None else job.ref, counting.tins_of_panels(fitted.bank.tints)
    views = [] if job is None else ledger.entries(job)
    entry = None if reading is None else spray_out_entry(reading, None)
    day = day_of(views, fitted, entry, replaced, fresh_tins, batch)
    others = counting.of_other_jobs(ledger, bank, job) if any(day.lots.values()) else []
    spray_outs = counting.each_once([*others, *counting.of_job(views, day.strengths, own)], letdown or entry)
    whole = counting.of_whole_record(ledger, bank, letdown or entry)
    spread, foretold = counting.spread_of_tins(whole, of_panels), _foretold_of(whole, replaced)
    if fresh_tins:
        known = counting.strengths_known(spray_outs, day.lots, own)
        unknown = counting.strengths_known((), day.lots, own, spread)
        today = bank_with_cards(fitted, counting.with_former_tins((), whole), {}, spread, own) if with_cards else None
        fresh = TodaysTins(unknown, lots=day.lots, number=day.number, found=day.found, foretold=foretold)
        fresh = replace(fresh, forgotten=known is not None and bool(known.names), bank=today, by_themselves=unknown)
        return replace(fresh, warnings=today.warnings if today else ())
    caught_up = _caught_up(_Bench(ledger, job, fitted, day), views, spray_outs, (entry, replaced)) if job else []
    together, most = lots_together(day, spray_outs, own, spread)
    counted = [*spray_outs, *together]
    by_themselves = prior = counting.strengths_known(counted, day.lots, own, spread, of_panels=of_panels)
    today, tins = None, {tint: counting.tin_name(tint, lot, own) for tint, lot in day.lots.items()}
    if with_cards:
        former = counting.with_former_tins(spray_outs, [one for one in whole if one.number != replaced])
        today = bank_with_cards(fitted, former, {**tins, **most}, spread, own)
        rest = [one for one in today.rest if any(one is other for other in spray_outs)]
        prior = counting.strengths_known([*rest, *together], day.lots, own, spread, today.found.tins, of_panels)
    others_too = () if entry or letdown else whole  # is told of before there is a card
    bearing = counting.bearing_on(counted, tins.values())
    named = {("" if one.job == own else one.job, one.number): one.letdown for one in bearing if one.number is not None}
    return TodaysTins(
        prior=prior,
        spray_outs=tuple(named),
        letdowns=frozenset(one for one, tried in named.items() if tried),
        lots=day.lots,
        number=day.number,
        found=day.found,
        kept_spray_out=_kept_of(views, entry),
        caught_up=tuple(caught_up),
        warnings=(*of_lots(day, fitted, prior, others_too, own), *(today.warnings if today else ())),
        bank=today,
        by_themselves=by_themselves,
        of_panels=counting.open_of_panels(fitted.bank.tints, day.lots),
        together=_together(tins, spray_outs),
        foretold=foretold,
    )


def _together(tins: Mapping[str, str], spray_outs: Sequence[CountedSprayOut]) -> tuple[frozenset[str], ...]:
    """Return of each card and letdown the tints whose open tin it was of, each such set once."""
    of_each = (frozenset(tint for tint, tin in tins.items() if tin in one.shown.names) for one in spray_outs)
    return tuple(dict.fromkeys(of_each))


def _kept_of(views: Sequence[EntryView], card: SprayOutEntry | None) -> SprayOutEntry | None:
    """Return the newest card of a job that stands and is of the reading in hand."""
    cards = [view.entry for view in views if card and view.stands and isinstance(view.entry, SprayOutEntry)]
    return next((kept for kept in reversed(cards) if card and same_reading(kept, card)), None)


def _foretold_of(cards: Sequence[CountedSprayOut], but: int | None) -> tuple[Foretold, ...]:
    """Return what cards keep of what was foretold of them, without the one of a number."""
    kept = (one.foretold for one in cards if one.number is None or one.number != but)
    return tuple(Foretold.kept(one) for one in kept if one)


@dataclass(frozen=True)
class _Bench:
    """The job in hand, its bank, and the tins of the day."""

    ledger: Ledger
    job: JobView
    fitted: FittedBank
    day: Day


def _caught_up(
    bench: _Bench,
    views: Sequence[EntryView],
    spray_outs: list[CountedSprayOut],
    but: tuple[SprayOutEntry | None, int | None],
) -> list[StrengthEntry]:
    """Return what spray-outs of a job show that were recorded while its bank wasn't known, or whose batch was mended.

    Parameters
    ----------
    bench : _Bench
    views : sequence of EntryView
        All entries of the job.
    spray_outs : list of CountedSprayOut
        That count already; those found are put to them.
    but : (SprayOutEntry or None, int or None)
        A spray-out, and the number of one, that are left to the step in hand.
    """
    bank, day, ref = bench.fitted.bank.name, bench.day, bench.job.ref
    last = bank_of_job(bench.ledger, bench.job)
    named = {last[0]} if last else {view.entry.bank for view in views if isinstance(view.entry, RecipeEntry)}
    if named - {bank}:  # what was sprayed of another bank shows nothing of this one
        return []
    entries, by_number = [], {view.number: view for view in views}
    of_panels = counting.tins_of_panels(bench.fitted.bank.tints)
    for view, parts in cards_without_strength(views, bank):
        spray_out = view.entry
        assert isinstance(spray_out, SprayOutEntry)
        if view.number == but[1] or (but[0] is not None and same_reading(spray_out, but[0])):
            continue
        known = counting.strengths_known(spray_outs, day.lots, ref, of_panels=of_panels)
        handled = {*dict(parts), *(tint for one in spray_outs for tint in one.tints)}
        poured = Poured(tuple(parts), prior=None if known is None else known.among(handled))
        try:
            found = tins_shown(bench.fitted, reading_kept(spray_out), spray_out, poured)
        except InputError:  # of tints this bank doesn't know
            continue
        entry = strength_entry(bank, found, lots_meant(views, spray_out.batch, day.lots), view.number, day.number)
        spray_outs.append(counting.counted(entry, found.shown, ref, spray_out, by_number))
        entries.append(entry)
    return entries
