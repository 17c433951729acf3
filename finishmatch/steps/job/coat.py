"""A coat was sprayed on a panel: it is recorded, with what it met."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.defects import exposure_pairs
from finishmatch.errors import InputError
from finishmatch.ledger import CoatEntry, Ledger, coat_numbered, open_ledger
from finishmatch.readings.plain_number import counted
from finishmatch.steps.days import day_of
from finishmatch.steps.defect.suspect import suspects_warned
from finishmatch.steps.record import NOTHING, InPlaceOf, Recorded, record_each, what_stood

LAST = "last"


def coat(
    job: str,
    panels: Sequence[str],
    *,
    layer: str = "",
    exposures: Sequence[str] = (),
    like: str | None = None,
    sprayed_on: str | None = None,
    in_place_of: InPlaceOf = NOTHING,
) -> Recorded:
    """Record in a job that panels were sprayed alike, and what their coats met.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    panels : sequence of str
        Each becomes an entry of its own; all are recorded or none. Needed where no coat is replaced.
    layer : str
        The layer sprayed, for example colour.
    exposures : sequence of str
        KIND=VALUE each, as in "air line=2".
    like : str or None
        A coat of any job, by its number or "last", that was sprayed alike: its layer and what it met are taken, but for
        a layer and exposures of a kind that are given here.
    sprayed_on : str or None
        The day, YYYY-MM-DD; today when None.
    in_place_of : InPlaceOf
        The coat it replaces, and why: panel, day, layer and exposures that aren't given anew are kept.

    Raises
    ------
    InputError
        Nothing met, a day to come, no such coat or job; nothing is recorded then.
    """
    if in_place_of != NOTHING and len(panels) > 1:
        raise InputError("`supersedes`", f"{len(panels)} entries can't replace one", "replace them one at a time")
    pairs, when = exposure_pairs(exposures), day_of("`sprayed_on`", sprayed_on)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        stood = what_stood(ledger, found, in_place_of.supersedes, CoatEntry)
        if stood is not None:
            own = {kind for kind, _ in pairs}
            pairs = (*pairs, *(pair for pair in stood.exposures if like is None and pair[0] not in own))
            panels = panels or (stood.panel,)
            when = when if sprayed_on is not None else stood.sprayed_on
        if like is not None:
            own, (of_like, met) = {kind for kind, _ in pairs}, _sprayed_like(ledger, like)
            pairs = (*pairs, *(pair for pair in met if pair[0] not in own))
            layer = layer.strip() or of_like
        if stood is not None:
            layer = layer.strip() or stood.layer
        if not pairs:
            mend = 'name it, as in `exposures` "air line=2"'
            raise InputError("`exposures`", "is missing: a coat is recorded for what it met", mend)
        layer = " ".join(layer.split())
        entries = [CoatEntry(" ".join(panel.split()), when, pairs, layer) for panel in panels]
        warnings = suspects_warned(ledger, pairs)
        return record_each(ledger, found, entries, in_place_of, warnings=warnings)


def _sprayed_like(ledger: Ledger, like: str) -> tuple[str, tuple[tuple[str, str], ...]]:
    """Return the layer of a coat of any job and what it met, by its number or as the last one recorded."""
    wanted = like.strip().casefold()
    try:
        number = None if wanted == LAST else counted(wanted.removeprefix("#"))
    except ValueError:
        what = "is neither a number nor 'last'"
        raise InputError(f"`like` {like[:40]!r}", what, "give the number of a coat") from None
    return coat_numbered(ledger, number)
