"""`finishmatch plan page`: a whole plan from one file, in the terminal and as a page to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import emit_json, say_cautions, say_recorded
from finishmatch.cli.plan.common import (
    Told,
    areas_known,
    checked_job,
    plan_options,
    record_plan,
    rules_called,
    show_part,
)
from finishmatch.cli.plan.units import Shown
from finishmatch.errors import InputError
from finishmatch.files import write_file

if TYPE_CHECKING:
    from finishmatch.dossier.plan_page import Part
    from finishmatch.readings.plan_file import PlanFile

COLOUR_COATS = ("basecoat", "single-stage", "multi-coloured")


@click.command(
    "page",
    short_help="A whole plan from one file, on one page.",
    epilog="""\b
Examples:
  finishmatch plan page swatches/plan/plan.toml
  finishmatch plan page swatches/plan/plan.toml --out plan.html

Exit status: 0 when nothing stands against the plan, 1 when something does.
""",
)
@click.argument("file")
@click.option("--out", metavar="FILE", help="Write the plan as a page that prints on one sheet (HTML).")
@plan_options
def page(file: str, out: str | None, units: str, job: str | None, as_json: bool) -> int:
    """Work out a whole plan from one FILE: quantity, hiding, sheen, law, booth air and the day, on one page."""
    from finishmatch.readings.plan_file import read_plan

    plan = read_plan(Path(file))
    checked_job(job)
    found = whole_plan(plan, Shown(units))
    cautions = _cautions(found)
    yes = all(told.yes for told in found)
    parts = _parts(found, Shown(units))
    if out is not None:
        _write_page(Path(out), plan, found, parts, cautions)
    recorded = record_plan(job, [replace(told, sources=(plan.source, *told.sources)) for told in found]) if job else []
    if as_json:
        emit_json(_document(plan, found, out, yes))
        return 0 if yes else 1
    click.echo(f"  {plan.title}")
    for part in parts:
        click.echo(f"\n{part.heading}")
        show_part(part)
    say_cautions(cautions)
    if out is not None:
        click.echo(f"\n  the page is {out}: open it in a browser, and print it")
    say_recorded(job, recorded)
    return 0 if yes else 1


def whole_plan(plan: PlanFile, shown: Shown) -> list[Told]:
    """Return all that a plan file asks for, in the order of the work."""
    from finishmatch.cli.plan.air import air_told, start_minute
    from finishmatch.cli.plan.angles import angles_told
    from finishmatch.cli.plan.hiding import hiding_told
    from finishmatch.cli.plan.law import law_told
    from finishmatch.cli.plan.sheen import sheen_told
    from finishmatch.finish.air import booth_air
    from finishmatch.finish.timing import Step

    steps = [Step(one.product, one.coats or one.product.coats or 1) for one in plan.steps]
    found: list[Told] = []
    if plan.rules is not None:
        if not steps:
            raise InputError(str(plan.source), "names rules but no paint", "add a [[step]] with its product")
        rules, files = rules_called(plan.rules)
        found.append(law_told([step.product for step in steps], rules, files, shown))
    if plan.hiding is not None:
        asked = plan.hiding
        colour = next((step for step in steps if step.product.kind in COLOUR_COATS), None)
        coat = None if colour is None else colour.product.build_um
        planned = None if colour is None or coat is None else colour.coats * coat
        hides = hiding_told(asked.bank, asked.batch, asked.contrast, asked.at_um, asked.colour, coat, planned, shown)
        found.append(hides if colour is None or colour.product.effect == "solid" else _with_flake(hides))
    if plan.sheen is not None:
        found.append(sheen_told(plan.sheen.ladder, plan.sheen.gloss, plan.sheen.name, None, shown))
    found += _quantities(plan, steps, shown)
    if plan.booth is not None:
        booth = plan.booth
        air = booth_air(booth.temperature_c, booth.humidity, booth.surface_c, booth.dew_c)
        begin = start_minute(f"{plan.source}, [booth] start", booth.start)
        found.append(air_told(air, steps, begin, booth.coat_minutes, shown))
    if plan.angles is not None:
        found.append(angles_told(*plan.angles, 1.0, "D65", 10))
    if not found:
        raise InputError(str(plan.source), "there is nothing to plan in it", "add [panels] and a [[step]], or [booth]")
    return found


def _with_flake(told: Told) -> Told:
    """Say beside the hiding of a metallic or pearl that the optics don't know flake."""
    from finishmatch.finish.flop import NO_FLAKE

    return replace(told, part=replace(told.part, notes=(*told.part.notes, NO_FLAKE)))


