"""`finishmatch correct`: what to add to a poured tin."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from finishmatch.cli.common import (
    emit_json,
    gloss_options,
    job_option,
    json_option,
    light_options,
    say_recorded,
    stage,
)
from finishmatch.cli.correct.shown import correction_document, show_all
from finishmatch.cli.inputs import scale_options
from finishmatch.cli.strengths import fresh_tins_option

if TYPE_CHECKING:
    from finishmatch.cli.inputs import FittedBank
    from finishmatch.cli.strengths import LearntStrengths
    from finishmatch.cli.teaching import Lesson
    from finishmatch.correct.correct import Correction
    from finishmatch.correct.verdict import Verdict
    from finishmatch.ledger import Entry
    from finishmatch.readings import Reading

EXAMPLE = """\b
Example:
  finishmatch correct swatches/evidence.csv@tin --bank swatches/bank --batch swatches/batch1.csv \\
      --sprayed swatches/card1.csv

Exit status: 0 when the tolerance is reached (or was already), 1 when adding can't reach it: what a fresh batch would
need is given then.
"""


@click.command(epilog=EXAMPLE)
@click.argument("target", required=False)
@click.option("--lab", metavar="L,a,b", help="A typed target in place of TARGET (under the first --light).")
@click.option("--bank", required=True, metavar="FOLDER", help="The bank the tin was mixed from.")
@click.option("--batch", required=True, metavar="FILE", help="What was poured: a CSV of tint,grams.")
@click.option("--sprayed", required=True, metavar="READING", help="The spray-out: FILE, FILE@NAME or L,a,b.")
@click.option(
    "--tolerance",
    type=float,
    help="ΔE00 to reach in every light.  [default: the target file's own, else the job's, else 0.5]",
)
@click.option(
    "--max-growth", type=float, default=0.2, show_default=True, help="Most that may be added, as a share of the tin."
)
@gloss_options(with_index=False)
@scale_options
@light_options(("D65", "A", "F11"))
@job_option
@fresh_tins_option
@json_option
def correct_command(
    target: str | None,
    lab: str | None,
    bank: str,
    batch: str,
    sprayed: str,
    tolerance: float | None,
    max_growth: float,
    gloss: float | None,
    scale_step: float,
    smallest: float | None,
    lights: tuple[str, ...],
    observer: str,
    job: str | None,
    fresh_tins: bool,
    as_json: bool,
) -> int:
    """Find the smallest addition that brings a poured tin to TARGET (L,a,b, a readings file, or FILE@NAME).

    Nothing is ever taken out of a tin: the answer only adds. What the spray-out tells of the strength of today's tins
    is used and shown.
    """
    from finishmatch.cli.inputs import (
        check_tolerance,
        keep_fit,
        light_list,
        open_bank,
        reading_of,
        scale_of,
        target_of,
        tolerance_of,
    )
    from finishmatch.cli.likewise import brought_to, check_gloss, converted_document
    from finishmatch.cli.strengths import learnt_strengths
    from finishmatch.cli.teaching import lesson_of
    from finishmatch.correct.correct import correct_batch
    from finishmatch.correct.fresh_batch import fresh_batch
    from finishmatch.evidence.target import colour_target
    from finishmatch.readings import read_batch

    check_tolerance(tolerance)
    check_gloss(gloss)
    scale = scale_of(scale_step, smallest)
    if job is not None:
        from finishmatch.steps.record import check_job

        check_job(job)
    names = light_list(lights)
    standard = target_of("correct", target, lab, names[0], int(observer))
    tolerance, told = tolerance_of(tolerance, standard, 0.5, job)
    trial = reading_of(sprayed, names[0], int(observer))
    narrowed = trial if standard.is_spectral and not trial.is_spectral else None
    goal = colour_target(
        standard, (narrowed.light,) if narrowed else names, narrowed.observer if narrowed else int(observer)
    )
    fitted = open_bank(bank)
    likewise, conversions = brought_to(
        fitted.bank.geometry, fitted.bank.binder_index, gloss, names[0], int(observer), standard, trial
    )
    if likewise[0] is not standard:
        goal = colour_target(likewise[0], goal.lights, goal.observer)
    poured = read_batch(Path(batch), fitted.bank.tint_names)
    optics = fitted.fit.optics.chosen([name for name in fitted.fit.optics.names if name in fitted.fit.usable])
    learnt = learnt_strengths(job, fitted, fresh_tins, trial)
    with stage("looking for the smallest addition"):
        found = correct_batch(
            goal, optics, fitted.bank.tints, poured, likewise[1], tolerance, max_growth, scale, learnt.prior
        )
        fresh = fresh_batch(found, goal, optics, fitted.bank.tints, poured, tolerance, scale)
    warnings = [*told, *found.warnings, *learnt.warnings]
    if narrowed:
        warnings.append(f"the spray-out is Lab only, so the tin is judged under {trial.light}, {trial.observer}° alone")
    recorded = []
    if job is not None:
        from finishmatch.correct.verdict import judge

        verdict = judge(likewise[0], likewise[1], goal.lights, goal.observer, tolerance)
        lesson = lesson_of(fitted, trial, learnt.kept_card, poured, learnt.prior, scale, gloss)
        recorded = _record(job, standard, trial, verdict, poured, found, Path(batch), fitted, learnt, lesson)
    warnings += keep_fit(fitted)
    if as_json:
        emit_json(
            correction_document(found, fresh, fitted.bank.tints, poured, warnings)
            | {
                **learnt.as_dict(),
                "converted": converted_document(conversions),
            }
        )
    else:
        learnt.say()
        show_all(found, fresh, fitted.bank.tints, poured, warnings, tolerance)
        say_recorded(job, recorded)
    return 0 if found.reachable else 1


def _record(
    job: str,
    standard: Reading,
    trial: Reading,
    verdict: Verdict,
    poured: tuple[tuple[str, float], ...],
    found: Correction,
    batch_file: Path,
    fitted: FittedBank,
    learnt: LearntStrengths,
    lesson: Lesson,
) -> list[int]:
    from finishmatch.cli.entries import correction_entry, sources_of, spray_out_entry, verdict_entry
    from finishmatch.cli.teaching import known_already, new_tins_entry, strength_entry
    from finishmatch.ledger import BatchEntry, Nth
    from finishmatch.steps.record import entries_in, record_to, remember

    bank = fitted.bank.name
    entries: list[Entry] = [
        BatchEntry(parts=list(poured)),
        spray_out_entry(trial, Nth(0)),
        verdict_entry(standard, trial, verdict),
        correction_entry(found, Nth(0)),
    ]
    before = learnt.number
    if learnt.forgotten:
        before = Nth(len(entries))
        entries.append(new_tins_entry(bank))
    if learnt.forgotten or not known_already(lesson, learnt, entries_in(job)):
        entries.append(strength_entry(bank, lesson, learnt.lots, Nth(1), before))
    caught_up = record_to(job, learnt.caught_up)
    recorded = record_to(job, entries, {0: [batch_file], 1: sources_of(trial)})
    remember(job, fitted.bank.name, fitted.folder)
    return caught_up + recorded
