"""A plan in the terminal."""

from __future__ import annotations

import textwrap
from functools import partial

import click

from finishmatch.cli.common import emit_json, say_cautions, say_recorded, table
from finishmatch.cli.page_width import labelled, page_width
from finishmatch.dossier.plan_sections import PlanSection, plan_section
from finishmatch.steps.plan.planned import Planned

WIDTH = 100
wrap = partial(textwrap.wrap, break_long_words=False, break_on_hyphens=False)


def show_plan(plan: Planned, units: str, job: str | None, as_json: bool) -> int:
    """Print what a verb found, and return the exit status."""
    if as_json:
        emit_json(plan.as_dict())
    else:
        show_section(plan_section(plan, units))
        say_cautions(plan.cautions, job, plan.recorded)
        say_recorded(job, plan.recorded)
    return 0 if plan.yes else 1


def show_section(section: PlanSection) -> None:
    """Print a section of a plan."""
    width = min(WIDTH, page_width() or WIDTH)
    for line in wrap(section.answer, width - 2):
        click.echo(f"  {line}")
    if section.lines:
        click.echo()
        click.echo("\n".join(labelled(section.lines, width)))
    for shown in section.tables:
        click.echo()
        if shown.caption:
            click.echo("\n".join(f"  {line}" for line in wrap(shown.caption, width - 2)))
        click.echo("\n".join(table(shown.header, shown.rows)))
    if section.notes:
        click.echo()
    for note in section.notes:
        first, *more = wrap(note, width - 8)
        click.echo(f"  note: {first}")
        for line in more:
            click.echo(f"        {line}")
