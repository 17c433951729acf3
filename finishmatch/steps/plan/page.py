"""A whole plan from one file: each verb of the plan that the file asks something of."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from finishmatch.cautions import DEFER, each_once
from finishmatch.errors import InputError
from finishmatch.finish.flop import NO_FLAKE
from finishmatch.finish.timing import PaintCoats
from finishmatch.readings.plan_file import PlanFile, read_plan
from finishmatch.steps.plan.air import AirRequest, minute_of_day, plan_air
from finishmatch.steps.plan.angles import AnglesRequest, plan_angles
from finishmatch.steps.plan.hiding import HidingRequest, PlannedHiding, plan_hiding
from finishmatch.steps.plan.law import LawRequest, plan_law
from finishmatch.steps.plan.planned import Planned, record_plans
from finishmatch.steps.plan.quantity import PlannedQuantity, QuantityRequest, plan_quantity
from finishmatch.steps.plan.sheen import SheenRequest, plan_sheen
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job

COLOUR_COATS = ("basecoat", "single-stage", "multi-coloured")
# where a plan file, or a data sheet, has what the verbs ask for
_BOOTH = {
    "temperature_c": "[booth] temperature",
    "humidity": "[booth] humidity",
    "dew_point_c": "[booth] dew_point",
    "surface_c": "[booth] surface",
}
_HIDING = {name: f"[hiding] {name}" for name in ("bank", "batch", "contrast", "colour")} | {"at_um": "[hiding] at"}
_SHEEN = {"gloss": "[sheen] gloss", "sheen": "[sheen] name"}
_SHEET = {"build_um": "build", "volume_solids": "volume_solids"}


@dataclass(frozen=True)
class WholePlan:
    """All that a plan file asked for, in the order of the work.

    Parameters
    ----------
    title : str
    plans : tuple of Planned
    recorded : tuple of int
        The numbers of their entries, when they were recorded in a job.
    """

    title: str
    plans: tuple[Planned, ...]
    recorded: tuple[int, ...] = ()

    @property
    def yes(self) -> bool:
        """Whether nothing stands against the plan."""
        return all(plan.yes for plan in self.plans)

    @property
    def cautions(self) -> tuple[str, ...]:
        """All cautions that bear."""
        return each_once((*(caution for plan in self.plans for caution in plan.cautions), DEFER))

    def as_dict(self, page: str | None = None) -> dict[str, Any]:
        """Return the JSON object; `page` is the file the plan was drawn in, if it was."""
        of = {plan.about: plan.as_dict() for plan in self.plans if plan.about != PlannedQuantity.about}
        return {
            "title": self.title,
            "yes": self.yes,
            "page": page,
            "quantities": [plan.as_dict() for plan in self.plans if plan.about == PlannedQuantity.about],
            **{about: of.get(about) for about in ("law", "hiding", "sheen", "air", "angles")},
        }


def plan_page(
    file: Path,
    *,
    units: str = "both",
    job: str | None = None,
    draw: Callable[[WholePlan], None] | None = None,
    progress: Progress = quiet,
) -> WholePlan:
    """Return a whole plan.

    Parameters
    ----------
    file : Path
        The plan file.
    units : str
        Of the answers and the notes: "both", "metric" or "us".
    job : str or None
        Record each part in this job of the ledger, all or nothing.
    draw : callable or None
        Draws the plan and writes it; called before anything is recorded, so that what can't be written isn't recorded.
    progress : Progress

    Raises
    ------
    InputError
        What is wrong in the file, or can't be planned.
    """
    plan = read_plan(file)
    check_job(job)
    paints = [PaintCoats(step.product, step.coats or step.product.coats or 1) for step in plan.steps]
    plans = [
        *_law(plan, paints),
        *_hiding(plan, paints, units, progress),
        *_sheen(plan, units),
        *_quantities(plan, paints, units),
        *_air(plan, paints, units),
        *_angles(plan),
    ]
    if not plans:
        raise InputError(str(plan.source), "there is nothing to plan in it", "add [panels] and a [[step]], or [booth]")
    whole = WholePlan(plan.title, tuple(plans))
    if draw is not None:
        draw(whole)
    return replace(whole, recorded=record_plans(job, plans, also_from=[plan.source]))


def _law(plan: PlanFile, paints: list[PaintCoats]) -> list[Planned]:
    if plan.rules is None:
        return []
    if not paints:
        raise InputError(str(plan.source), "names rules but no paint", "add a [[step]] with its product")
    products = tuple(paint.product for paint in paints)
    mixed = plan.hiding if plan.hiding is not None and plan.hiding.bank is not None else None
    bank, batch = (None, None) if mixed is None else (mixed.bank, mixed.batch)
    with _named_as_in(plan.source, {"rules": "rules", "bank": "[hiding] bank", "batch": "[hiding] batch"}):
        return [plan_law(LawRequest(plan.rules, products, bank=bank, batch=batch))]


def _hiding(plan: PlanFile, paints: list[PaintCoats], units: str, progress: Progress) -> list[Planned]:
    """Return from which build the colour coat hides, held against what is planned of it."""
    asked = plan.hiding
    if asked is None:
        return []
    colour = next((paint for paint in paints if paint.product.kind in COLOUR_COATS), None)
    coat_um = None if colour is None else colour.product.build_um
    planned_um = None if colour is None or coat_um is None else colour.coats * coat_um
    request = HidingRequest(
        asked.bank,
        asked.batch,
        asked.contrast,
        asked.at_um,
        asked.colour,
        coat_um=coat_um,
        planned_um=planned_um,
    )
    with _named_as_in(plan.source, _HIDING):
        found: PlannedHiding = plan_hiding(request, units=units, progress=progress)
    if colour is not None and colour.product.effect != "solid":  # the optics don't know flake
        found = replace(found, notes=(*found.notes, NO_FLAKE))
    return [found]


def _sheen(plan: PlanFile, units: str) -> list[Planned]:
    asked = plan.sheen
    if asked is None:
        return []
    with _named_as_in(plan.source, _SHEEN):
        return [plan_sheen(SheenRequest(asked.ladder, asked.gloss, asked.name), units=units)]


def _quantities(plan: PlanFile, paints: list[PaintCoats], units: str) -> list[Planned]:
    if plan.area_m2 is None and not plan.panels:
        return []
    if not paints:
        raise InputError(str(plan.source), "names an area but no paint", "add a [[step]] with its product")
    booth, found = plan.booth, []
    for paint in paints:
        request = QuantityRequest(
            area_m2=plan.area_m2,
            panels=plan.panels,
            product=paint.product,
            coats=paint.coats,
            transfer=plan.transfer,
            waste=plan.waste,
            temperature_c=None if booth is None else booth.temperature_c,
            coat_minutes=None if booth is None else booth.coat_minutes,
        )
        with _named_as_in(plan.source, {"panels": "[panels]"}), _named_as_in(paint.product.source, _SHEET):
            found.append(plan_quantity(request, units=units))
    return list(found)


def _air(plan: PlanFile, paints: list[PaintCoats], units: str) -> list[Planned]:
    booth = plan.booth
    if booth is None:
        return []
    request = AirRequest(
        booth.temperature_c,
        booth.humidity,
        booth.dew_c,
        booth.surface_c,
        tuple(paints),
        start_minute=minute_of_day(f"{plan.source}, [booth] start", booth.start),
        coat_minutes=booth.coat_minutes,
    )
    with _named_as_in(plan.source, _BOOTH):
        return [plan_air(request, units=units)]


def _angles(plan: PlanFile) -> list[Planned]:
    return [] if plan.angles is None else [plan_angles(AnglesRequest(*plan.angles))]


@contextmanager
def _named_as_in(file: Path | None, places: Mapping[str, str]) -> Iterator[None]:
    """Let an error say where in a file stands what is wrong, in place of what a verb calls it."""
    try:
        yield
    except InputError as error:
        place = places.get(error.where.strip("`"))
        where = error.where if place is None else f"{file}, {place}"
        what, mend = error.what, error.mend
        for name, written in places.items():
            key = written.split()[-1]
            what, mend = (text.replace(f"`{name}`", key) for text in (what, mend))
        raise InputError(where, what, mend) from None
