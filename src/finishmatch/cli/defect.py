"""`finishmatch defect`: log a defect, decide its rework, look up the kinds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from finishmatch.cautions import REWORK
from finishmatch.cli.common import emit_json, json_option, say_cautions, table
from finishmatch.cli.recording import record_one, replace_options
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.defects import SeenDefect
    from finishmatch.ledger import DefectEntry


@click.group(
    "defect",
    epilog="""\b
Example:
  finishmatch defect advise crater --layer primer=62,58,60 --layer colour=98,104,101 --depth-um 35 --count 4
""",
)
def defect_command() -> None:
    """Log a defect of a finish; decide how far it may be rubbed and what to do next."""


@defect_command.command(
    "log",
    epilog="""\b
Example:
  finishmatch job new "Tarnbeck Six, Saltmarsh Blue"
  finishmatch defect log --job J1 crater --panel roof --count 12 --size-mm 1.5 --reached primer --exposure "air line=2"
""",
)
@click.argument("kind")
@click.option("--job", metavar="JOB", help="The job of the ledger it is recorded in.")
@click.option("--panel", metavar="TEXT", help="The panel, for example roof.")
@click.option("--place", metavar="TEXT", default="", help="Where on the panel.")
@click.option("--count", metavar="N", type=int, help="How many there are.")
@click.option("--size-mm", metavar="MM", help="How wide one is, mm.")
@click.option("--depth-um", metavar="UM", help="How deep it goes below the surface beside it, µm.")
@click.option("--reached", metavar="LAYER", help="The layer that lies bare at its bottom (or metal), if not the depth.")
@click.option(
    "--exposure",
    "exposures",
    metavar="KIND=VALUE",
    multiple=True,
    help="What the panel met: air line, gun, cloth, wipe, polish in the room, booth, painter, …; repeat.",
)
@click.option("--seen-on", metavar="DATE", help="The day it was seen, YYYY-MM-DD [default: today].")
@replace_options
@json_option
def log(
    kind: str,
    job: str | None,
    panel: str | None,
    place: str,
    count: int | None,
    size_mm: str | None,
    depth_um: str | None,
    reached: str | None,
    exposures: Sequence[str],
    seen_on: str | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record a defect in a job of the ledger; KIND is its trade name or what the shop calls it (defect kinds)."""
    from finishmatch.cli.defect_input import day, measured
    from finishmatch.defects import SeenDefect, check_seen, exposure_pairs, find_kind

    if job is None:
        raise InputError("--job", "is missing: a defect is logged in a job", "name it, as in --job J1")
    if panel is None or not panel.strip():
        raise InputError("--panel", "is missing", "say which panel, as in --panel roof")
    seen = SeenDefect(
        kind=find_kind(kind),
        count=count,
        size_mm=measured("--size-mm", size_mm, "mm"),
        depth_um=measured("--depth-um", depth_um, "µm"),
        layer_reached=reached,
    )
    check_seen(seen)
    pairs, seen_day = exposure_pairs(exposures), day("--seen-on", seen_on)
    from finishmatch.ledger import DefectEntry, open_ledger

    entry = DefectEntry(
        kind=seen.kind.name,
        panel=" ".join(panel.split()),
        place=" ".join(place.split()),
        count=seen.count,
        size_mm=seen.size_mm,
        depth_um=seen.depth_um,
        layer_reached=reached and " ".join(reached.split()),
        seen_on=seen_day,
        exposures=pairs,
    )
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        warnings = _against_film(seen, entry, [view.entry for view in ledger.entries(found, current_only=True)])
        record_one(ledger, found, entry, supersedes=supersedes, why=why, as_json=as_json, warnings=warnings)
    if not as_json:
        click.echo(f"  next: finishmatch defect advise --job {found.ref}")
        say_cautions(REWORK)


def _against_film(seen: SeenDefect, entry: DefectEntry, entries: Sequence[object]) -> list[str]:
    """See that the defect can lie in the film of its panel, where that has been read; return what to note."""
    from finishmatch.cli.defect_input import layers_of_panel
    from finishmatch.defects import Film, check_in_film

    try:
        layers = layers_of_panel(entries, entry.panel)
    except InputError as error:  # a film that can't be judged is no reason to lose a sighting
        return [f"not checked against the film: {error}"]
    if not layers:
        return [f"the film of the {entry.panel} has not been read yet (finishmatch job film)"]
    check_in_film(seen, Film(tuple(layers)))
    return []


