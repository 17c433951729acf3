"""What is to be said of tins that aren't known well: which to try by a letdown, and beside which panel."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.errors import InputError
from finishmatch.ledger import bank_of_job, open_ledger
from finishmatch.mix.first_pour import FirstPour
from finishmatch.optics import Bank, Panel
from finishmatch.optics.strength import StrengthPrior
from finishmatch.photo.outside_file import OutsideFileError
from finishmatch.readings import read_bank
from finishmatch.steps.matching import Parts
from finishmatch.steps.todays_tins import TodaysTins

# of a letdown, by weight, in which the strength of a tint shows best: well coloured, and far from its masstone
BEST_SHARE = 0.1  # («common practice»)
_LEAST_SHARE, _MOST_SHARE = 0.01, 0.6  # beyond these it hardly shows («common practice»)
# of the logarithm of the strength of a tin against what it is let down in: from which it is tried though it was in a
# card, beside another such tin, and what a letdown leaves open (docs/accuracy.md, *A letdown beside its panel*)
_UNSURE_SD, _LETDOWN_SD = 0.1, 0.05
_LESS = "weigh less of the tint into it, and say how much (`weighed`)"
PANELS_OWN_TINS = (
    "if the panels were drawn from the very tins you pour from, say so in tints.csv (columns lot and panels_lot): then "
    "the first card is foretold much more narrowly"
)


@dataclass(frozen=True)
class TinToTry:
    """A tin of which a letdown is to be drawn as a panel of the bank was.

    Parameters
    ----------
    tint : str
    lot : str
        "" where the shop keeps none.
    panel : str
        Of the bank: the letdown is seen beside it, or read as it was.
    parts : tuple of (tint, grams)
        What is in the panel.
    """

    tint: str
    lot: str
    panel: str
    parts: Parts

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {**asdict(self), "parts": [{"tint": tint, "grams": grams} for tint, grams in self.parts]}


def tins_to_try(
    bank: Bank,
    parts: Parts,
    prior: StrengthPrior | None,
    together: Iterable[Collection[str]] = (),
    known: Collection[str] = (),
    lots: Mapping[str, str] | None = None,
) -> tuple[TinToTry, ...]:
    """Return the tins of a recipe that a letdown would tell the strength of, in its order.

    Parameters
    ----------
    bank : Bank
    parts : tuple of (tint, grams)
        Of the recipe.
    prior : StrengthPrior or None
        What is known of the open tins; None is nothing.
    together : iterable of collection of str
        Of each card and letdown, the tints whose open tin it was of.
    known : collection of str
        The tints whose open tin is the one that the panels were drawn from.
    lots : mapping of str to str, or None
        Of each tint, the lot of the tin that is meant; None is what the bank says.

    Notes
    -----
    Colour shows how strong two tins are against each other, so what a tint is let down in isn't tried itself: that is
    the tint most letdowns of the bank are made with, the white as a rule. A new tin of that shows in a letdown of any
    other whose tin is known, and then against all of them.
    """
    letdowns, by_name = _letdowns(bank), lots or {tint.name: tint.lot for tint in bank.tints}
    let_down_in, sets = _let_down_in(bank), [frozenset(one) for one in together]
    sprayed, names = frozenset(known).union(*sets), list(dict.fromkeys([*(tint for tint, _ in parts), let_down_in]))
    covariance = (prior or StrengthPrior.default(())).chosen(names).log_covariance
    against, found = names.index(let_down_in), []
    for i, (tint, _) in enumerate(parts):
        told = letdowns.get(tint, [])
        beside = covariance[i] - covariance[against]
        own = float(beside[i] - beside[against])
        seen = any({tint, let_down_in} <= one for one in sets)
        if told and not seen and (tint not in sprayed or own > _UNSURE_SD**2):
            best = min(told, key=lambda panel: abs(math.log(_share(panel, tint) / BEST_SHARE)))
            found.append(TinToTry(tint, by_name.get(tint, ""), best.name, best.grams))
            covariance = covariance - np.outer(beside, beside) / (own + _LETDOWN_SD**2)
    return tuple(found)


def to_try_in_words(tins: Sequence[TinToTry]) -> str:
    """Return "blue as the panel blue 20/80, violet as the panel violet 20/80"."""
    return ", ".join(f"{one.tint} as the panel {one.panel}" for one in tins)


def letdown_panels_of(job: str) -> tuple[str, ...]:
    """Return the panels of a job's bank that a tin can be tried as, by their names; none where it can't be read."""
    letdowns = _letdowns_of(job, None)
    return tuple(dict.fromkeys(panel.name for panels in letdowns.values() for panel in panels))


def let_down_of(job: str, panel: str) -> str:
    """Return the tint that a panel of a job's bank lets down; "" where the panel isn't one of `letdown_panels_of`."""
    letdowns = _letdowns_of(job, None)
    return next((tint for tint, panels in letdowns.items() if panel.strip() in {one.name for one in panels}), "")


@contextmanager
def or_weaker(job: str, panel: str, bank: Path | str | None = None) -> Iterator[None]:
    """See a letdown in photographs: where their files can't hold its colour, name a panel of less of the tint, if any;
    where none is, ask for less of it by weight.

    Parameters
    ----------
    job : str
    panel : str
        That the letdown was drawn as.
    bank : Path, str or None
        The bank of the panel; None: the one the job was mixed from.

    Raises
    ------
    OutsideFileError
    """
    try:
        yield
    except OutsideFileError as error:
        weaker = _weaker(_letdowns_of(job, bank), panel.strip())
        other = _LESS if weaker is None else f"draw it as the panel {weaker.name}, which holds less of the tint"
        raise OutsideFileError(error.where, error.what, f"{error.mend}; or {other}") from error


def _letdowns_of(job: str, bank: Path | str | None) -> dict[str, list[Panel]]:
    """Return the letdowns in a job's bank, or in another; none where it can't be read."""
    with open_ledger(create=False) as ledger:
        of_job = bank_of_job(ledger, ledger.find_job(job))
    folder = Path(bank) if bank is not None else None if of_job is None else of_job[1]
    try:
        return {} if folder is None else _letdowns(read_bank(folder))
    except InputError:  # it was moved, or is being written
        return {}


def _weaker(letdowns: Mapping[str, Sequence[Panel]], name: str) -> Panel | None:
    """Return the letdown that holds most of the tint of those that hold less of it than a panel; None where none is."""
    for tint, panels in letdowns.items():
        shares = {panel.name: _share(panel, tint) for panel in panels}
        if name in shares:
            less = [panel for panel in panels if shares[panel.name] < shares[name]]
            return max(less, key=lambda panel: shares[panel.name], default=None)
    return None


def panels_own_unsaid(first_pour: FirstPour | None, tins: TodaysTins) -> tuple[str, ...]:
    """Return how to say that the panels were drawn from today's tins, where these aren't known well.

    `first_pour` is what is poured first of a recipe since they aren't; None where they are.
    """
    return () if first_pour is None or tins.sprayed or any(tins.lots.values()) else (PANELS_OWN_TINS,)


def _letdowns(bank: Bank) -> dict[str, list[Panel]]:
    """Return of each tint the panels that show its strength: let down in what most tints of the bank are."""
    let_down_in, found = _let_down_in(bank), dict[str, list[Panel]]()
    for panel, parts in _pairs(bank):
        if let_down_in in parts:
            (tint,) = set(parts) - {let_down_in}
            if _LEAST_SHARE <= _share(panel, tint) <= _MOST_SHARE:
                found.setdefault(tint, []).append(panel)
    return found


def _pairs(bank: Bank) -> list[tuple[Panel, dict[str, float]]]:
    """Return the panels of two tints, each with their grams."""
    coloured = [(panel, dict(bank.coloured(panel))) for panel in bank.panels]
    return [(panel, parts) for panel, parts in coloured if len(parts) == 2]


def _let_down_in(bank: Bank) -> str:
    """Return the tint that most panels of two are made with; "" where there are none."""
    made_with = [tint for _, parts in _pairs(bank) for tint in parts]
    return max(dict.fromkeys(made_with), key=made_with.count, default="")


def _share(panel: Panel, tint: str) -> float:
    grams = dict(panel.grams)
    return grams[tint] / sum(grams.values())
