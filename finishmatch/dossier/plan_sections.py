"""A plan laid out in sections, one for each verb, for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from finishmatch.dossier.tables import Table
from finishmatch.finish.flop import flop_words
from finishmatch.finish.law import rule_named
from finishmatch.finish.quantity import coverage_m2_l
from finishmatch.finish.sheen import sheen_of
from finishmatch.finish.timing import BETWEEN, PRACTICE, SCALED, SHEET
from finishmatch.steps.plan.air import PlannedAir
from finishmatch.steps.plan.angles import PlannedAngles
from finishmatch.steps.plan.hiding import PlannedHiding
from finishmatch.steps.plan.law import PlannedLaw, RuleSets
from finishmatch.steps.plan.planned import Planned
from finishmatch.steps.plan.quantity import PlannedQuantity
from finishmatch.steps.plan.sheen import PlannedSheen
from finishmatch.steps.plan.units import Units, duration

_WAIT_FROM = {"": "", SHEET: "sheet", BETWEEN: "sheet, between", SCALED: "sheet, scaled", PRACTICE: "practice"}


@dataclass(frozen=True)
class PlanSection:
    """A section of a plan: its answer, lines of label and value, tables, and notes."""

    heading: str
    answer: str = ""
    lines: tuple[tuple[str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()


def plan_section(plan: Planned, units: str = "both") -> PlanSection:
    """Return the section of what one verb found, in "both" units, "metric" or "us"."""
    return _LAYOUTS[plan.about](plan, Units(units))


def plan_sections(plans: Sequence[Planned], units: str = "both") -> tuple[PlanSection, ...]:
    """Return the sections of a whole plan: the paints' quantities together in one, where the first of them stood."""
    quantities = [plan for plan in plans if isinstance(plan, PlannedQuantity)]
    sections = []
    for plan in plans:
        if not isinstance(plan, PlannedQuantity):
            sections.append(plan_section(plan, units))
        elif plan is quantities[0]:
            sections.append(_all_quantities(quantities, Units(units)))
    return tuple(sections)


def rule_sets_section(known: RuleSets, units: str = "both") -> PlanSection:
    """Return the rule sets there are, with the limits of each."""
    shown = Units(units)
    tables = []
    for name, rules in known.sets.items():
        stages = ((f"basecoat and clear, {count} stages", limit) for count, limit in rules.stages_g_l.items())
        limits = (*rules.limits_g_l.items(), *stages)
        rows = tuple((kind, shown.content(limit)) for kind, limit in limits)
        binds = f"; binds {rules.who}" if rules.who else ""
        tables.append(Table(f"{name}: {rule_named(rules)}{binds}", ("kind", "limit"), rows))
    answer = f"{len(known.sets)} rule sets are known; put your own in shop/rules beside the ledger, or name a file"
    return PlanSection("Rule sets", answer, tables=tuple(tables))


def _quantity(plan: PlannedQuantity, shown: Units) -> PlanSection:
    found = plan.quantity
    each = "" if plan.coats == 1 else f", {plan.coats} coats of {shown.build(found.build_um / plan.coats)}"
    lines = [
        ("area", _area(plan, shown)),
        ("dry build", shown.build(found.build_um) + each),
        ("volume solids", f"{100 * plan.volume_solids:.0f} %"),
        ("stays on the panel", shown.volume(found.on_panel_l)),
        ("goes through the gun", shown.volume(found.sprayed_l)),
        ("covers at that build", f"{shown.coverage(found.coverage_m2_l)} with all losses"),
        ("", f"{shown.coverage(coverage_m2_l(found.build_um, plan.volume_solids))} without"),
    ]
    if plan.pot is not None:
        lines.append(("pot life", f"{duration(plan.pot.minutes)} ({plan.pot.how})"))
    rows = _component_rows(plan, shown)
    tables = (Table(f"by {plan.product.mix_by}", ("component", "volume", "weight"), rows),) if rows else ()
    return PlanSection(f"Quantity: {plan.product.name}", plan.answer, tuple(lines), tables, plan.notes)


def _all_quantities(plans: Sequence[PlannedQuantity], shown: Units) -> PlanSection:
    """Return what to mix of every paint: a table for each, with what is known of it above."""
    tables = []
    for plan in plans:
        life = "" if plan.pot is None else f"; pot life {duration(plan.pot.minutes)} ({plan.pot.how})"
        each = shown.build(plan.quantity.build_um / plan.coats)
        caption = f"{plan.answer}; {plan.coats} × {each} dry at {100 * plan.volume_solids:.0f} % solids{life}"
        rows = _component_rows(plan, shown) or ((),)
        tables.append(Table(caption, ("component", "volume", "weight"), rows))
    first = plans[0]
    losses = f"{100 * first.transfer:.0f} % stays on the panel, {100 * first.waste:.0f} % in the cup"
    notes = dict.fromkeys(note for plan in plans for note in plan.notes)
    lines = (("area", _area(first, shown)), ("losses", losses))
    return PlanSection("Quantity", "", lines, tuple(tables), tuple(notes))