@defect_command.command(
    "advise",
    epilog="""\b
Examples:
  finishmatch defect advise crater --layer primer=62,58,60 --layer colour=98,104,101 --depth-um 35 --count 4
  finishmatch defect advise "fish eyes" --layer primer=62,58,60 --layer colour=48,52,55 --reached primer
  finishmatch defect advise --job J1 --choose "back to primer" --why "silicone on the primer"

Exit status: 0 it can be rubbed out or levelled; 1 it can't, and must be painted again.
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
@click.option("--keep-um", metavar="UM", help="Topcoat that must stay, µm.  [default: clear 50, colour 40]")
@click.option(
    "--max-risk", metavar="CHANCE", help="The greatest chance of breaking through to advise.  [default: 0.05]"
)
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
    keep_um: str | None,
    max_risk: str | None,
    choose: str | None,
    why: str,
    as_json: bool,
) -> int:
    """Decide how a defect is reworked: rubbed out, levelled, recoated, or the panel taken back to primer.

    The defect and the film around it come from a job of the ledger, or are typed: KIND, --layer, and --depth-um or
    --reached. The chance of breaking through is computed from the spread of the build readings.
    """
    from finishmatch.cli.defect_advice import advice_document, say_advice
    from finishmatch.cli.defect_input import chosen_option, defect_of_job, measured, typed_defect
    from finishmatch.defects import advise as judge

    pm_um = measured("--depth-error-um", depth_error_um, "µm")
    keep = measured("--keep-um", keep_um, "µm")
    risk = measured("--max-risk", max_risk, "", "a chance between 0 and 1; 5 % is 0.05")
    option = chosen_option(choose, why, job)
    if job is None:
        if number is not None:
            raise InputError("--defect", "a number needs its job", "name it too: --job JOB")
        if kind is None:
            raise InputError("defect advise", "no defect is named", "type its kind, or take one from a job: --job JOB")
        depth, size = measured("--depth-um", depth_um, "µm"), measured("--size-mm", size_mm, "mm")
        case = typed_defect(kind, layers, depth, pm_um, reached, count, size, rim)
    else:
        typed = {"KIND": kind, "--layer": layers, "--depth-um": depth_um, "--reached": reached}
        for name, value in {**typed, "--count": count, "--size-mm": size_mm}.items():
            if value not in (None, ()):
                raise InputError(
                    name, "stands in the job already", "leave it out, or log anew: --supersedes N --why TEXT"
                )
        case = defect_of_job(job, number, pm_um, rim)
    advice = judge(case.seen, case.film, keep_um=keep, max_risk=risk)
    document = advice_document(advice)
    if option is not None:
        from finishmatch.cli.recording import record_to
        from finishmatch.ledger import DecisionEntry

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


@defect_command.command(
    "kinds",
    epilog="""\b
Examples:
  finishmatch defect kinds
  finishmatch defect kinds "fish eyes"
""",
)
@click.argument("kind", required=False)
@json_option
def kinds(kind: str | None, as_json: bool) -> None:
    """List the kinds of defect with their looks, or tell all that is known of one KIND."""
    from finishmatch.defects import all_kinds, find_kind

    found = all_kinds() if kind is None else (find_kind(kind),)
    if as_json:
        from dataclasses import asdict

        emit_json({"kinds": [asdict(item) for item in found]})
        return
    if kind is None:
        click.echo("\n".join(table(("kind", "look"), [(item.name, item.look) for item in found])))
        return
    (item,) = found
    click.echo(click.style(item.name, bold=True) + (", a term of ISO 4618 (from memory)" if item.iso_4618 else ""))
    click.echo(f"  also called: {', '.join(item.synonyms)}")
    click.echo(f"  look: {item.look}")
    click.echo(f"  likely causes («common practice»): {'; '.join(item.causes)}")
    if item.contamination:
        click.echo("  contamination is suspected: it must be removed before any recoat")
