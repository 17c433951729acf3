"""What the spray-outs of a job told of today's tins: read for `mix` and `correct`, told, and recorded."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from finishmatch.ledger import EntryView, StrengthEntry
    from finishmatch.match.strength import StrengthPrior
    from finishmatch.optics import Bank
    from finishmatch.readings import Reading

Command = TypeVar("Command", bound=Callable[..., Any])
_SAME = 1e-6  # of a logarithm: what a fit made anew may round off


def fresh_tins_option(command: Command) -> Command:
    """Add --fresh-tins to a command."""
    return click.option(
        "--fresh-tins", is_flag=True, help="New tins were opened: leave out what earlier spray-outs of --job told."
    )(command)


@dataclass(frozen=True)
class LearntStrengths:
    """What is started from: the strengths, the spray-outs they come from, and the entries kept of them.

    Parameters
    ----------
    prior : StrengthPrior or None
        None when nothing is known of the tins.
    spray_outs : tuple of int
        Oldest first.
    lots : mapping of str to str
        Of each tint, the lot of the tin that is meant.
    number : int or None
        Of the entry it is.
    found : EntryView or None
        What was found from the same card before.
    forgotten : bool
        Whether something was known, and new tins were opened.
    new_lots : tuple of str
        Tints known of an earlier lot only.
    """

    prior: StrengthPrior | None = None
    spray_outs: tuple[int, ...] = ()
    lots: Mapping[str, str] = field(default_factory=dict)
    number: int | None = None
    found: EntryView | None = None
    forgotten: bool = False
    new_lots: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, dict[str, float]]:
        """Return the JSON object of the strengths used; empty when none are."""
        if self.prior is None:
            return {}
        told = zip(self.prior.names, self.prior.factors, self.prior.sd, strict=True)
        return {name: {"factor": float(factor), "sd": float(sd)} for name, factor, sd in told}

    @property
    def warnings(self) -> list[str]:
        """What is to be said of tins whose lot is new."""
        return [
            f"{tint}{f' of lot {lot}' if (lot := self.lots[tint]) else ''} is a new tin to this job: "
            "its strength is taken as the bank's"
            for tint in self.new_lots
        ]

    def say(self) -> None:
        """Print which strengths are used, where some are."""
        if self.prior is None:
            return
        from finishmatch.ledger import tell_strengths

        numbers = [f"#{number}" for number in self.spray_outs]
        cards = "spray-out " + numbers[0] if len(numbers) == 1 else "spray-outs " + " and ".join(numbers)
        told = tell_strengths(self.prior.names, self.prior.log_mean.tolist(), self.prior.sd.tolist())
        click.echo(f"  strengths of today's tins from {cards} are used: {told}")


def learnt_strengths(job: str | None, bank: Bank, fresh_tins: bool, card: Reading | None = None) -> LearntStrengths:
    """Return what a job knows of the tins of a bank.

    Parameters
    ----------
    job : str or None
        Without one nothing is known.
    bank : Bank
        Its name, and the lots of its tints today: a tin of another lot is another tin.
    fresh_tins : bool
        New tins were opened: nothing is known of these.
    card : Reading or None
        A spray-out to be judged: what it told itself, when it was judged before, is left out.
    """
    lots = {tint.name: tint.lot for tint in bank.tints}
    if job is None:
        return LearntStrengths(lots=lots)
    from finishmatch.cli.entries import spray_out_entry
    from finishmatch.ledger import open_ledger, strength_found, strength_standing

    with open_ledger(create=False) as ledger:
        views = ledger.entries(ledger.find_job(job))
    start = strength_standing(views, bank.name)
    if fresh_tins:
        return LearntStrengths(lots=lots, forgotten=start is not None and _entry(start).tints != ())
    by_number = {view.number: view for view in views}
    found = None if card is None else strength_found(views, bank.name, spray_out_entry(card, None))
    if found is not None:
        kept = _entry(found)
        lots |= dict(zip(kept.tints, kept.lots, strict=True))  # that card was sprayed from the tins of its day
        start = None if kept.starts_from is None else by_number[kept.starts_from]
    if start is None:
        return LearntStrengths(lots=lots, found=found)
    chain = [start]
    while (before := _entry(chain[-1]).starts_from) is not None:
        chain.append(by_number[before])
    entries = [_entry(view) for view in chain]
    prior = _prior(entries, lots)
    known = () if prior is None else prior.names
    seen = dict.fromkeys(tint for entry in entries for tint in entry.tints)
    return LearntStrengths(
        prior=prior,
        spray_outs=tuple(entry.spray_out for entry in reversed(entries) if entry.spray_out is not None),
        lots=lots,
        number=start.number,
        found=found,
        new_lots=tuple(tint for tint in seen if tint in lots and tint not in known),
    )


def new_tins_entry(bank: str) -> StrengthEntry:
    """Return what is kept when new tins of a bank were opened."""
    from finishmatch.ledger import StrengthEntry

    return StrengthEntry(bank, None, (), (), (), ())


def strength_entries(
    posterior: StrengthPrior | None, bank: str, learnt: LearntStrengths, spray_out: int
) -> list[StrengthEntry]:
    """Return what is to be kept of the tins after a spray-out: nothing when it is known from this card already."""
    import numpy as np

    from finishmatch.ledger import StrengthEntry

    if posterior is None:
        return []
    lots = [learnt.lots[tint] for tint in posterior.names]
    if learnt.found is not None:
        known = _entry(learnt.found)
        if (
            known.tints == posterior.names
            and list(known.lots) == lots
            and np.allclose(known.log_mean, posterior.log_mean, rtol=0, atol=_SAME)
            and np.allclose(known.log_covariance, posterior.log_covariance, rtol=1e-3, atol=_SAME**2)
        ):
            return []
    return [
        StrengthEntry(
            bank=bank,
            spray_out=spray_out,
            tints=posterior.names,
            lots=lots,
            log_mean=posterior.log_mean.tolist(),
            log_covariance=posterior.log_covariance.tolist(),
            starts_from=learnt.number,
        )
    ]


def _entry(view: EntryView) -> StrengthEntry:
    from finishmatch.ledger import StrengthEntry

    assert isinstance(view.entry, StrengthEntry)
    return view.entry


def _prior(chain: Sequence[StrengthEntry], lots: Mapping[str, str]) -> StrengthPrior | None:
    """Return what is known of the tins of these lots, or None.

    Parameters
    ----------
    chain : sequence of StrengthEntry
        The newest first. Each knows all that those before it knew of its tins; of a tin that was put back on the shelf
        for another lot and taken down again, an older one knows.
    lots : mapping of str to str
    """
    import numpy as np

    from finishmatch.match.strength import StrengthPrior

    prior = StrengthPrior((), np.zeros(0), np.zeros((0, 0)))
    for entry in chain:
        tins = enumerate(zip(entry.tints, entry.lots, strict=True))
        at = [i for i, (tint, lot) in tins if tint not in prior.names and lots.get(tint) == lot]
        if at:
            mean, covariance = np.array(entry.log_mean), np.array(entry.log_covariance)
            of_these = StrengthPrior(tuple(entry.tints[i] for i in at), mean[at], covariance[np.ix_(at, at)])
            prior = prior.beside(of_these)
    return prior if prior.names else None
