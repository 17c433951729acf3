"""A bank as one HTML page that needs nothing else: its tints, what is unsure about them, and the curves of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.cautions import DEFER, OLD_PAINT
from finishmatch.colour import Floats
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.bank_plot import bank_svg
from finishmatch.dossier.match_page import Section
from finishmatch.dossier.tables import Table
from finishmatch.dossier.template import filled
from finishmatch.optics import BankFit
from finishmatch.optics.next_panel import PanelIdea
from finishmatch.steps.hazards import hazard_line
from finishmatch.steps.show_bank import BankShown

FURTHEST = 8  # panels shown of those the fit meets worst


@dataclass(frozen=True)
class Chip:
    """A tint: CIELAB as it is, shape (3,); swatch colours as it is and of a letdown with white, None where none is."""

    name: str
    pigment: str
    lab: Floats
    full: str
    letdown: str | None


@dataclass(frozen=True)
class BankPage:
    """What the page of a bank shows."""

    title: str
    lede: str
    chips: tuple[Chip, ...]
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]


def render_bank(shown: BankShown) -> str:
    """Return the page of a bank as HTML text, everything inline."""
    fit, bank = shown.fitted.today or shown.fitted.fit, shown.fitted.bank
    known = {one.tint.name: one.masstone for one in shown.tints if one.masstone is not None}
    shades = {name: lab_to_hex(lab) for name, lab in known.items()}
    letdowns = {one.tint.name: lab_to_hex(one.letdown) for one in shown.tints if one.letdown is not None}
    chips = tuple(
        Chip(name, bank.tint(name).colour_index, lab, shades[name], letdowns.get(name)) for name, lab in known.items()
    )
    unit = "per µm, so that films of a known build can be predicted" if fit.optics.per_um else "relative to the white"
    hazards = tuple(hazard_line(tint) for tint in bank.tints if tint.hazards)
    drawn = fit.each_panel
    page = BankPage(
        title=bank.name,
        lede=f"{len(drawn)} panels of {len(fit.optics.names)} tints, read {bank.geometry}; K and S {unit}.",
        chips=chips,
        sections=(
            _next(shown.ideas),
            _panels(fit, shown.warnings),
            Section(
                "How each tint absorbs and scatters",
                ("The band holds the truth 95 times in 100, by what the panels leave open.",),
                figures=(bank_svg(fit, shades, fit.optics.names),),
            ),
            Section("How well the tints are known", tables=(_tints(fit),)),
        ),
        cautions=(*hazards, *((OLD_PAINT,) if hazards else ()), DEFER),
    )
    return filled("bank.html.j2", page)


def _next(ideas: Sequence[PanelIdea]) -> Section:
    if not ideas:
        return Section("What to draw next", ("The fit keeps no draws, so it isn't known what is least certain.",))
    rows = tuple(
        (" + ".join(f"{grams:g} g {tint}" for tint, grams in idea.parts), f"{idea.unsure_de00:.2f}") for idea in ideas
    )
    why = "The panels whose colour is predicted with least certainty, 100 g each: drawing them down is worth most."
    return Section("What to draw next", (why,), (Table("", ("panel", "predicted to ΔE00"), rows),))


def _panels(fit: BankFit, warnings: Sequence[str]) -> Section:
    bad = [panel.panel for panel in fit.each_panel if panel.misfit]
    aside = (
        f"Set aside, so that they don't spoil the others: {', '.join(bad)}. Most often such a panel is mislabelled, "
        "weighed wrong or read wrong."
        if bad
        else "No panel stands out: none is set aside as mislabelled."
    )
    furthest = sorted(fit.each_panel, key=lambda panel: -panel.residual_de00)[:FURTHEST]
    rows = tuple((panel.panel, f"{panel.residual_de00:.2f}") for panel in furthest)
    sentences = tuple(warning[0].upper() + warning[1:] + "." for warning in warnings)
    table = Table("Furthest from the fit", ("panel", "residual ΔE00"), rows)
    return Section("Panels to look at", (aside, *sentences), (table,))


def _tints(fit: BankFit) -> Table:
    rows = tuple(
        (name, str(fit.panels_per_tint[name]), f"{fit.residual_per_tint[name]:.2f}") for name in fit.optics.names
    )
    return Table("How its panels are met", ("tint", "panels", "residual ΔE00"), rows)
