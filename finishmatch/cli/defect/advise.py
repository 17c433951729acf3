"""`finishmatch defect advise`: what it is, how deep it may be cut, what to do next."""

from __future__ import annotations

from typing import Any

import click
from click.core import ParameterSource

from finishmatch.cautions import REWORK
from finishmatch.cli.common import detail_option, emit_json, json_option, request_from, say_cautions
from finishmatch.cli.defect.advice import show_advice, show_undecided
from finishmatch.cli.defect.film_asked import film_asked_for
from finishmatch.cli.defect.input import in_unit, layers_typed, names_typed
from finishmatch.cli.defect.options import evidence_options, place_options
from finishmatch.cli.in_use import job_in_use_option
from finishmatch.steps.defect import advise as step

_MONEY, _DAYS = in_unit("", "an amount of money"), in_unit("", "a number of days")
_CHANCE = in_unit("", "a chance between 0 and 1; 5 % is 0.05")


@click.command(
    "advise",
    epilog="""\b
Examples:
  finishmatch defect advise crater --layer primer=62,58,60 --layer colour=98,104,101 --depth-um 35 --count 4
  finishmatch defect advise "craters" --layer primer=62,58,60 --layer colour=48,52,55 --reached primer
  finishmatch defect advise --job J1 --choose "back to primer" --why "silicone on the primer"

Exit status: 0 the paint there is can be saved; 1 it can't, and must be painted again.
""",
)
@click.argument("kind", required=False)
@job_in_use_option("Take the defect and the film of its panel from this job.")
@click.option(
    "--defect",
    metavar="N",
    type=click.IntRange(min=1),
    help="The defect's number in the job [default: the one without a decision].",
)
@click.option(
    "--layer",
    "layers",
    metavar="NAME=UM,UM,…",
    multiple=True,
    callback=layers_typed,
    help="A layer's build readings around the defect, µm; repeat, from the metal up.",
)
@click.option(
    "--depth-um", metavar="UM", callback=in_unit("µm"), help="How deep it goes below the surface beside it, µm."
)
@click.option("--depth-error-um", metavar="UM", callback=in_unit("µm"), help="The ± of the depth, 95 times in 100, µm.")
@click.option("--reached", metavar="LAYER", help="The layer that lies bare at its bottom (or metal), if not the depth.")
@click.option("--count", metavar="N", type=int, help="How many there are.")
@click.option("--size-mm", metavar="MM", callback=in_unit("mm"), help="How wide one is, mm.")
@click.option("--rim", is_flag=True, help="It has a raised rim around a bare middle.")
@place_options
@click.option(
    "--steps",
    metavar="STEP,STEP,…",
    callback=names_typed,
    help="The steps of rubbing and polishing, once the bottom is reached.",
)
@evidence_options
@click.option(
    "--keep-um",
    metavar="UM",
    callback=in_unit("µm"),
    help="Topcoat that must stay, µm.  [default: clear 50, colour 40]",
)
@click.option(
    "--max-risk",
    metavar="CHANCE",
    callback=_CHANCE,
    help="The greatest chance of breaking through to advise.  [default: 0.05]",
)
@click.option(
    "--age-days",
    metavar="DAYS",
    callback=_DAYS,
    help="How long ago the finish was sprayed; cure and recoat window count from it.",
)
@click.option("--cure-days", metavar="DAYS", callback=_DAYS, help="When it has cured, by its data sheet.  [default: 7]")
@click.option(
    "--window-days",
    metavar="DAYS",
    callback=_DAYS,
    help="How long it may be recoated as it is, by its sheet.  [default: 1]",
)
@click.option("--hour-cost", metavar="MONEY", callback=_MONEY, help="What an hour of the shop costs.  [default: 60]")
@click.option("--choose", metavar="OPTION", help="Record this option as the decision about the defect of the job.")
@click.option("--why", metavar="TEXT", default="", help="Why it was chosen.")
@detail_option
@json_option
def advise(**options: Any) -> int:
    """Decide how a defect is reworked: rubbed out, levelled, recoated, or the panel taken back to primer.

    The defect and the film around it come from a job of the ledger, or are typed: KIND, --layer, and --depth-um or
    --reached. What was missing in the job can be given here, and is added to its entry. The chance of breaking through
    is computed from the spread of the build readings.
    """
    named = click.get_current_context().get_parameter_source("job") is not ParameterSource.DEFAULT
    job = options["job"] if named or options["kind"] is None else None  # a defect that is typed is not the job's
    with film_asked_for(job):
        advised = step.advise(request_from(step.AdviseRequest, options), job=job)
    if options["as_json"]:
        emit_json(advised.as_dict())
    else:
        show_advice(advised, options["detail"])
        show_undecided(advised)
        say_cautions(REWORK, job, [number for number in (advised.decision,) if number is not None])
    return 0 if advised.advice.mendable else 1
