"""`finishmatch job coat`: a coat was sprayed on a panel, and what it met."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import click

from finishmatch.cautions import SPRAYING
from finishmatch.cli.common import json_option, say_cautions
from finishmatch.cli.recording import record_each, replace_options
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.ledger import EntryView, Ledger


@click.command(
    "coat",
    epilog="""\b
Example:
  finishmatch job coat J1 --panel roof --layer colour --exposure "air line=2" --exposure "gun=HVLP 1"
  finishmatch job coat J1 --panel bonnet --panel boot --like last
""",
)
@click.argument("job")
@click.option(
    "--panel", "panels", metavar="TEXT", multiple=True, required=True, help="The panel, for example roof; repeat."
)
@click.option("--layer", metavar="TEXT", default="", help="The layer sprayed, for example colour.")
@click.option(
    "--exposure",
    "exposures",
    metavar="KIND=VALUE",
    multiple=True,
    help="What it met: air line, gun, cloth, wipe, polish in the room, booth, painter, …; repeat.",
)
@click.option(
    "--like",
    metavar="N",
    help="It met what coat N met (its number, or 'last': the last one recorded); an --exposure of a kind goes before.",
)
@click.option("--sprayed-on", metavar="DATE", help="The day, YYYY-MM-DD [default: today].")
@replace_options
@json_option
def coat(
    job: str,
    panels: Sequence[str],
    layer: str,
    exposures: Sequence[str],
    like: str | None,
    sprayed_on: str | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record in JOB that panels were sprayed, and what their coats met.

    Good coats as well as bad ones: a defect is traced by what the bad ones met more often than the good ones.
    """
    from finishmatch.cli.defect.input import day
    from finishmatch.defects import exposure_pairs
    from finishmatch.ledger import CoatEntry, open_ledger

    pairs, when = exposure_pairs(exposures), day("--sprayed-on", sprayed_on)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        if like is not None:
            own = {kind for kind, _ in pairs}
            pairs = (*pairs, *(pair for pair in _met_by(ledger, like) if pair[0] not in own))
        if not pairs:
            raise InputError(
                "--exposure", "is missing: a coat is recorded for what it met", 'name it, as in --exposure "air line=2"'
            )
        layer = " ".join(layer.split())
        entries = [CoatEntry(" ".join(panel.split()), when, pairs, layer) for panel in panels]
        warnings = suspects_warned(ledger, pairs)
        record_each(ledger, found, entries, supersedes=supersedes, why=why, as_json=as_json, warnings=warnings)
    if not as_json:
        say_cautions(SPRAYING)


def suspects_warned(ledger: Ledger, exposures: Sequence[tuple[str, str]]) -> list[str]:
    """Return a warning for each suspect among some exposures."""
    from finishmatch.ledger import marks_standing, suspects_met

    return [
        f"{mark.name} is suspect since {mark.made_at[:10]}: {mark.why}"
        for mark in suspects_met(exposures, marks_standing(ledger))
    ]


def suspects_in(ledger: Ledger, views: Sequence[EntryView]) -> list[str]:
    """Return a warning for each coat of a job that met what is suspect, on the day it was marked or later."""
    from finishmatch.ledger import CoatEntry, marks_standing, suspects_met

    standing = marks_standing(ledger)
    return [
        f"coat #{view.number} met {mark.name}, which is suspect since {mark.made_at[:10]}: {mark.why}"
        for view in views
        if view.superseded_by is None and isinstance(view.entry, CoatEntry)
        for mark in suspects_met(view.entry.exposures, standing)
        if view.entry.sprayed_on >= datetime.fromisoformat(mark.made_at).astimezone().date().isoformat()
    ]


def _met_by(ledger: Ledger, like: str) -> tuple[tuple[str, str], ...]:
    """Return what a coat of any job met, by its number or as the last one recorded."""
    from finishmatch.ledger.shop import coat_numbered

    if like.strip().casefold() != "last" and not like.strip().lstrip("#").isdecimal():
        raise InputError(f"--like {like[:40]!r}", "is neither a number nor 'last'", "give the number of a coat")
    number = None if like.strip().casefold() == "last" else int(like.strip().lstrip("#"))
    return coat_numbered(ledger, number)
