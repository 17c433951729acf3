"""What stands on the shelf today: the stock of a bank as it was counted, less what was poured since."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import (
    BatchEntry,
    EntryView,
    Ledger,
    ledger_exists,
    open_ledger,
    poured_since_count,
    remember_stock,
)
from finishmatch.ledger.pouring import off_the_shelf, totals
from finishmatch.optics import Bank, Tint

LOW = 0.15  # share of what was counted below which a tint is said to run low («common practice»: no source)
_NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True)
class Shelf:
    """The tints of a bank with today's stock.

    Parameters
    ----------
    tints : tuple of Tint
        Their `stock_g` is what is left; never below 0.
    poured : dict of str to float
        What was poured of each since its stock was counted, grams.
    warnings : tuple of str
    over : tuple of str
        The tints of which more was poured than was counted: what is left of them isn't known.
    """

    tints: tuple[Tint, ...]
    poured: dict[str, float]
    warnings: tuple[str, ...] = ()
    over: tuple[str, ...] = ()

    def running_low(self, tints: set[str]) -> tuple[str, ...]:
        """Return a note for each of some tints of which little is left of what was counted."""
        low = []
        for tint in self.tints:
            poured = self.poured.get(tint.name, 0.0)
            counted = tint.stock_g + poured
            if tint.name in tints - {*self.over} and poured > 0 and tint.stock_g < LOW * counted:
                low.append(f"{tint.name} runs low: {tint.stock_g:.0f} g are left of the {counted:.0f} g counted")
        return tuple(low)

    def less(self, parts: Iterable[tuple[str, float]]) -> Shelf:
        """Return the shelf when some parts, (tint, grams), are taken from it too."""
        taken = totals(parts)
        left = (replace(tint, stock_g=max(0.0, tint.stock_g - taken.get(tint.name, 0.0))) for tint in self.tints)
        return replace(self, tints=tuple(left))

    def as_dict(self) -> dict[str, Any]:
        """Return in its JSON form what is left of the tints that were poured from."""
        left = {tint.name: tint.stock_g for tint in self.tints}
        return {"stock": [{"tint": tint, "left": left[tint], "poured": grams} for tint, grams in self.poured.items()]}


def shelf_today(bank: Bank) -> Shelf:
    """Return what stands on the shelf by the record, or the stock as it was counted where there is no record."""
    if not ledger_exists():
        return Shelf(bank.tints, {})
    try:
        with open_ledger(create=False) as ledger:
            return shelf_in(ledger, bank)
    except InputError as error:  # the record was asked for nothing else: what is asked for is done without it
        return Shelf(bank.tints, {}, (f"what was poured is not taken off the stock: {error.where} {error.what}",))


def shelf_in(ledger: Ledger, bank: Bank, then: Mapping[str, float] = _NOTHING) -> Shelf:
    """Return what stands on the shelf by an open ledger, as `shelf_today` does.

    Parameters
    ----------
    ledger : Ledger
    bank : Bank
    then : mapping of str to float
        What is going to be recorded, grams by tint: above 0 what is poured, below 0 what is back on the shelf.
    """
    known = _counted(bank)
    poured = poured_since_count(ledger, bank.name, known)
    for tint, grams in then.items():
        if tint in known:
            poured[tint] = max(0.0, poured.get(tint, 0.0) + grams)
    over = [name for name, grams in poured.items() if grams > known[name]]
    warnings = tuple(
        f"{poured[name]:.0f} g of {name} were poured since {known[name]:.0f} g were counted: count it again (tints.csv)"
        for name in over
    )
    tints = (replace(tint, stock_g=max(0.0, tint.stock_g - poured.get(tint.name, 0.0))) for tint in bank.tints)
    return Shelf(tuple(tints), poured, warnings, tuple(over))


def shelf_then(
    ledger: Ledger, bank: Bank, poured: Iterable[tuple[str, float]], replaced: int | None, views: Sequence[EntryView]
) -> Shelf:
    """Return what will stand on the shelf when some parts are recorded as poured.

    Parameters
    ----------
    ledger : Ledger
    bank : Bank
    poured : iterable of (tint, grams)
    replaced : int or None
        The batch they take the place of: what went into that is back.
    views : sequence of EntryView
        The entries of the job.
    """
    taken = totals(poured)
    for view in views:
        if view.number == replaced and isinstance(view.entry, BatchEntry):
            for tint, grams in off_the_shelf(view, views).items():
                taken[tint] = taken.get(tint, 0.0) - grams
    return shelf_in(ledger, bank, taken)


def count_stock(ledger: Ledger, bank: Bank) -> None:
    """Remember the stock of a bank as its table has it, so that what is poured from now on goes off it."""
    remember_stock(ledger, bank.name, _counted(bank))


def _counted(bank: Bank) -> dict[str, float]:
    return {tint.name: tint.stock_g for tint in bank.tints}
