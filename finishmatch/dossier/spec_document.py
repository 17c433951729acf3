"""What a paint shop needs that is to mix a colour: one page, in the words and units of its trade."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import LIGHTS, WAVELENGTHS_NM, reflectance_to_lab
from finishmatch.colour.cielab import lab_to_lch
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.colour_named import colour_named
from finishmatch.dossier.document import Block, Chapter, Document, Facts, Grid, Paragraph, Plot, Swatch, Swatches
from finishmatch.dossier.job_document import accent_of
from finishmatch.dossier.job_plots import spectra_svg
from finishmatch.dossier.tables import Table
from finishmatch.ledger import PlanEntry, ReadingEntry, SprayOutEntry, TargetEntry
from finishmatch.steps.handover.kept_job import KeptJob

GEOMETRIES = {"di8": "d:8°, specular included", "de8": "d:8°, specular excluded", "45/0": "45°:0°"}
PER_ROW = 8
PLOT_IN = 1.5  # high: all stands on one page, of letter too


def spec_document(kept: KeptJob) -> Document:
    """Return the page of a job that has a target."""
    target = kept.target
    assert target is not None
    colour = kept.job.colour_name or target.name
    swatch = Swatch(colour, f"{colour_named(np.array(target.lab))}; the figures count, not this print", accent_of(kept))
    blocks: list[Block] = [Swatches((swatch,)), Facts(_asked(kept, target)), _lights(target)]
    if target.reflectance is not None:
        reflectance = np.array(target.reflectance, float)
        blocks.append(_spectrum(target.reflectance))
        blocks.append(Plot(spectra_svg([(target.name, reflectance)], PLOT_IN), "The reflectance of the target."))
    blocks.append(Paragraph(
        "Please deliver a sprayed card with the paint, over the ground and at the build you ask for, and its readings. "
        "No pigment with lead, chromate or cadmium without asking first. Data sheets and local rules come first.",
        quiet=True,
    ))  # fmt: skip
    day = max((view.made_at for view in kept.views), default=kept.job.made_at)[:10]
    return Document(
        title=colour,
        subtitle=f"for {kept.job.vehicle or kept.job.title}",
        kicker="Colour specification",
        accent=lab_to_hex(np.array(target.lab, float)),
        chapters=(Chapter("", tuple(blocks)),),
        foot=f"{colour}; {kept.job.ref} of {day}; seal {kept.seal[:16]}",
        day=day,
    )


def _asked(kept: KeptJob, target: TargetEntry) -> tuple[tuple[str, str], ...]:
    """Return tolerance, geometry, sheen, and what else is asked."""
    lights = "D65, A and F11" if target.reflectance is not None else f"{target.light} alone: no spectrum is known"
    known = "" if target.u95 is None else f"; the target itself is known to {target.u95:.2f}, 95 times in 100"
    plans = {entry.about: entry.answer for _, entry in kept.all(PlanEntry)}
    usual = "" if target.says_tolerance else "none was said for this colour; usual is "
    return (
        ("tolerance", f"{usual}ΔE00 {target.tolerance:g} at most (CIEDE2000, ISO/CIE 11664-6), in {lights}{known}"),
        ("measured", _geometry(kept, target)),
        ("observer", f"{target.observer}°, CIE 15; tristimulus values by ASTM E308, 10 nm"),
        ("sheen", plans.get("sheen", "not recorded: ask; gloss at 60° by ISO 2813")),
        ("hiding", plans.get("hiding", "contrast ratio 0.98 or more (ISO 6504-3)")),
        ("judged", "on a card that hides, cured, and cut and polished as the panel will be"),
    )


def _geometry(kept: KeptJob, target: TargetEntry) -> str:
    """Return how the samples behind a target, or else the cards, were read."""
    samples = [one.geometry for _, one in kept.all(ReadingEntry) if one.name in target.evidence]
    found = samples or [one.geometry for _, one in kept.all(SprayOutEntry)]
    names = [GEOMETRIES.get(name, name) for name in dict.fromkeys(found) if name]
    return ", ".join(names) or "geometry not recorded: state yours"


def _lights(target: TargetEntry) -> Block:
    rows = []
    for light in LIGHTS if target.reflectance is not None else (target.light,):
        lab = np.array(target.lab, float)
        if target.reflectance is not None:
            lab = reflectance_to_lab(np.array(target.reflectance, float), light, target.observer)
        _, chroma, hue = (float(value) for value in lab_to_lch(lab))
        rows.append((light, *(f"{value:.2f}" for value in lab), f"{chroma:.2f}", f"{hue % 360:.1f}°"))
    caption = f"CIELAB, {target.observer}° observer"
    return Grid(Table(caption, ("light", "L*", "a*", "b*", "C*", "h"), tuple(rows)))


def _spectrum(reflectance: object) -> Block:
    values = [(f"{nm:g}", f"{factor:.4f}") for nm, factor in zip(WAVELENGTHS_NM, np.ravel(reflectance), strict=True)]  # type: ignore[call-overload]
    values += [("", "")] * (-len(values) % PER_ROW)
    rows: list[tuple[str, ...]] = []
    for start in range(0, len(values), PER_ROW):
        part = values[start : start + PER_ROW]
        rows.append(tuple(f"{nm}: {factor}" if nm else "" for nm, factor in part))
    header = ("nm: reflectance factor", *([""] * (PER_ROW - 1)))
    return Grid(Table("Spectrum", header, tuple(rows)))