def _quantities(plan: PlanFile, steps: Sequence[Any], shown: Shown) -> list[Told]:
    from finishmatch.cli.plan.quantity import quantity_told
    from finishmatch.finish.quantity import total_area

    if plan.area_m2 is None and not plan.panels:
        return []
    if not steps:
        raise InputError(str(plan.source), "names an area but no paint", "add a [[step]] with its product")
    files: tuple[Path, ...] = ()
    area, what = plan.area_m2, ""
    if area is None:
        areas, files = areas_known(None)
        area = total_area(plan.panels, areas, f"{plan.source}, [panels]")
        what = ", ".join(name if count == 1 else f"{count:g} × {name}" for name, count in plan.panels)
    booth_c = None if plan.booth is None else plan.booth.temperature_c
    minutes = None if plan.booth is None else plan.booth.coat_minutes
    found = [
        quantity_told(step.product, area, what, step.coats, plan.transfer, plan.waste, booth_c, shown, minutes)
        for step in steps
    ]
    return [replace(told, sources=(*told.sources, *files)) for told in found]


def _parts(found: Sequence[Told], shown: Shown) -> tuple[Part, ...]:
    """Return the parts as they are shown: the paints' quantities together in one, where the first of them stood."""
    quantities = [told for told in found if told.about == "quantity"]
    parts = []
    for told in found:
        if told.about != "quantity":
            parts.append(told.part)
        elif told is quantities[0]:
            parts.append(_quantities_part(quantities, shown))
    return tuple(parts)


def _quantities_part(quantities: Sequence[Told], shown: Shown) -> Part:
    """Return what to mix of every paint: a table for each, with what is told of it above."""
    from finishmatch.cli.plan.units import minutes_told
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part

    tables, notes = [], []
    for told in quantities:
        found, pot = told.document, told.document["pot_life"]
        life = "" if pot is None else f"; pot life {minutes_told(pot['minutes'])} ({pot['how']})"
        each = shown.build(found["build_um"] / found["coats"])
        caption = (
            f"{told.part.answer}; {found['coats']} × {each} dry at {100 * found['volume_solids']:.0f} % solids{life}"
        )
        rows = [table.rows for table in told.part.tables] or [()]
        tables.append(Table(caption, ("component", "volume", "weight"), rows[0]))
        notes += list(told.part.notes)
    first = quantities[0]
    losses = (
        f"{100 * first.document['transfer']:.0f} % stays on the panel, {100 * first.document['waste']:.0f} % in the cup"
    )
    lines = (*(line for line in first.part.lines if line[0] == "area"), ("losses", losses))
    return Part("Quantity", "", lines, tuple(tables), tuple(dict.fromkeys(notes)))


def _cautions(found: Sequence[Told]) -> tuple[str, ...]:
    """Return all cautions that bear, each once, the one that defers last."""
    from finishmatch.cautions import DEFER

    every = dict.fromkeys(caution for told in found for caution in told.cautions)
    return (*(caution for caution in every if caution != DEFER), DEFER)


def _write_page(
    out: Path, plan: PlanFile, found: Sequence[Told], parts: tuple[Part, ...], cautions: tuple[str, ...]
) -> None:
    from finishmatch.dossier.plan_page import PlanPage, render_plan

    against = [told.part.heading for told in found if not told.yes]
    lede = "Nothing stands against it." if not against else "What stands against it: " + ", ".join(against) + "."
    text = render_plan(PlanPage(plan.title, lede, parts, cautions))
    write_file(out, text)


def _document(plan: PlanFile, found: Sequence[Told], out: str | None, yes: bool) -> dict[str, Any]:
    by_verb = {told.about: told.document for told in found if told.about != "quantity"}
    return {
        "title": plan.title,
        "yes": yes,
        "page": out,
        "quantities": [told.document for told in found if told.about == "quantity"],
        **{verb: by_verb.get(verb) for verb in ("law", "hiding", "sheen", "air", "angles")},
    }
