"""Which cautions a job has shown already: in full the first time they bear in it, in one line after that."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from finishmatch import ledger  # its entries are imported when a job's are looked at: every command starts here
from finishmatch.cautions import DEFER, IN_SHORT, MIXING, REWORK, SPRAYING
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
    weighed: list[str] = []
    for view in views:
        if isinstance(view.entry, ledger.RecipeEntry):
            weighed += [name for name, _ in view.entry.parts]
        elif isinstance(view.entry, ledger.CorrectionEntry):
            weighed += [name for name, _ in view.entry.additions]
        elif isinstance(view.entry, ledger.BatchEntry) and view.entry.bank:  # else nobody knew what its tints hold
            weighed += [name for name, _ in view.entry.parts]
    return frozenset(shown | set(by_tints(weighed) if weighed else ()))