def _area(plan: PlannedQuantity, shown: Units) -> str:
    return shown.area(plan.quantity.area_m2) + (f": {plan.area_of}" if plan.area_of else "")


def _component_rows(plan: PlannedQuantity, shown: Units) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (share.name, shown.volume(share.litres), "-" if share.grams is None else shown.weight(share.grams))
        for share in plan.quantity.shares
    )


def _hiding(plan: PlannedHiding, shown: Units) -> PlanSection:
    counts = "contrast ratio 0.98 over black and white (ISO 6504-3)"
    if plan.within_de00 is not None:
        counts = f"ΔE00 {plan.within_de00:g} over black and white: ISO 6504-3 is for paints of a Y over 15"
    lines = [("counts as hiding", counts)]
    if plan.between_um is not None:
        low, high = map(shown.build, plan.between_um)
        lines.append(("between", f"{low} and {high}"))
    rows = tuple(
        (
            choice.ground,
            "-" if choice.build_um is None else shown.build(choice.build_um),
            "-" if choice.coats is None else str(choice.coats),
        )
        for choice in plan.grounds
    )
    tables = (Table("by ground", ("over the ground", "no longer seen from", "coats"), rows),) if rows else ()
    return PlanSection("Hiding", plan.answer, tuple(lines), tables, plan.notes)


def _sheen(plan: PlannedSheen, _shown: Units) -> PlanSection:
    found = plan.flattening
    least, most = max(found.gloss - found.gloss_u95, 0), found.gloss + found.gloss_u95
    lines = (
        ("95 times in 100", f"{found.low:.1f} to {found.high:.1f} parts, for the readings' error"),
        ("between the steps", f"{found.between[0]:g} and {found.between[1]:g} of the ladder"),
        ("the next panel", f"reads {least:.0f} to {most:.0f}"),
    )
    rows = tuple((f"{r.flattening:g}", f"{r.mean:.1f}", str(len(r.gloss)), sheen_of(r.mean)) for r in plan.rungs)
    table = Table("the ladder", ("parts to 100", "gloss at 60° (ISO 2813)", "readings", "sheen"), rows)
    return PlanSection("Sheen", plan.answer, lines, (table,), plan.notes)


def _law(plan: PlannedLaw, shown: Units) -> PlanSection:
    caption = "VOC as applied, less water" + (" and exempt compounds" if plan.rules.less_exempt else "")
    rows = tuple(
        (r.what, r.kind, shown.content(r.voc_g_l), shown.content(r.limit_g_l), "yes" if r.allowed else "no")
        for r in plan.rulings
    )
    table = Table(caption, ("paint", "judged as", "VOC", "limit", "within"), rows)
    lines = [("rule", rule_named(plan.rules))]
    lines += [
        ("metals", f"{', '.join(m.what)}: {', '.join(m.metals)}{', banned' if m.banned else ''}") for m in plan.metals
    ]
    return PlanSection("Law", plan.answer, tuple(lines), (table,), plan.notes)


def _air(plan: PlannedAir, shown: Units) -> PlanSection:
    lines = (
        ("dew point", shown.temperature(plan.booth.dew_point_c)),
        ("panel", shown.temperature(plan.booth.surface_c)),
    )
    rows = tuple(
        (
            plan.clock(event.minute),
            event.product,
            event.what
            + ("" if event.until is None else f", not after {plan.clock(event.until)}")
            + (", latest unknown" if event.latest_unknown else ""),
            _WAIT_FROM[event.how],
        )
        for event in plan.events
    )
    tables = (Table("", ("time", "paint", "what", "wait by"), rows),) if rows else ()
    return PlanSection("Booth air and the day", plan.answer, lines, tables, plan.notes)


def _angles(plan: PlannedAngles, _shown: Units) -> PlanSection:
    found = plan.comparison
    rows = tuple(
        (
            f"{one.angle:g}°",
            f"{one.de00:.2f}",
            f"{one.delta['L']:+.2f}",
            f"{one.delta['C']:+.2f}",
            f"{one.delta['H']:+.2f}",
            ", ".join(one.words) or "alike",
        )
        for one in found.angles
    )
    lines = [("light", f"{plan.light}, {plan.observer}°; angles from the gloss")]
    if found.standard_flop is not None and found.trial_flop is not None:
        words = flop_words(found.standard_flop, found.trial_flop)
        lines.append(("flop index", f"standard {found.standard_flop:.1f}, trial {found.trial_flop:.1f}: {words}"))
    table = Table("trial minus standard", ("angle", "ΔE00", "ΔL*", "ΔC*", "ΔH*", "the trial is"), rows)
    return PlanSection("Metallic, angle by angle", plan.answer, tuple(lines), (table,), plan.notes)


_LAYOUTS: dict[str, Callable[[Any, Units], PlanSection]] = {
    "quantity": _quantity,
    "hiding": _hiding,
    "sheen": _sheen,
    "law": _law,
    "air": _air,
    "angles": _angles,
}
