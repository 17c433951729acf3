"""What a verb of the plan found: what all of them have in common, and how it is recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from finishmatch.cautions import (
    CANCER,
    DEFER,
    ISOCYANATES,
    NITROCELLULOSE,
    SOLVENTS,
    TOXIC,
    WASH_PRIMER,
    mixing_cautions,
)
from finishmatch.ledger import PlanEntry
from finishmatch.readings.product_sheet import Product
from finishmatch.steps.record import record_to

Found = TypeVar("Found", bound="Planned")


@dataclass(frozen=True, kw_only=True)
class Planned:
    """What a verb of the plan found.

    Parameters
    ----------
    answer : str
        In one sentence.
    notes : tuple of str
        What it rests on, and what is to be seen to.
    yes : bool
        False when the answer is no.
    cautions : tuple of str
        Those that bear.
    sources : tuple of Path
        The files it was found with.
    recorded : tuple of int
        The number of its entry, when it was recorded in a job.
    """

    about: ClassVar[str]
    answer: str
    notes: tuple[str, ...] = ()
    yes: bool = True
    cautions: tuple[str, ...] = (DEFER,)
    sources: tuple[Path, ...] = ()
    recorded: tuple[int, ...] = ()

    @property
    def figures(self) -> Mapping[str, float]:
        """What the ledger keeps, the unit in the name."""
        raise NotImplementedError

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        raise NotImplementedError


def record_plans(job: str | None, plans: Sequence[Planned], also_from: Sequence[Path] = ()) -> tuple[int, ...]:
    """Record what was found in a job, all or nothing, and return the numbers of the entries.

    Parameters
    ----------
    job : str or None
        With None nothing is recorded.
    plans : sequence of Planned
    also_from : sequence of Path
        Files that all of them were found with, besides their own.
    """
    entries = [
        PlanEntry(plan.about, "yes" if plan.yes else "no", plan.answer, plan.figures, plan.notes) for plan in plans
    ]
    return tuple(record_to(job, entries, {i: (*also_from, *plan.sources) for i, plan in enumerate(plans)}))


def recorded(job: str | None, found: Found) -> Found:
    """Return what was found, with the number under which it is recorded in a job."""
    return replace(found, recorded=record_plans(job, [found]))


def paint_cautions(products: Sequence[Product], also_held: Sequence[str] = ()) -> tuple[str, ...]:
    """Return the cautions that bear on spraying paints and what else they hold; what isn't said isn't ruled out."""
    two_pack = not products or any(one.two_pack is not False for one in products)
    metals = mixing_cautions([*also_held, *(word for one in products for word in one.holds or ())])
    toxic = tuple(caution for caution in metals if caution in (TOXIC, CANCER))
    one_pack = any(not one.two_pack for one in products)
    bearing = (
        *toxic,
        *((ISOCYANATES,) if two_pack else ()),
        *((NITROCELLULOSE,) if one_pack else ()),
        *((WASH_PRIMER,) if any(one.kind == "wash primer" for one in products) else ()),
    )
    return (*bearing, SOLVENTS, DEFER)
