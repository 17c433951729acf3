"""Every colour of the record that stands, over all jobs: targets, recipes and cards, to be looked through at once."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.opening import readable
from finishmatch.ledger.rows import EntryRow, RecipeRow, SprayOutRow, TargetRow
from finishmatch.ledger.strikes import following, struck_in

_NAMED = ((TargetRow, TargetRow.name), (RecipeRow, RecipeRow.bank), (SprayOutRow, SprayOutRow.name))


@dataclass(frozen=True)
class KeptColour:
    """A colour of the record.

    Parameters
    ----------
    job_id, number : int
        The job and the entry.
    kind : str
        "target", "recipe" or "spray-out".
    name : str
        Of the target or the card; of a recipe its bank.
    lab : tuple of three float
        CIELAB under `light` and `observer`.
    reflectance : tuple of float or None
        31 factors, where the spectrum is known.
    """

    job_id: int
    number: int
    kind: str
    name: str
    lab: tuple[float, float, float]
    light: str
    observer: int
    reflectance: tuple[float, ...] | None


def colours_kept(ledger: Ledger) -> list[KeptColour]:
    """Return every target, recipe and card that stands, in the order recorded."""
    found: list[KeptColour] = []
    with ledger.reading() as session, readable(ledger.path):
        struck = struck_in(session)
        pairs = select(EntryRow.supersedes_id, EntryRow.number).where(EntryRow.supersedes_id.is_not(None))
        newer = {int(older): int(number) for older, number in session.execute(pairs) if older is not None}
        for table, name in _NAMED:
            columns = (table.number, table.job_id, table.kind, name, table.lab_l, table.lab_a, table.lab_b)
            wanted = select(*columns, table.light, table.observer, table.reflectance).order_by(table.number)
            for number, job_id, kind, called, *lab, light, observer, reflectance in session.execute(wanted):
                if number in struck or following(number, newer, struck) is not None:
                    continue
                spectrum = None if reflectance is None else tuple(reflectance)
                lightness, red, yellow = lab
                found.append(
                    KeptColour(job_id, number, kind, called, (lightness, red, yellow), light, observer, spectrum)
                )
    return sorted(found, key=lambda one: one.number)
