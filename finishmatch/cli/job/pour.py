"""`finishmatch job pour`: what was poured is held against its recipe, and recorded."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.batch_typed import batch_of
from finishmatch.cli.common import emit_json, json_option, request_from, say_cautions, say_warnings, stage, table
from finishmatch.cli.in_use import InJob
from finishmatch.cli.inputs import scale_step_option
from finishmatch.cli.mix.shown import weigh_out_rows
from finishmatch.cli.option_names import with_options
from finishmatch.cli.plan.options import quantity
from finishmatch.cli.recording import replace_options, show_recorded
from finishmatch.cli.typed_numbers import GRAMS, SHARE
from finishmatch.correct.limiting_factor import percent
from finishmatch.readings.quantities import VOLUME
from finishmatch.steps.hazards import cautions_by, hazard_line
from finishmatch.steps.job.pour import pour as pour_step
from finishmatch.steps.job.poured_tin import PouredTin, PourRequest
from finishmatch.steps.matching import Parts
from finishmatch.steps.record import InPlaceOf
from finishmatch.steps.weigh_out import WeighOut


@click.command(
    "pour",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job pour J1 white=443.6 blue=27.5 "soft black=24.4" violet=2.5 green=2
  finishmatch job pour J1 --set-aside half --aside-for "the boot lid"

Exit status: 0; 1 when no addition within --max-growth brings an overshoot back: what was poured is recorded then too.
""",
)
@click.argument("job", metavar="[JOB]")
@click.argument("batch", nargs=-1, metavar="[BATCH | TINT=GRAMS...]")
@click.option(
    "--as", "like", metavar="N", type=click.IntRange(min=1),
    help="As recipe or correction N, or as batch N was whose card was inside, except for the parts that are typed.",
)  # fmt: skip
@click.option("--grams", type=GRAMS, metavar="G", help="The weight that was meant of --as.  [default: as it says]")
@click.option("--running", is_flag=True, help="The weights are the scale's running totals, in the order poured.")
@click.option(
    "--to", metavar="N",
    help="The batch it was added to: its number, last, or new for a new tin.  [default: as it looks]",
)  # fmt: skip
@click.option(
    "--set-aside", metavar="PART",
    help="So much of the tin is set aside, as half, 30% or 150g; what is poured goes into the rest.",
)  # fmt: skip
@click.option(
    "--aside-for", metavar="TEXT", default="",
    help="What the part that is set aside is meant for, as 'the boot lid'.",
)  # fmt: skip
@click.option(
    "--tin", "tin_l", callback=quantity(VOLUME, above=0), metavar="VOLUME",
    help="What the tin holds, as 1L: more is refused.",
)  # fmt: skip
@click.option("--check", is_flag=True, help="Only say how it stands, half way through, and record nothing.")
@click.option(
    "--recipe", metavar="N", type=click.IntRange(min=1),
    help="The recipe or correction it was poured by.  [default: the one of the job it agrees with]",
)  # fmt: skip
@click.option(
    "--bank", metavar="FOLDER",
    help="The bank it was poured from; the job remembers it.  [default: the one the job was mixed from]",
)  # fmt: skip
@click.option(
    "--max-growth", type=SHARE, default=0.2, show_default=True,
    help="Most that may be added to come back from an overshoot, as a share of the tin.",
)  # fmt: skip
@scale_step_option
@click.option("--anyway", is_flag=True, help="Take weights that look like a slip as they are.")
@replace_options
@json_option
def pour(job: str, batch: tuple[str, ...], supersedes: int | None, why: str, as_json: bool, **options: Any) -> int:
    """Hold what was poured against its recipe, and record in JOB what is in the tin.

    BATCH is a file of `tint,grams` in the order poured, or the parts are typed, as in black=9.8. What looks like a slip
    is refused: a tint misspelt, a weight ten times too large, running totals entered as weights. What was poured too
    much is answered with what to add.
    """
    request = request_from(PourRequest, options)
    as_said = request.like is None and request.set_aside is None
    entered = batch_of(batch) if batch else () if request.check and as_said else None
    poured = pour_step(job, entered, request, in_place_of=InPlaceOf(supersedes, why), progress=stage)
    if as_json:
        emit_json(poured.as_dict())
    else:
        _show(poured)
    return 0 if poured.reachable else 1


