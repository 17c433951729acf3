"""A job as the document that goes with the car: a first page for its owner, then what the next painter needs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.cautions import metals_named
from finishmatch.colour import Floats
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.card_doubts import card_of, how_known, judged_by_doubt, known_to, with_doubt
from finishmatch.dossier.colour_named import colour_named
from finishmatch.dossier.document import Chapter, Document, Facts, Grid, Paragraph, Swatch, Swatches, shown_cell
from finishmatch.dossier.job_car import car_chapter, defects_chapter, harm_chapter, photographs_chapter, record_chapter
from finishmatch.dossier.job_colour import (
    cards_chapter,
    evidence_chapter,
    formula_chapter,
    formula_table,
)
from finishmatch.ledger import VerdictEntry
from finishmatch.steps.handover.kept_job import KeptJob

NO_COLOUR = "#8b867b"
EYE = (
    "ΔE00 is the difference of two colours. Side by side, about 0.3 is the least a trained eye sees, and about 1 what "
    "most people notice."
)


def job_document(kept: KeptJob) -> Document:
    """Return a job as a document."""
    job, target = kept.job, kept.target
    colour = job.colour_name or (target.name if target is not None else "")
    day = max((view.made_at for view in kept.views), default=job.made_at)[:10]
    chapters = (
        Chapter("", _first_page(kept, colour)),
        evidence_chapter(kept),
        formula_chapter(kept),
        cards_chapter(kept),
        car_chapter(kept),
        defects_chapter(kept),
        photographs_chapter(kept),
        harm_chapter(kept),
        record_chapter(kept),
    )
    return Document(
        title=job.title,
        subtitle=colour or "a colour without a name",
        kicker="Colour dossier",
        accent=accent_of(kept),
        chapters=tuple(chapter for chapter in chapters if chapter is not None),
        foot=f"{job.title}{f', {colour}' if colour else ''}; {job.ref}, as recorded to {day}; seal {kept.seal[:16]}",
        day=day,
    )


def accent_of(kept: KeptJob) -> str:
    """Return the colour a job is about as "#rrggbb": its target's, or its last card's, or a grey."""
    found = kept.target or kept.card
    return NO_COLOUR if found is None else lab_to_hex(np.array(found.lab, float))


def _first_page(kept: KeptJob, colour: str) -> tuple[Paragraph | Swatches | Facts | Grid, ...]:
    blocks: list[Paragraph | Swatches | Facts | Grid] = []
    if swatches := _swatches(kept):
        blocks.append(Swatches(tuple(swatches), tall=True))
    blocks.append(Paragraph(" ".join(_in_short(kept, colour)), lead=True))
    formula = kept.formula
    if formula is not None:
        caption = f"What is in the tin, {formula.grams:.1f} g" if formula.kind == "batch" else "The recipe"
        blocks.append(formula_table(formula, caption))
    job = kept.job
    about = (("vehicle", job.vehicle), ("colour", colour), ("job", f"{job.ref}, opened {job.made_at[:10]}"))
    blocks.append(Facts(tuple((what, says) for what, says in about if says)))
    if job.note:
        blocks.append(Paragraph(job.note, quiet=True))
    return tuple(blocks)


def _swatches(kept: KeptJob) -> list[Swatch]:
    found = []
    if kept.target is not None:
        found.append(_swatch(kept.target.name, "the colour as it was established", kept.target.lab))
    if kept.card is not None:
        about = (
            "the last card, as sprayed" if kept.card.surface == "as sprayed" else f"the last card, {kept.card.surface}"
        )
        found.append(_swatch(kept.card.name or "card", about, kept.card.lab))
    return found


def _swatch(name: str, about: str, lab: Sequence[float]) -> Swatch:
    values: Floats = np.array(lab, float)
    numbers = ", ".join(shown_cell(f"{value:.1f}") for value in values)
    return Swatch(name, f"{about}; L*a*b* {numbers}", lab_to_hex(values))


def _in_short(kept: KeptJob, colour: str) -> list[str]:
    """Return what the first page says, in sentences an owner understands."""
    target, said = kept.target, []
    if target is None:
        said.append("No target colour is recorded in this job.")
    else:
        said.append(f"{colour or target.name} is {colour_named(np.array(target.lab, float))}.")
        said.append(_established(kept))
    verdict = judged_last(kept)
    if verdict is not None and target is not None:
        said.append(_last_card(kept, verdict))
        said.append(EYE)
    elif target is not None:
        said.append("No sprayed card has been judged against it yet.")
    if harm := harm_in_short(kept):
        said.append(harm)
    return said


def _last_card(kept: KeptJob, verdict: VerdictEntry) -> str:
    """Return how near the last card came, with what that is known within where it was only seen."""
    lights = verdict.lights or {"": verdict.de00}
    worst, many, known = max(lights, key=lambda light: lights[light]), len(lights), known_to(kept, verdict)
    where = f"in the worst of {many} lights" if many > 1 else "in daylight"
    side = "inside" if verdict.verdict == "within" else "outside"
    doubt = judged_by_doubt(kept, verdict)
    within = f"what could be told of it, ±{verdict.tolerance:g}" if doubt else f"the tolerance of {verdict.tolerance:g}"
    off, how = with_doubt(lights[worst], known.get(worst)), how_known(card_of(kept, verdict))
    said = f"The last card that was sprayed and {how} lies ΔE00 {off} from it {where}, {side} {within}."
    if known:
        said += " With ± stands what that is known within, 95 times in 100."
    return said


def _established(kept: KeptJob) -> str:
    target = kept.target
    assert target is not None
    samples = len(target.evidence)
    rests = (
        f"It was established from {samples} samples that survive"
        if samples > 1
        else "It rests on one sample"
        if samples
        else "What it rests on is not recorded"
    )
    set_aside = len(target.left_out)
    aside = f"; {set_aside} more {'was' if set_aside == 1 else 'were'} left out" if set_aside else ""
    known = "" if target.u95 is None else f" It is known to ΔE00 {target.u95:.2f}, 95 times in 100."
    return f"{rests}{aside}.{known}"


def judged_last(kept: KeptJob) -> VerdictEntry | None:
    """Return the last verdict on a card, or None."""
    return kept.verdicts[-1][1] if kept.verdicts else None


def harm_in_short(kept: KeptJob) -> str:
    """Return the one sentence of the first page on what harms in the paint and under it."""
    metals = metals_named(word for part in (kept.formula.parts if kept.formula else ()) for word in part.hazards)
    holds = f"This paint itself holds {', '.join(metals)}. " if metals else ""
    return f"{holds}Before anyone sands or strips it: see “What is under the paint”."
