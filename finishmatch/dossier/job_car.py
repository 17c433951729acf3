"""The chapters of a job on the car: coats and film, defects, photographs, what lies under the paint, the record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from finishmatch.cautions import (
    CANCER,
    DEFER,
    DUST,
    HEXAVALENT,
    ISOCYANATES,
    LEAD,
    NITROCELLULOSE,
    OLD_BODY,
    OLD_PAINT,
    TOXIC,
    each_once,
    metals_named,
    mixing_cautions,
)
from finishmatch.dossier.document import Block, Chapter, Facts, Grid, Paragraph, Photograph, Warned
from finishmatch.dossier.job_colour import MOST_ROWS, newest
from finishmatch.dossier.tables import Table
from finishmatch.ledger import (
    CoatEntry,
    DecisionEntry,
    DefectEntry,
    EntryView,
    FilmLayerEntry,
    NoteEntry,
    PlanEntry,
    SprayOutEntry,
    describe_exposures,
    kinds_counted,
)
from finishmatch.steps.handover.kept_job import KeptJob
from finishmatch.steps.handover.pictures import job_pictures

MOST_DEFECTS = 8
UNDER = (
    "This document knows only what its job recorded. What lies deeper than the layers named here was not looked into: "
    "test before sanding, grinding or burning it off."
)


def car_chapter(kept: KeptJob) -> Chapter | None:
    """Return the ground, the coats and the film builds of the panels, and what was planned."""
    film, coats, plans = film_layers(kept), kept.all(CoatEntry), kept.all(PlanEntry)
    blocks: list[Block] = []
    if film:
        rows = [
            (
                entry.panel,
                f"{entry.position}",
                entry.layer,
                ", ".join(f"{build:g}" for build in entry.builds_um[:8]) + (" …" if len(entry.builds_um) > 8 else ""),
                f"{sum(entry.builds_um) / len(entry.builds_um):.0f}",
            )
            for entry in film[:MOST_ROWS]
        ]
        header = ("panel", "layer, from the metal", "what it is", "readings, µm", "mean, µm")
        blocks.append(Grid(Table("The film, from the metal up", header, tuple(rows)), texts=(0, 2, 3)))
        if len(film) > MOST_ROWS:
            blocks.append(Paragraph(f"{MOST_ROWS} of {len(film)} layers; the record holds all.", quiet=True))
    grounds = Counter(entry.ground for _, entry in kept.all(SprayOutEntry) if entry.ground)
    if grounds:
        blocks.append(Paragraph("The cards lie over " + ", ".join(grounds) + "."))
    if coats:
        table_rows = [(entry.sprayed_on, entry.panel, entry.layer, describe_exposures(entry.exposures))
                      for _, entry in coats[-MOST_ROWS:]]  # fmt: skip
        table = Table("Coats", ("sprayed on", "panel", "layer", "with"), tuple(table_rows))
        blocks.append(Grid(table, texts=(0, 1, 2, 3)))
        if said := newest(len(coats), "coats"):
            blocks.append(Paragraph(said, quiet=True))
    if plans:
        last = {entry.about: entry for _, entry in plans}
        rows_ = tuple(
            (about, entry.answer + ("" if entry.verdict == "yes" else " (no)")) for about, entry in last.items()
        )
        blocks.append(Paragraph("What was planned, as it stood last:"))
        blocks.append(Facts(rows_))
    return Chapter("Ground, coats and film", tuple(blocks)) if blocks else None


def defects_chapter(kept: KeptJob) -> Chapter | None:
    """Return the defects, what was decided about each, why, and how it came out."""
    defects, decisions = kept.all(DefectEntry), kept.all(DecisionEntry)
    if not defects and not decisions:
        return None
    of = {entry.defect: entry for _, entry in decisions}
    blocks: list[Block] = []
    for view, entry in defects[-MOST_DEFECTS:]:
        blocks.append(Paragraph(_seen(entry) + " " + _decided(of.get(view.number))))
    if said := newest(len(defects), "defects", MOST_DEFECTS):
        blocks.append(Paragraph(said, quiet=True))
    return Chapter("Defects, and what was done", tuple(blocks))


def _seen(entry: DefectEntry) -> str:
    count = "" if entry.count is None else f"{entry.count} × "
    parts = [
        f"{count}{entry.kind} on the {entry.panel}",
        entry.place,
        "" if entry.size_mm is None else f"{entry.size_mm:g} mm across",
        f"open to the {entry.layer_reached}" if entry.layer_reached else "",
        f"rated {entry.rating} (ISO 4628)" if entry.rating else "",
        f"seen on {entry.seen_on}" if entry.seen_on else "",
    ]
    text = ", ".join(part for part in parts if part) + "."
    met = f" It had met: {describe_exposures(entry.exposures)}." if entry.exposures else ""
    return text[0].upper() + text[1:] + met


def _decided(decision: DecisionEntry | None) -> str:
    if decision is None:
        return "Nothing was decided about it."
    why = f", because {decision.why.rstrip('.')}" if decision.why else ""
    result = f" ({decision.result})" if decision.result else ""
    came = (
        f" It came out so: {decision.outcome.rstrip('.')}{result}."
        if decision.outcome
        else " How it came out is not recorded."
    )
    return f"Decided: {decision.chosen}{why}.{came}"


def photographs_chapter(kept: KeptJob) -> Chapter | None:
    """Return the photographs that are kept with the job, laid straight."""
    found = job_pictures(kept)
    if not found.shown:
        return None
    blocks: list[Block] = []
    share = 1.0 if len(found.shown) == 1 else 0.58  # two stand on a page
    for one in found.shown:
        how = {"chart": "laid straight by its chart", "card": "laid straight by its card"}.get(
            one.straight.by, "as taken"
        )
        said = f"{one.name}: {', '.join(one.of)}; {how}." if one.of else f"{one.name}; {how}."
        wide, high = one.straight.size
        blocks.append(Photograph(one.straight.jpeg, wide / high, said, f"Photograph {one.name}", share))
    rest = f" {found.left} more are kept in the record." if found.left else ""
    blocks.append(Paragraph(f"To show what was where: no colour is judged by these prints.{rest}", quiet=True))
    return Chapter("Photographs", tuple(blocks))


def harm_chapter(kept: KeptJob) -> Chapter:
    """Return what outlives the job: what lies under the paint, and what harms in it."""
    formula = kept.formula
    parts = () if formula is None else formula.parts
    metals = metals_named(word for part in parts for word in part.hazards)
    blocks: list[Block] = [Paragraph(_layers(kept)), Paragraph(UNDER)]
    holders = [
        (part.tint, part.colour_index, ", ".join(part.hazards), part.hazards_by) for part in parts if part.hazards
    ]
    if holders:
        table = Table("What harms in this paint", ("tint", "Colour Index", "holds", "known by"), tuple(holders))
        blocks.append(Grid(table, texts=(0, 1, 2, 3)))
    elif parts:
        blocks.append(
            Paragraph("No tint of this formula is recorded as holding a toxic metal; a data sheet may say more.")
        )
    own = [caution for caution in mixing_cautions(metals) if caution in (TOXIC, CANCER)]
    if {LEAD, HEXAVALENT} & set(metals):
        own.append("When this paint is one day sanded or stripped, its dust holds what is named above: keep this page.")
    cautions = each_once([*own, OLD_PAINT, OLD_BODY, ISOCYANATES, DUST, NITROCELLULOSE, DEFER])
    blocks.append(Warned("Before this paint is sanded, stripped or sprayed over", cautions))
    return Chapter("What is under the paint", tuple(blocks), begins=True)


def film_layers(kept: KeptJob) -> list[FilmLayerEntry]:
    """Return the layers of each panel from the metal up, each as it was read last."""
    last = {(entry.panel, entry.position): entry for _, entry in kept.all(FilmLayerEntry)}
    return [last[key] for key in sorted(last)]


def _layers(kept: KeptJob) -> str:
    """Return the layers that were measured, panel by panel, in one sentence."""
    layers: dict[str, list[str]] = {}
    for entry in film_layers(kept):
        layers.setdefault(entry.panel, []).append(entry.layer)
    if not layers:
        return "Which layers lie under the paint is not recorded."
    said = [f"{panel}: {', '.join(each)}" for panel, each in list(layers.items())[:MOST_ROWS]]
    return "Recorded layers from the metal up. " + "; ".join(said) + "."


def record_chapter(kept: KeptJob) -> Chapter:
    """Return what the record holds, its seal, notes, and what is open."""
    kinds = Counter(view.kind for view in kept.views)
    blocks: list[Block] = [
        Facts(
            (
                (
                    "entries",
                    f"{kept.entries}, of which {kept.set_aside} were replaced or struck and stay in the history",
                ),
                ("what stands", ", ".join(kinds_counted(kind, count) for kind, count in kinds.most_common())),
                ("seal", kept.seal),
            )
        ),
        Paragraph(
            "The seal is a SHA-256 over the last entry and all before it: a copy of the record whose seal is the same "
            "has not been changed.",
            quiet=True,
        ),
    ]
    notes = [(view.made_at[:10], entry.text) for view, entry in kept.all(NoteEntry)]
    if notes:
        blocks.append(Facts(tuple(notes[-MOST_ROWS:])))
        if said := newest(len(notes), "notes"):
            blocks.append(Paragraph(said, quiet=True))
    if kept.open:
        blocks.append(Paragraph("Still open: " + "; ".join(item.what for item in kept.open[:6]) + "."))
    if files := _files(kept.views):
        table = Table("Files kept with it", ("file", "of entries", "SHA-256"), tuple(files[:MOST_ROWS]))
        blocks.append(Grid(table, texts=(0, 1, 2)))
        if len(files) > MOST_ROWS:
            blocks.append(Paragraph(f"{MOST_ROWS} of {len(files)} files; the record holds all.", quiet=True))
    return Chapter("The record", tuple(blocks))


def _files(views: Iterable[EntryView]) -> list[tuple[str, str, str]]:
    of: dict[tuple[str, str], list[int]] = {}
    for view in views:
        for name, sha256 in view.sources:
            of.setdefault((name, sha256), []).append(view.number)
    return [(Path(name).name, _numbers(numbers), f"{sha256[:16]}…") for (name, sha256), numbers in of.items()]


def _numbers(numbers: list[int]) -> str:
    said = ", ".join(f"#{number}" for number in numbers[:4])
    return said + (f" and {len(numbers) - 4} more" if len(numbers) > 4 else "")
