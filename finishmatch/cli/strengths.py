"""What the record knows of today's tins: read for `mix`, `correct` and `job spray`, told, and kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

import click

from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.cli.inputs import FittedBank
    from finishmatch.ledger import EntryView, JobView, Ledger, SprayOutEntry, StrengthEntry
    from finishmatch.optics.strength import StrengthPrior
    from finishmatch.readings import Reading

Command = TypeVar("Command", bound=Callable[..., Any])


def fresh_tins_option(command: Command) -> Command:
    """Add --fresh-tins to a command."""
    return click.option(
        "--fresh-tins", is_flag=True, help="New tins were opened: leave out what earlier spray-outs told."
    )(command)


@dataclass(frozen=True)
class LearntStrengths:
    """What is started from: the strengths, the spray-outs they come from, and what is to be kept with the next.

    Parameters
    ----------
    prior : StrengthPrior or None
        None when nothing is known of the tins.
    cards : tuple of (str, int)
        The ref of the job ("" for the job in hand) and the number of the spray-outs it comes from, oldest first.
    lots : mapping of str to str
        Of each tint, the lot of the tin that is meant.
    number : int or None
        Of the last strength of these tins in the job.
    found : EntryView or None
        What was found from the same card before.
    kept_card : SprayOutEntry or None
        The same card as it stands in the job.
    forgotten : bool
        Whether something was known, and new tins were opened.
    caught_up : tuple of StrengthEntry
        From cards of the job that weren't judged yet: to be kept.
    warnings : tuple of str
    """

    prior: StrengthPrior | None = None
    cards: tuple[tuple[str, int], ...] = ()
    lots: Mapping[str, str] = field(default_factory=dict)
    number: int | None = None
    found: EntryView | None = None
    kept_card: SprayOutEntry | None = None
    forgotten: bool = False
    caught_up: tuple[StrengthEntry, ...] = ()
    warnings: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return what a JSON object says of the strengths used, and of the cards they come from; empty without any."""
        told = [] if self.prior is None else zip(self.prior.names, self.prior.factors, self.prior.sd, strict=True)
        return {
            "strengths_used": {name: {"factor": float(factor), "sd": float(sd)} for name, factor, sd in told},
            "strengths_from": [{"job": job or None, "spray_out": number} for job, number in self.cards],
        }

    def say(self) -> None:
        """Print which strengths are used, where some are."""
        if self.prior is None:
            return
        from finishmatch.ledger import describe_strengths

        numbers = [f"#{number}" + (f" of {job}" if job else "") for job, number in self.cards]
        *others, last = numbers
        cards = "spray-outs " + ", ".join(others) + " and " + last if others else "spray-out " + last
        told = describe_strengths(self.prior.names, self.prior.log_mean.tolist(), self.prior.sd.tolist())
        click.echo(f"  strengths of today's tins from {cards} are used: {told}")


def learnt_strengths(
    job: str | None, fitted: FittedBank, fresh_tins: bool, card: Reading | None = None
) -> LearntStrengths:
    """Return what the record knows of the tins of a bank.

    Parameters
    ----------
    job : str or None
        Its own cards tell of all its tins; those of other jobs, and without a job, of tins with a lot.
    fitted : FittedBank
        The name of its bank, and the lots of its tints today: a tin of another lot is another tin.
    fresh_tins : bool
        New tins were opened: nothing is known of these.
    card : Reading or None
        A spray-out to be judged: what it told itself, when it was judged before, is left out.
    """
    from finishmatch.ledger import ledger_exists, open_ledger

    lots = {tint.name: tint.lot for tint in fitted.bank.tints}
    if job is not None:
        with open_ledger(create=False) as ledger:
            return learnt_in(ledger, ledger.find_job(job), fitted, fresh_tins, card)
    if fresh_tins or not any(lots.values()) or not ledger_exists():
        return LearntStrengths(lots=lots)
    try:
        with open_ledger(create=False) as ledger:
            return learnt_in(ledger, None, fitted, fresh_tins, card)
    except InputError as error:  # nothing was asked of the record: what is asked for is done without it
        return LearntStrengths(
            lots=lots,
            warnings=(f"what the record knows of these lots is not used: {error.where} {error.what}",),
        )


