"""`finishmatch defect log`: record a defect in a job."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from finishmatch.cautions import REWORK
from finishmatch.cli.common import json_option, say_cautions
from finishmatch.cli.defect.options import evidence_options, place_options
from finishmatch.cli.job.coat import suspects_warned
from finishmatch.cli.recording import record_one, replace_options
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.defects import SeenDefect
    from finishmatch.ledger import DefectEntry


@click.command(
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
    help="What the panel met: air line, gun, cloth, polish in the room, …; with its day: air line=2@DATE; repeat.",
)
@place_options
@evidence_options
@click.option("--rating", metavar="N(SN)", help="Its rating by ISO 4628-1, 0 to 5: quantity and size, or intensity.")
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
    at: str | None,
    over: str | None,
    signs: Sequence[str],
    checks_done: Sequence[str],
    rating: str | None,
    seen_on: str | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record a defect in a job of the ledger; KIND is its trade name or what the shop calls it (defect kinds)."""
    from finishmatch.cli.defect.input import day, measured, typed_spot
    from finishmatch.defects import (
        SeenDefect,
        check_met_before,
        check_seen,
        find_checks,
        find_kind,
        find_signs,
        read_exposures,
        read_rating,
    )

    if job is None:
        raise InputError("--job", "is missing: a defect is logged in a job", "name it, as in --job J1")
    if panel is None or not panel.strip():
        raise InputError("--panel", "is missing", "say which panel, as in --panel roof")
    spot_at, spread_over = typed_spot(at, over)
    seen = SeenDefect(
        kind=find_kind(kind),
        count=count,
        size_mm=measured("--size-mm", size_mm, "mm"),
        depth_um=measured("--depth-um", depth_um, "µm"),
        layer_reached=reached,
        at_mm=spot_at,
        over_mm=spread_over,
    )
    check_seen(seen)
    met, seen_day = read_exposures(exposures), day("--seen-on", seen_on)
    check_met_before(met, seen_day)
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
        exposures=tuple((exposure.kind, exposure.value) for exposure in met),
        met_on=tuple(exposure.day for exposure in met) if any(exposure.day for exposure in met) else (),
        seen=find_signs(signs),
        checks=find_checks(checks_done),
        at_mm=seen.at_mm or (),
        over_mm=seen.over_mm or (),
        rating="" if rating is None else read_rating(rating, seen.kind, seen.size_mm).text(),
    )
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        warnings = suspects_warned(ledger, entry.exposures)
        warnings += _against_film(seen, entry, [view.entry for view in ledger.entries(found, current_only=True)])
        record_one(ledger, found, entry, supersedes=supersedes, why=why, as_json=as_json, warnings=warnings)
    if not as_json:
        click.echo(f"  next: finishmatch defect advise --job {found.ref}")
        say_cautions(REWORK)


def _against_film(seen: SeenDefect, entry: DefectEntry, entries: Sequence[object]) -> list[str]:
    """See that the defect can lie in the film of its panel, where that has been read; return what to note."""
    from finishmatch.cli.defect.job import layers_of_panel
    from finishmatch.defects import Film, check_in_film

    try:
        layers = layers_of_panel(entries, entry.panel)
    except InputError as error:  # a film that can't be judged is no reason to lose a sighting
        return [f"not checked against the film: {error}"]
    if not layers:
        return [f"the film of the {entry.panel} has not been read yet (finishmatch job film)"]
    check_in_film(seen, Film(tuple(layers)))
    return []
