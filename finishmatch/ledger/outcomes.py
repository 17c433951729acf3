"""How decisions came out, over all jobs: what the shop learns its rates from."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from finishmatch.ledger.rows import DecisionRow, DefectRow, EntryRow


@dataclass(frozen=True)
class RecordedOutcome:
    """A decision whose result is known: what was chosen, how it came out, and the defect it was about."""

    chosen: str
    result: str
    defect_kind: str
    seen: tuple[str, ...]


def recorded_outcomes(session: Session) -> list[RecordedOutcome]:
    """Return every decision that stands and whose result is known, oldest first; those about no defect are left out."""
    later = aliased(EntryRow)
    decision, defect = DecisionRow.__table__, DefectRow.__table__
    replaced = select(later.supersedes_id).where(later.supersedes_id.is_not(None))
    wanted = (
        select(decision.c.chosen, decision.c.result, defect.c.defect_kind, defect.c.seen)
        .join(defect, defect.c.number == decision.c.defect_number)
        .where(decision.c.result != "", decision.c.number.not_in(replaced))
        .order_by(decision.c.number)
    )
    return [
        RecordedOutcome(chosen, result, kind, tuple(seen)) for chosen, result, kind, seen in session.execute(wanted)
    ]
