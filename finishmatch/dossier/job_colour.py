"""The chapters of a job on its colour: what it rests on, the formula, the cards."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.card_doubts import SEEN, judged_by_doubt, known_to, with_doubt
from finishmatch.dossier.document import Block, Chapter, Grid, Paragraph, Plot, shown_cell
from finishmatch.dossier.evidence_plot import Ring
from finishmatch.dossier.job_plots import NEAR, Spot, lights_of_cards_svg, plane_svg, spectra_svg
from finishmatch.dossier.tables import Table
from finishmatch.ledger import (
    EntryView,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    TargetEntry,
    VerdictEntry,
    describe_parts,
    describe_strengths,
    weight_words,
)
from finishmatch.steps.handover.kept_job import Formula, KeptJob

MOST_ROWS = 12  # of a table: the newest; the record holds all
MOST_MARKS = 14  # in a drawing
NOT_WEIGHED = "–"
_OPTION = re.compile(r" \(`[a-z_]+`\)")


def newest(many: int, what: str, most: int = MOST_ROWS) -> str:
    """Return what is said where not all of something is shown, "" where all is."""
    return "" if many <= most else f"The newest {most} of {many} {what}; the record holds all."


def evidence_chapter(kept: KeptJob) -> Chapter | None:
    """Return how the colour was established: the samples, their weight, what remains doubtful."""
    target, readings = kept.target, _told_last([entry for _, entry in kept.all(ReadingEntry)])
    if target is None and not readings:
        return None
    blocks: list[Block] = []
    if target is not None:
        blocks.append(Paragraph(_target_in_words(target)))
        blocks += _evidence_tables(target, readings)
        blocks += _drawings(kept, target, readings)
        blocks += _doubts(target)
    else:
        blocks.append(_readings_table(readings))
    return Chapter("How the colour was established", tuple(blocks), begins=True)


def _told_last(readings: Sequence[ReadingEntry]) -> list[ReadingEntry]:
    """Return the readings, one that stands several times (read of a photograph, then weighed) as it was told last."""
    found: list[ReadingEntry] = []
    for one in readings:
        found = [other for other in found if not _same(one, other)]
        found.append(one)
    return found


def _same(one: ReadingEntry, other: ReadingEntry) -> bool:
    """Whether two are one reading: a file keeps thousandths, a form hundredths of its colour."""
    seen_as = (one.name, one.light, one.observer) == (other.name, other.light, other.observer)
    return seen_as and bool(np.allclose(one.lab, other.lab, rtol=0, atol=0.006))


def _target_in_words(target: TargetEntry) -> str:
    lightness, red, yellow = (shown_cell(f"{value:.2f}") for value in target.lab)
    known = (
        "How surely it is known is not recorded."
        if target.u95 is None
        else f"The colour as it was lies within ΔE00 {target.u95:.2f} of it, 95 times in 100."
    )
    spectrum = (
        "Its spectrum is known, so that it can be judged in any light."
        if target.reflectance is not None
        else "Its spectrum is not known: it can be judged in this light only."
    )
    seen = (
        " It is as photographs read it; recipes go by what the camera saw of it besides, so they may lie beside it."
        if target.camera_saw
        else ""
    )
    near = (
        f"A match counts within ΔE00 {target.tolerance:g}."
        if target.says_tolerance
        else "How near a match must come was not said; what each card was judged by stands with it."
    )
    return (
        f"The target is L* {lightness}, a* {red}, b* {yellow} ({target.light}, {target.observer}° observer). {known} "
        f"{spectrum} {near}{seen}"
    )


def _evidence_tables(target: TargetEntry, readings: Sequence[ReadingEntry]) -> list[Block]:
    weights, left_out = dict(target.weights), dict(target.left_out)
    names = [*target.evidence, *weights, *left_out]
    used = [one for one in readings if one.name in names] or list(readings)
    header = ("sample", "what it is", "L*", "a*", "b*", "readings", "ΔE00 to target", "weight")
    rows = [(*_sample(one, target), _weight(one.name, target)) for one in used[-MOST_ROWS:]]
    blocks: list[Block] = []
    if rows:
        blocks.append(Grid(Table("The samples", header, tuple(rows)), texts=(0, 1)))
    if not weights and used:
        blocks.append(Paragraph("The weight of each sample was not recorded with this target.", quiet=True))
    why = [f"{name} was left out: {reason}." for name, reason in left_out.items() if reason]
    aside = [name for name in weights if name not in target.evidence and name not in left_out]
    if aside:
        why.append(f"{', '.join(aside)}: set aside, since it lies further off than its kind and its reading allow.")
    return [*blocks, *(Paragraph(text) for text in why)]


def _sample(one: ReadingEntry, target: TargetEntry) -> tuple[str, ...]:
    lab = lab_like(one, target)
    numbers = tuple("" if lab is None else f"{value:.2f}" for value in (lab if lab is not None else (0, 0, 0)))
    spread = "" if one.spread_de00 is None else f" (±{one.spread_de00:.2f})"
    away = "" if lab is None else f"{float(de00(np.array(target.lab), lab)):.2f}"
    return one.name, one.role.removeprefix("evidence: "), *numbers, f"{one.repeats}{spread}", away


def lab_like(entry: ReadingEntry | SprayOutEntry | RecipeEntry, target: TargetEntry) -> Floats | None:
    """Return a colour's CIELAB in the light of a target, shape (3,); None where it isn't known in that."""
    if entry.reflectance is not None:
        return reflectance_to_lab(np.array(entry.reflectance, float), target.light, target.observer)
    return np.array(entry.lab, float) if (entry.light, entry.observer) == (target.light, target.observer) else None


def _weight(name: str, target: TargetEntry) -> str:
    weights = dict(target.weights)
    if name in dict(target.left_out):
        return "left out"
    if name not in weights:
        return NOT_WEIGHED
    return f"{100 * weights[name]:.0f} %" if name in target.evidence else "set aside"


def _readings_table(readings: Sequence[ReadingEntry]) -> Block:
    header = ("sample", "what it is", "L*", "a*", "b*", "light", "readings")
    rows = [
        (one.name, one.role, *(f"{value:.2f}" for value in one.lab), f"{one.light}, {one.observer}°", str(one.repeats))
        for one in readings[-MOST_ROWS:]
    ]
    return Grid(Table("What was read", header, tuple(rows)), texts=(0, 1))


def _drawings(kept: KeptJob, target: TargetEntry, readings: Sequence[ReadingEntry]) -> list[Block]:
    """Return the plane with evidence and cards, and the spectra of target, recipe and last card."""
    centre, left_out = np.array(target.lab, float), dict(target.left_out)
    named = {*target.evidence, *dict(target.weights)}
    marked = [(one.name, one, "left out" if one.name in left_out else "evidence") for one in readings
              if one.name in named or one.name in left_out]  # fmt: skip
    marked += [(one.name or "card", one, "card") for _, one in kept.all(SprayOutEntry)]  # type: ignore[misc]
    spots, far = [], 0
    for name, entry, what in marked[-MOST_MARKS:]:
        lab = lab_like(entry, target)
        if lab is None:
            continue
        if float(np.linalg.norm(lab - centre)) > NEAR:
            far += 1
            continue
        spots.append(Spot(name, lab, lab_to_hex(lab), what))
    tolerance = target.tolerance if target.says_tolerance else 0.0
    ring = Ring(target.name, centre, _covariance(target), tolerance, lab_to_hex(centre))
    blocks: list[Block] = []
    if spots:
        and_near, dotted = (" with its tolerance", " Dotted: the tolerance.") if tolerance else ("", "")
        shows = f"The target in the a*b* plane{and_near}, samples and cards around it; beside it, lightness."
        blocks.append(Plot(plane_svg(ring, spots, f"{target.light}, {target.observer}°"), shows))
        key = f"Plus: the target.{dotted} Discs: samples. Squares: sprayed cards. Crosses: left out."
        band = " Shaded: holds the colour 95 times in 100." if ring.covariance.any() else ""
        further = f" {far} more lie further off than ΔE*ab {NEAR:g} and are not drawn." if far else ""
        blocks.append(Paragraph(key + band + further, quiet=True))
    curves = [(target.name, target.reflectance)]
    if kept.card is not None:
        curves.append((kept.card.name or "last card", kept.card.reflectance))
    if kept.recipe is not None:
        curves.append(("recipe, predicted", kept.recipe[1].reflectance))
    known = [(name, np.array(values, float)) for name, values in curves if values is not None]
    if known:
        blocks.append(Plot(spectra_svg(known), "The reflectance of the target, the last card and the recipe."))
    return blocks


def _covariance(target: TargetEntry) -> Floats:
    if target.covariance is None:
        return np.zeros((3, 3))
    ll, la, lb, aa, ab, bb = target.covariance
    return np.array([[ll, la, lb], [la, aa, ab], [lb, ab, bb]], float)


def _doubts(target: TargetEntry) -> list[Block]:
    # names among them stay as they are, at the beginning too; the options of a command are none of a document's
    doubts = [_OPTION.sub("", text).rstrip(".") for text in target.doubts if text]
    if target.u95 is None:
        doubts.append("the samples were not weighed against one another: how far the target may be off isn't known")
    elif target.u95 > target.tolerance:
        limit = "the tolerance" if target.says_tolerance else f"ΔE00 {target.tolerance:g}, the usual tolerance"
        doubts.append(f"the target itself is less sure than {limit}: a match to it may be that far from the truth")
    return [Paragraph("What remains doubtful:"), *(Paragraph(f"– {doubt}.") for doubt in doubts)] if doubts else []


def formula_table(formula: Formula, caption: str) -> Grid:
    """Return the formula in grams and shares, by tint and Colour Index name."""
    rows = [
        (part.tint, part.colour_index, weight_words(part.grams), f"{100 * part.share:.2f} %") for part in formula.parts
    ]
    rows.append(("in all", "", f"{formula.grams:.1f}", "100 %"))
    table = Table(caption, ("tint", "Colour Index", "grams", "share by weight"), tuple(rows))
    return Grid(table, texts=(0, 1), strong_last=True)


def formula_chapter(kept: KeptJob) -> Chapter | None:
    """Return the formula, where it came from, and what was added on the way."""
    formula = kept.formula
    if formula is None:
        return None
    blocks: list[Block] = []
    if formula.kind == "batch":
        poured = f"Poured as batch #{formula.number} on {formula.made_at[:10]}, corrections included."
    else:
        poured = f"Recipe #{formula.number} of {formula.made_at[:10]}; no batch of it is recorded."
    bank = f" The tints are those of the bank {formula.bank}." if formula.bank else ""
    blocks.append(Paragraph(poured + bank + " The formula itself stands on the first page."))
    for part in kept.aside:
        blocks.append(Paragraph(f"{part.text}, without what was added to the rest of it."))
    lots = [f"{part.tint} of lot {part.lot}" for part in formula.parts if part.lot]
    if lots:
        blocks.append(Paragraph("Tins: " + ", ".join(lots) + "."))
    if not all(part.colour_index for part in formula.parts):
        blocks.append(Paragraph("Colour Index names are missing where the record has none of a tint.", quiet=True))
    blocks += _recipe(kept, formula)
    if corrections := kept.corrections:
        rows = [(f"#{view.number}", view.made_at[:10], describe_parts(entry.additions), entry.why)
                for view, entry in corrections[-MOST_ROWS:]]  # fmt: skip
        table = Table("What was advised to be added", ("entry", "day", "add", "why"), tuple(rows))
        blocks.append(Grid(table, texts=(0, 1, 2, 3)))
        if said := newest(len(corrections), "corrections"):
            blocks.append(Paragraph(said, quiet=True))
    blocks += _strengths(kept)
    return Chapter("The formula", tuple(blocks))


def _recipe(kept: KeptJob, formula: Formula) -> list[Block]:
    """Return the recipe of a formula as it was proposed, and what it promised."""
    if kept.recipe is None:
        return []
    view, recipe = kept.recipe
    promised = ", ".join(f"{light} {de:.2f}" for light, de in recipe.lights.items())
    text = f"Recipe #{view.number} promised ΔE00 {promised}."
    if recipe.again is not None:
        text = f"It is batch #{recipe.again} again, whose card came to ΔE00 {promised}."
    elif formula.kind == "batch":
        parts = describe_parts(recipe.parts)
        text = f"It was mixed after recipe #{view.number} ({parts}), which promised ΔE00 {promised}."
    return [Paragraph(text)]


def _strengths(kept: KeptJob) -> list[Block]:
    shown = kept.shown
    if shown is None:
        return []
    said = describe_strengths(shown.names, shown.log_mean.tolist(), shown.sd.tolist())
    said = said.replace(" -", " −").replace(" ± ", "\N{NO-BREAK SPACE}±\N{NO-BREAK SPACE}")
    return [Paragraph(f"The tins as this job showed them, against the bank: {said}. Other tins of the same names may "
                      "be stronger or weaker: spray a card before the car.")]  # fmt: skip


def cards_chapter(kept: KeptJob) -> Chapter | None:
    """Return the cards that were sprayed, and how each came out in every light it was judged in."""
    cards = kept.all(SprayOutEntry)
    if not cards and not kept.verdicts:
        return None
    blocks: list[Block] = []
    if cards:
        rows = [_card(view, entry) for view, entry in cards[-MOST_ROWS:]]
        table = Table(
            "Cards", ("card", "batch", "over", "coats", "build, µm", "surface", "L*", "a*", "b*"), tuple(rows)
        )
        blocks.append(Grid(table, texts=(0, 1, 2, 5)))
        if said := newest(len(cards), "cards"):
            blocks.append(Paragraph(said, quiet=True))
    if kept.verdicts:
        blocks += _verdicts(kept, kept.verdicts)
    return Chapter("The cards, and how near they came", tuple(blocks))


def _card(view: EntryView, entry: SprayOutEntry) -> tuple[str, ...]:
    batch = "" if entry.batch is None else f"#{entry.batch}"
    coats = "" if entry.coats is None else str(entry.coats)
    build = "" if entry.build_um is None else f"{entry.build_um:g}"
    numbers = (f"{value:.2f}" for value in entry.lab)
    return (entry.name or f"#{view.number}", batch, entry.ground, coats, build, entry.surface, *numbers)


def _verdicts(kept: KeptJob, verdicts: Sequence[tuple[EntryView, VerdictEntry]]) -> list[Block]:
    last = verdicts[-MOST_ROWS:]
    lights = list(dict.fromkeys(light for _, entry in last for light in entry.lights))
    header = ("card", *lights, "metamerism", "tolerance", "verdict", "in words")
    rows = [
        (
            entry.trial,
            *(_off(entry, light, known_to(kept, entry)) for light in lights),
            "" if entry.metamerism is None else f"{entry.metamerism:.2f}",
            f"{'±' if judged_by_doubt(kept, entry) else ''}{entry.tolerance:g}",
            "inside" if entry.verdict == "within" else "outside",
            ", ".join(entry.words) or "no difference the eye would name",
        )
        for _, entry in last
    ]
    words = len(header) - 2
    blocks: list[Block] = [Grid(Table("ΔE00 to the target", header, tuple(rows)), texts=(0, words, words + 1))]
    if any(known_to(kept, entry) for _, entry in last):
        blocks.append(Paragraph(SEEN, quiet=True))
    if any(judged_by_doubt(kept, entry) for _, entry in last):
        by_doubt = "A tolerance with ±: what the difference, as it was seen, is known within; nearer couldn't be told."
        blocks.append(Paragraph(by_doubt, quiet=True))
    if said := newest(len(verdicts), "verdicts"):
        blocks.append(Paragraph(said, quiet=True))
    drawn = [(entry.trial, entry.lights or {"": entry.de00}) for _, entry in last]
    shows = "How far each card lay from the target in each light, against the tolerance."
    return [*blocks, Plot(lights_of_cards_svg(drawn, last[-1][1].tolerance), shows)]


def _off(verdict: VerdictEntry, light: str, known: Mapping[str, float]) -> str:
    return "" if light not in verdict.lights else with_doubt(verdict.lights[light], known.get(light))