def _show(poured: PouredTin) -> None:
    for recorded in (poured.aside, poured.recorded):
        if recorded is not None:
            show_recorded(recorded)
    if poured.recorded is None:
        click.echo(f"{poured.job.ref} {poured.job.title}: nothing is recorded")
    for sentence in poured.understood:
        click.echo(f"  {with_options(sentence)}")
    if poured.stands is not None:
        _show_stands(poured.stands)
    if poured.harmful:
        click.echo()
    for tint in poured.harmful:
        click.echo(f"  ! {hazard_line(tint)}")
    say_warnings(poured.warnings)
    made = [view.number for one in (poured.aside, poured.recorded) if one is not None for view in one.entries]
    made += [number + 1 for number in made]  # the way back is recorded after its batch
    say_cautions(poured.cautions, poured.job.ref, made, cautions_by(poured.tints))


def _show_stands(stands: WeighOut) -> None:
    """Print each part as it was poured, what is still to go, and the answer to an overshoot."""
    name = stands.plan.name
    if not any(line.off for line in stands.lines):
        click.echo(f"  every part is as {name} has it")
        return
    click.echo()
    rows = [
        [line.tint, _grams(line.planned_g), _grams(line.poured_g), _remark(line.to_go_g, line.over_g)]
        for line in stands.lines
    ]
    click.echo("\n".join(table([name, "planned", "poured", ""], rows)))
    against = stands.against
    if against is not None:
        by_light = "  ".join(f"{light} {de:.2f}" for light, de in against.lights.items())
        click.echo(f"\n  it comes out {', '.join(against.words) or 'the same to the eye'}")
        click.echo(f"  ΔE00 {by_light} from what was meant")
        if against.within:
            click.echo(f"  inside {against.tolerance:g}: nothing to add")
    rest = sum(grams for _, grams in stands.to_go)
    if stands.to_go:
        _show_parts("still to go", stands.to_go, stands.grams)
    for how in filter(None, (stands.plan.by_letdown(line.tint) for line in stands.lines if line.to_go_g > 0)):
        click.echo(f"     {how}")
    if against is not None and not against.within:
        _show_way_back(stands, rest)
    proportion = stands.proportion
    if stands.overshot and proportion and (against is None or not against.within):
        grown = stands.grams + sum(grams for _, grams in proportion)
        head = f"every part in proportion, {grown:.1f} g in all"
        if stands.lacking:
            click.echo(f"\n  {head}, takes more than there is: {stands.lacking_words}")
        else:
            _show_parts(f"or {head}{_priced(stands, proportion)}", proportion, stands.grams)


def _show_way_back(stands: WeighOut, rest_g: float) -> None:
    assert stands.against is not None
    found = stands.against.way_back
    then = "then, to" if stands.to_go else "to"
    head = f"{then} come back, add"
    if not found.reachable:
        needed = found.growth_needed
        more = (
            f"; {found.why.rpartition('; ')[2]}"  # what is in the way
            if needed is None
            else f": it would take {percent(needed)} % more than is in the tin"
        )
        click.echo(f"\n  within the growth limit it can't be brought back{more}")
        head = f"{then} come as near as that allows, add"
    if found.additions:
        _show_parts(head + _priced(stands, stands.to_add), found.additions, stands.grams + rest_g)
        by_light = "  ".join(f"{light} {de:.2f}" for light, de in found.lights.items())
        click.echo(f"     adds {100 * found.growth:.1f} % to the tin; predicted ΔE00 {by_light}")


def _priced(stands: WeighOut, parts: Parts) -> str:
    cost = stands.cost(parts)
    return "" if cost is None else f" (cost {cost:.2f})"


def _show_parts(head: str, parts: Parts, start_g: float) -> None:
    click.echo(f"\n  {head}")
    rows = weigh_out_rows(parts, start_g)
    click.echo("\n".join(table(["tint", "grams", "in the tin"], rows, indent="     ")))


def _remark(to_go_g: float, over_g: float) -> str:
    if to_go_g > 0:
        return f"{_grams(to_go_g)} to go"
    return f"{_grams(over_g)} too much" if over_g > 0 else ""


def _grams(weight: float) -> str:
    """Return a weight to a tenth of a gram, or to the hundredths that a letdown brings."""
    return f"{weight:.1f}" if abs(10 * weight - round(10 * weight)) < 1e-6 else f"{weight:.2f}"