def learnt_in(
    ledger: Ledger,
    job: JobView | None,
    fitted: FittedBank,
    fresh_tins: bool = False,
    card: Reading | None = None,
    replaced: int | None = None,
) -> LearntStrengths:
    """Return what an open ledger knows of the tins of a bank, as `learnt_strengths` does.

    `replaced` is the number of a spray-out that the card is to replace: what that told is left out.
    """
    from finishmatch.cli.cardpool import believed, cards_of_job, cards_on_the_shelf, each_once, tin_name, told_of_today
    from finishmatch.cli.entries import spray_out_entry
    from finishmatch.cli.teaching import catch_up
    from finishmatch.ledger import SprayOutEntry, same_reading

    bank, own = fitted.bank.name, "" if job is None else job.ref
    views = [] if job is None else ledger.entries(job)
    entry = None if card is None else spray_out_entry(card, None)
    day = _day_of(views, fitted, entry, replaced, fresh_tins)
    shelf = cards_on_the_shelf(ledger, bank, job) if any(day.lots.values()) else []
    cards = each_once([*shelf, *cards_of_job(views, day.counted, own)], entry)
    if fresh_tins:
        forgotten = believed(cards, day.lots, own) is not None
        return LearntStrengths(lots=day.lots, number=day.number, found=day.found, forgotten=forgotten)
    caught_up = catch_up(ledger, job, views, fitted, cards, day, (entry, replaced)) if job else []
    prior = believed(cards, day.lots, own)
    known = () if prior is None else prior.names
    today = {tin_name(tint, lot, own) for tint, lot in day.lots.items()}
    named = [(card.job, card.spray_out) for card in told_of_today(cards, today)]
    standing = [view.entry for view in views if view.superseded_by is None and isinstance(view.entry, SprayOutEntry)]
    alike = [kept for kept in standing if entry is not None and same_reading(kept, entry)]
    return LearntStrengths(
        prior=prior,
        cards=tuple(("" if ref == own else ref, number) for ref, number in named if number is not None),
        lots=day.lots,
        number=day.number,
        found=day.found,
        kept_card=alike[-1] if alike else None,
        caught_up=tuple(caught_up),
        warnings=tuple(
            f"{tint}{f' of lot {lot}' if (lot := day.lots[tint]) else ''} is a new tin to this job: "
            "its strength is taken as the bank's"
            for tint in dict.fromkeys(
                tint for view in day.counted if view is not day.found for tint in strength_entry_of(view).tints
            )
            if tint in day.lots and tint not in known
        ),
    )


@dataclass(frozen=True)
class TinsOfTheDay:
    """The tins a card was sprayed from, or those open now: their lots, and the strengths told of them in the job.

    `number` is the last of these strengths, `found` the one that stands of the very card.
    """

    lots: dict[str, str]
    counted: tuple[EntryView, ...]
    number: int | None
    found: EntryView | None


def _day_of(
    views: list[EntryView], fitted: FittedBank, card: SprayOutEntry | None, replaced: int | None, fresh: bool
) -> TinsOfTheDay:
    from finishmatch.ledger import strength_found, strength_standing, strengths_counted

    bank = fitted.bank.name
    lots = {tint.name: tint.lot for tint in fitted.bank.tints}
    counted = strengths_counted(views, bank)
    found = None if card is None else strength_found(views, bank, card)
    start = strength_standing(views, bank)
    number = None if start is None else start.number
    was = next((view for view in counted if strength_entry_of(view).spray_out == replaced), None) if replaced else found
    if was is not None and not fresh:
        kept = strength_entry_of(was)
        lots |= dict(zip(kept.tints, kept.lots, strict=True))
        counted, number = strengths_counted(views, bank, was), kept.starts_from
    left = [view for view in counted if replaced is None or strength_entry_of(view).spray_out != replaced]
    return TinsOfTheDay(lots, tuple(left), number, None if replaced else found)


def strength_entry_of(view: EntryView) -> StrengthEntry:
    """Return the entry of a view that is known to be a strength."""
    from finishmatch.ledger import StrengthEntry

    assert isinstance(view.entry, StrengthEntry)
    return view.entry
