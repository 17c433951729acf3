"""What the spray-outs of a job told of today's tins: read for `mix` and `correct`, told, and recorded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from finishmatch.ledger import EntryView, StrengthEntry
    from finishmatch.match.strength import StrengthPrior
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
    number : int or None
        Of the entry it is.
    found : EntryView or None
        What was found from the same card before.
    forgotten : bool
        Whether something was known, and new tins were opened.
    """

    prior: StrengthPrior | None = None
    spray_outs: tuple[int, ...] = ()
    number: int | None = None
    found: EntryView | None = None
    forgotten: bool = False

    def as_dict(self) -> dict[str, dict[str, float]]:
        """Return the JSON object of the strengths used; empty when none are."""
        if self.prior is None:
            return {}
        told = zip(self.prior.names, self.prior.factors, self.prior.sd, strict=True)
        return {name: {"factor": float(factor), "sd": float(sd)} for name, factor, sd in told}

    def say(self) -> None:
        """Print which strengths are used, where some are."""
        if self.prior is None:
            return
        from finishmatch.ledger import tell_strengths

        numbers = [f"#{number}" for number in self.spray_outs]
        cards = "spray-out " + numbers[0] if len(numbers) == 1 else "spray-outs " + " and ".join(numbers)
        told = tell_strengths(self.prior.names, self.prior.log_mean.tolist(), self.prior.sd.tolist())
        click.echo(f"  strengths of today's tins from {cards} are used: {told}")


def learnt_strengths(job: str | None, bank: str, fresh_tins: bool, card: Reading | None = None) -> LearntStrengths:
    """Return what a job knows of the tins of a bank.

    Parameters
    ----------
    job : str or None
        Without one nothing is known.
    bank : str
        Its name.
    fresh_tins : bool
        New tins were opened: nothing is known of these.
    card : Reading or None
        A spray-out to be judged: what it told itself, when it was judged before, is left out.
    """
    if job is None:
        return LearntStrengths()
    from finishmatch.cli.entries import spray_out_entry
    from finishmatch.ledger import open_ledger, strength_found, strength_standing

    with open_ledger(create=False) as ledger:
        views = ledger.entries(ledger.find_job(job))
    last = strength_standing(views, bank)
    if fresh_tins:
        return LearntStrengths(forgotten=last is not None and _entry(last).tints != ())
    found = None if card is None else strength_found(views, bank, spray_out_entry(card, None))
    by_number = {view.number: view for view in views}
    start = last
    if found is not None:
        before = _entry(found).starts_from
        start = None if before is None else by_number[before]
    if start is None:
        return LearntStrengths(found=found)
    chain = [start]
    while (before := _entry(chain[-1]).starts_from) is not None:
        chain.append(by_number[before])
    cards = tuple(number for view in reversed(chain) if (number := _entry(view).spray_out) is not None)
    return LearntStrengths(_prior(_entry(start)), cards, start.number, found)


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
    if learnt.found is not None:
        known = _prior(_entry(learnt.found))
        if (
            known is not None
            and known.names == posterior.names
            and np.allclose(known.log_mean, posterior.log_mean, rtol=0, atol=_SAME)
            and np.allclose(known.log_covariance, posterior.log_covariance, rtol=1e-3, atol=_SAME**2)
        ):
            return []
    return [
        StrengthEntry(
            bank=bank,
            spray_out=spray_out,
            tints=posterior.names,
            lots=[""] * len(posterior.names),
            log_mean=posterior.log_mean.tolist(),
            log_covariance=posterior.log_covariance.tolist(),
            starts_from=learnt.number,
        )
    ]


def _entry(view: EntryView) -> StrengthEntry:
    from finishmatch.ledger import StrengthEntry

    assert isinstance(view.entry, StrengthEntry)
    return view.entry


def _prior(entry: StrengthEntry) -> StrengthPrior | None:
    """Return the strengths of the tins in use (those of no named lot), or None when nothing is known of them."""
    import numpy as np

    from finishmatch.match.strength import StrengthPrior

    at = [i for i, lot in enumerate(entry.lots) if not lot]
    if not at:
        return None
    names: Sequence[str] = [entry.tints[i] for i in at]
    covariance = np.array(entry.log_covariance, dtype=float)[np.ix_(at, at)]
    return StrengthPrior(tuple(names), np.array(entry.log_mean, dtype=float)[at], covariance)
