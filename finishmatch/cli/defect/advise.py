"""`finishmatch defect advise`: what it is, how deep it may be cut, what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import click

from finishmatch.cautions import REWORK
from finishmatch.cli.common import emit_json, json_option, say_cautions
from finishmatch.cli.defect.options import evidence_options, place_options
from finishmatch.errors import InputError


@click.command(
    "advise",
    epilog="""\b
Examples:
  finishmatch defect advise crater --layer primer=62,58,60 --layer colour=98,104,101 --depth-um 35 --count 4
  finishmatch defect advise "fish eyes" --layer primer=62,58,60 --layer colour=48,52,55 --reached primer
  finishmatch defect advise --job J1 --choose "back to primer" --why "silicone on the primer"

Exit status: 0 the paint there is can be saved; 1 it can't, and must be painted again.
""",
)
@click.argument("kind", required=False)
@click.option("--job", metavar="JOB", help="Take the defect and the film of its panel from this job of the ledger.")
@click.option(
    "--defect",
    "number",
    metavar="N",
    type=click.IntRange(min=1),
    help="The defect's number in the job [default: the one without a decision].",
)
@click.option(
    "--layer",
    "layers",
    metavar="NAME=UM,UM,…",
    multiple=True,
    help="A layer's build readings around the defect, µm; repeat, from the metal up.",
)
@click.option("--depth-um", metavar="UM", help="How deep it goes below the surface beside it, µm.")
@click.option("--depth-error-um", metavar="UM", help="The ± of the depth, 95 times in 100, µm.")
@click.option("--reached", metavar="LAYER", help="The layer that lies bare at its bottom (or metal), if not the depth.")
@click.option("--count", metavar="N", type=int, help="How many there are.")
@click.option("--size-mm", metavar="MM", help="How wide one is, mm.")
@click.option("--rim", is_flag=True, help="It has a raised rim around a bare middle.")
@place_options
@click.option("--steps", metavar="STEP,STEP,…", help="The steps of rubbing and polishing, once the bottom is reached.")
@evidence_options
@click.option("--keep-um", metavar="UM", help="Topcoat that must stay, µm.  [default: clear 50, colour 40]")
@click.option(
    "--max-risk", metavar="CHANCE", help="The greatest chance of breaking through to advise.  [default: 0.05]"
)
@click.option(
    "--age-days", metavar="DAYS", help="How long ago the finish was sprayed; cure and recoat window count from it."
)
@click.option("--cure-days", metavar="DAYS", help="When it has cured, by its data sheet.  [default: 7]")
@click.option("--window-days", metavar="DAYS", help="How long it may be recoated as it is, by its sheet.  [default: 1]")
@click.option("--hour-cost", metavar="MONEY", help="What an hour of the shop costs.  [default: 60]")
@click.option("--choose", metavar="OPTION", help="Record this option as the decision about the defect of the job.")
@click.option("--why", metavar="TEXT", default="", help="Why it was chosen.")
@json_option
def advise(
    kind: str | None,
    job: str | None,
    number: int | None,
    layers: Sequence[str],
    depth_um: str | None,
    depth_error_um: str | None,
    reached: str | None,
    count: int | None,
    size_mm: str | None,
    rim: bool,
    at: str | None,
    over: str | None,
    steps: str | None,
    signs: Sequence[str],
    checks_done: Sequence[str],
    keep_um: str | None,
    max_risk: str | None,
    age_days: str | None,
    cure_days: str | None,
    window_days: str | None,
    hour_cost: str | None,
    choose: str | None,
    why: str,
    as_json: bool,
) -> int:
    """Decide how a defect is reworked: rubbed out, levelled, recoated, or the panel taken back to primer.

    The defect and the film around it come from a job of the ledger, or are typed: KIND, --layer, and --depth-um or
    --reached. The chance of breaking through is computed from the spread of the build readings.
    """
    from finishmatch.cli.defect.advice import advice_document, say_advice
    from finishmatch.cli.defect.calibrate import shop_practice
    from finishmatch.cli.defect.input import (
        chosen_option,
        costed,
        measured,
        stepped,
        typed_defect,
        typed_spot,
    )
    from finishmatch.cli.defect.job import add_evidence, defect_of_job
    from finishmatch.defects import NOTHING_KNOWN, Evidence, find_checks, find_signs
    from finishmatch.defects import advise as judge

    pm_um = measured("--depth-error-um", depth_error_um, "µm")
    keep = measured("--keep-um", keep_um, "µm")
    risk = measured("--max-risk", max_risk, "", "a chance between 0 and 1; 5 % is 0.05")
    option = chosen_option(choose, why, job)
    evidence = Evidence(find_signs(signs), find_checks(checks_done))
    spot = typed_spot(at, over)
    practice = stepped(shop_practice(), steps)
    practice, timing = costed(practice, age_days, cure_days, window_days, hour_cost)
    if job is None:
        if number is not None:
            raise InputError("--defect", "a number needs its job", "name it too: --job JOB")
        if kind is None:
            raise InputError("defect advise", "no defect is named", "type its kind, or take one from a job: --job JOB")
        depth, size = measured("--depth-um", depth_um, "µm"), measured("--size-mm", size_mm, "mm")
        case = typed_defect(kind, layers, depth, pm_um, reached, count, size, rim, evidence, spot)
    else:
        typed = {"KIND": kind, "--layer": layers, "--depth-um": depth_um, "--reached": reached}
        for name, value in {**typed, "--count": count, "--size-mm": size_mm, "--at": at, "--over": over}.items():
            if value not in (None, ()):
                raise InputError(
                    name, "stands in the job already", "leave it out, or log anew: --supersedes N --why TEXT"
                )
        case = defect_of_job(job, number, pm_um, rim, evidence)
    if timing.age_days is None:
        timing = replace(timing, age_days=case.age_days)
    advice = judge(case.seen, case.film, practice, keep_um=keep, max_risk=risk, timing=timing)
    if case.broken_through:
        note = f"the work on it broke through, so it is taken as open to the {case.seen.layer_reached}"
        advice = replace(advice, warnings=(*advice.warnings, note))
    document = advice_document(advice)
    if job is not None and case.number is not None and evidence != NOTHING_KNOWN:
        case = replace(case, number=add_evidence(job, case.number, evidence))
    if option is not None:
        from finishmatch.ledger import DecisionEntry
        from finishmatch.steps.record import record_to

        entry = DecisionEntry(defect=case.number, options=document["options"], chosen=option, why=why.strip())
        document["decision"] = record_to(job, [entry])[0]
    if case.number is not None:
        document |= {"job": case.job, "defect": case.number}
    if as_json:
        emit_json({**document, "cautions": list(REWORK)})
    else:
        say_advice(advice, case, document.get("decision"), option)
        say_cautions(REWORK)
    return 0 if advice.mendable else 1
