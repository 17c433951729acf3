"""Which cautions a job has shown already: in full the first time they bear in it, in one line after that."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from finishmatch import ledger  # its entries are imported when a job's are looked at: every command starts here
from finishmatch.cautions import DEFER, IN_SHORT, MIXING, REWORK, SPRAYING, mixing_cautions
from finishmatch.steps.record import entries_in

ByTints = Callable[[Iterable[str]], Iterable[str]]

# what is shown when an entry of a kind is recorded, whatever its tints hold besides
_SHOWN_WITH = {
    "recipe": MIXING,
    "batch": MIXING,
    "correction": MIXING,
    "spray-out": SPRAYING,
    "coat": SPRAYING,
    "defect": REWORK,
    "decision": REWORK,
    "plan": (DEFER,),
}


@dataclass(frozen=True)
class CautionsToShow:
    """The cautions that bear: those to be shown in full, and those that the job has shown already, in one line."""

    full: tuple[str, ...]
    again: str


def cautions_to_show(
    cautions: Iterable[str], job: str | None = None, recorded: Sequence[int] = (), by_tints: ByTints | None = None
) -> CautionsToShow:
    """Return which cautions are shown in full, and what is said of the rest.

    Parameters
    ----------
    cautions : iterable of str
        Those that bear.
    job : str or None
        By whose entries they were shown before; without one all are shown in full.
    recorded : sequence of int
        The numbers of the entries that are being told of: they were shown nowhere yet.
    by_tints : callable or None
        Returns the cautions that bear on tints of the bank, by name: earlier entries showed those of theirs.
    """
    before = frozenset[str]() if job is None else _shown_by(_others(job, recorded), by_tints)
    bearing = tuple(dict.fromkeys(cautions))
    named = [IN_SHORT[caution] for caution in bearing if caution in before and caution != DEFER]
    last = [IN_SHORT[DEFER]] if DEFER in bearing and DEFER in before else []
    again = "; ".join(part for part in (", ".join(named), *last) if part)
    return CautionsToShow(tuple(caution for caution in bearing if caution not in before), again)


def _others(job: str, recorded: Sequence[int]) -> list[ledger.EntryView]:
    """Return the entries of a job but those that were recorded just now."""
    return [view for view in entries_in(job) if view.number not in recorded]


def _shown_by(views: Sequence[ledger.EntryView], by_tints: ByTints | None) -> frozenset[str]:
    """Return the cautions that were shown with some entries, whether or not they still stand."""
    shown = {caution for view in views for caution in _SHOWN_WITH.get(view.kind, ())}
    if by_tints is None:
        return frozenset(shown)
    weighed = [name for view in views for name in tints_of(view.entry)]
    return frozenset(shown | set(by_tints(weighed) if weighed else ()))


def tints_of(entry: ledger.Entry) -> list[str]:
    """Return the tints that are handled by a recipe, a batch of a bank that is known, or a correction."""
    if isinstance(entry, ledger.RecipeEntry):
        return [name for name, _ in entry.parts]
    if isinstance(entry, ledger.BatchEntry) and entry.bank:  # else nobody knew what its tints hold
        return [name for name, grams in entry.parts if grams > 0]
    return [name for name, _ in entry.additions] if isinstance(entry, ledger.CorrectionEntry) else []


def cautions_by_record(job: str) -> ByTints:
    """Return what gives the cautions that bear on handling tints of the bank a job was mixed from, as it was then."""
    with ledger.open_ledger(create=False) as book:
        bank = ledger.bank_of_job(book, book.find_job(job))
        known = {} if bank is None else ledger.tints_of_bank(book, bank[0])
    return lambda names: mixing_cautions(word for name in names if name in known for word in known[name].hazards)
