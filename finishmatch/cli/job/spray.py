"""`finishmatch job spray`: a spray-out is recorded, and what it teaches of the tins."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cautions import SPRAYING
from finishmatch.cli.common import gloss_options, json_option, say_cautions
from finishmatch.cli.inputs import scale_step_option
from finishmatch.cli.recording import record_one, replace_options
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.cli.inputs import FittedBank
    from finishmatch.ledger import JobView, Ledger, SprayOutEntry, StrengthEntry
    from finishmatch.mix.weighing import Scale
    from finishmatch.readings import Reading

SURFACES = click.Choice(["as sprayed", "cut and polished"])


@click.command(
    "spray",
    epilog="""\b
Example:
  finishmatch job spray J1 38.2,-4.1,-20.3 --ground "grey primer" --coats 2 --build-um 45
""",
)
@click.argument("job")
@click.argument("readings")
@click.option("--ground", metavar="TEXT", default="", help="What it was sprayed over.")
@click.option("--coats", metavar="N", type=click.IntRange(min=1, max=99), help="How many coats.")
@click.option("--build-um", metavar="UM", type=click.FloatRange(min=0, max=5000), help="Dry film build of them, µm.")
@click.option("--surface", type=SURFACES, default="as sprayed", show_default=True, help="The surface that was read.")
@click.option(
    "--batch",
    metavar="N",
    type=click.IntRange(min=1),
    help="The batch that was sprayed [default: the last one of the job].",
)
@click.option(
    "--bank",
    metavar="FOLDER",
    help="The bank it was mixed from: the card then tells the strength of its tins [default: the bank the job was "
    "mixed from].",
)
@scale_step_option
@gloss_options(with_index=False)
@replace_options
@json_option
def spray(
    job: str,
    readings: str,
    ground: str,
    coats: int | None,
    build_um: float | None,
    surface: str,
    batch: int | None,
    bank: str | None,
    scale_step: float,
    gloss: float | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record in JOB a spray-out and its reading: READINGS is a readings file, FILE@NAME, or a typed L,a,b.

    A colour is judged after it is cut and polished, not as sprayed: say which surface was read. From what was poured
    and the bank the strength of today's tins is learnt, which the next recipe and correction use.
    """
    from finishmatch.cli.entries import sources_of, spray_out_entry
    from finishmatch.cli.inputs import keep_fit, scale_of
    from finishmatch.cli.likewise import check_gloss
    from finishmatch.ledger import BatchEntry, open_ledger, remember_bank
    from finishmatch.readings import resolve_reading

    check_gloss(gloss)
    scale = scale_of(scale_step, None)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        reading = resolve_reading(readings)
        if batch is None and (last := ledger.latest(found, BatchEntry)) is not None:
            batch = last.number
        entry = replace(
            spray_out_entry(reading, batch),
            ground=ground.strip(),
            coats=coats,
            build_um=_finite("--build-um", build_um),
            surface=surface,
            name="" if reading.source is None else reading.name,
        )
        taught = _taught(ledger, found, bank, reading, entry, scale, gloss, supersedes)
        record_one(
            ledger,
            found,
            entry,
            supersedes=supersedes,
            why=why,
            as_json=as_json,
            sources=sources_of(reading),
            warnings=taught.warnings,
            along=taught.entries,
            further={"learnt": taught.learnt, "why_not_learnt": taught.why_not},
        )
        if taught.fitted is not None:
            remember_bank(ledger, found, taught.fitted.bank.name, taught.fitted.folder.absolute())
    if taught.fitted is not None:
        keep_fit(taught.fitted)  # where it can't be kept it is made anew
    if not as_json:
        click.echo(f"  {taught.told()}")
        say_cautions(SPRAYING)


@dataclass(frozen=True)
class _Taught:
    """What a card taught and is kept with it, or why it taught nothing; the bank, where it could be opened."""

    warnings: tuple[str, ...]
    entries: tuple[StrengthEntry, ...] = ()
    learnt: dict[str, Any] | None = None
    why_not: str | None = None
    fitted: FittedBank | None = None

    def told(self) -> str:
        from finishmatch.ledger import describe_strengths

        if self.learnt is None:
            return f"nothing was learnt of the tins: {self.why_not}"
        known = self.learnt["strengths"]
        log = [math.log(tint["factor"]) for tint in known.values()]
        strengths = describe_strengths(tuple(known), log, [tint["sd"] for tint in known.values()])
        return f"learnt of its tins, which the next recipe is made for: {strengths}"


def _taught(
    ledger: Ledger,
    job: JobView,
    bank: str | None,
    reading: Reading,
    card: SprayOutEntry,
    scale: Scale,
    gloss: float | None,
    supersedes: int | None,
) -> _Taught:
    """Return what a card teaches.

    A bank that was named has to serve; with one that is only remembered the card is recorded in any case.
    """
    from finishmatch.cli.inputs import open_bank
    from finishmatch.cli.strengths import learnt_in
    from finishmatch.cli.teaching import known_already, lesson_of, strength_entry
    from finishmatch.ledger import BatchEntry, Nth, bank_of_job

    as_read = _Taught(reading.warnings)
    remembered = bank_of_job(ledger, job)
    if bank is None and remembered is None:
        return replace(as_read, why_not="no bank is known to this job; name it once with --bank FOLDER")
    views = ledger.entries(job)
    poured = next((v.entry.parts for v in views if v.number == card.batch and isinstance(v.entry, BatchEntry)), None)
    fitted = None
    try:
        fitted = open_bank(bank or str(remembered[1] if remembered else ""))
        if bank is None and remembered and fitted.bank.name != remembered[0]:
            raise InputError(str(remembered[1]), f"holds {fitted.bank.name} now", f"not {remembered[0]}: --bank FOLDER")
        if poured is None:
            why = "it isn't known what was in the tin; record it first: finishmatch job pour"
            return replace(as_read, why_not=why, fitted=fitted)
        learnt = learnt_in(ledger, job, fitted, card=reading, replaced=supersedes)
        lesson = lesson_of(fitted, reading, card, poured, learnt.prior, scale, gloss)
    except InputError as error:
        if bank is not None:
            raise
        return replace(as_read, why_not=f"{error.where} {error.what}; {error.mend}", fitted=None)
    entries = list(learnt.caught_up)
    if supersedes is not None or not known_already(lesson, learnt, views):
        entries.append(strength_entry(fitted.bank.name, lesson, learnt.lots, Nth(0), learnt.number))
    now = lesson.posterior.chosen(lesson.tints)
    told = zip(now.names, now.factors.tolist(), now.sd.tolist(), strict=True)
    return _Taught(
        tuple(dict.fromkeys((*reading.warnings, *lesson.warnings, *learnt.warnings))),
        tuple(entries),
        {"bank": fitted.bank.name, "strengths": {name: {"factor": factor, "sd": sd} for name, factor, sd in told}},
        fitted=fitted,
    )


def _finite(where: str, value: float | None) -> float | None:
    if value is not None and not math.isfinite(value):
        raise InputError(where, f"{value} is not a number", "give µm, as in 45")
    return value
