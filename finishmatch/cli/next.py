"""`finishmatch next`: what is open, and the one command that comes next."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import emit_json, json_option, wrapped
from finishmatch.cli.job.next_command import next_command, open_document
from finishmatch.cli.terminal import columns
from finishmatch.steps.job.next_step import JobOpen, NextSteps, next_step

FIRST = 'finishmatch job new "TITLE"'


@click.command(
    epilog="""\b
Example:
  finishmatch next
""",
)
@click.argument("job", required=False)
@json_option
def next_command_of_all(job: str | None, as_json: bool) -> None:
    """Show what is open in all jobs, or in JOB, and the one command that comes next.

    The job in use comes first. Capitals in a command stand for what only you know.
    """
    found = next_step(job)
    if as_json:
        emit_json(_document(found))
    else:
        _show(found)


def _command(one: JobOpen) -> str:
    assert one.first is not None
    return next_command(one.job, one.first, one.known, in_use=one.in_use)


def _document(found: NextSteps) -> dict[str, Any]:
    document, one = found.as_dict(), found.one
    for job, shown in zip(found.jobs, document["jobs"], strict=True):
        shown["open"] = [open_document(job.job, item, job.known, in_use=job.in_use) for item in job.open]
    command = FIRST if not found.job_count else None if one is None else _command(one)
    return {**document, "job": None if one is None else one.job.ref, "next": command}


def _show(found: NextSteps) -> None:
    width = columns()
    if not found.job_count:
        click.echo(f"There is no job yet. What comes next:\n  {FIRST}")
        return
    for job in found.jobs:
        used = " (in use)" if job.in_use else ""
        click.echo(click.style(wrapped(f"{job.job.ref} {job.job.title}{used}", "", width), bold=True))
        if job.card:
            click.echo(wrapped(job.card, "  ", width))
        for part in job.aside:
            click.echo(wrapped(part.text, "  ", width))
        for item in job.open:
            click.echo(wrapped(item.what, "  - ", width))
        if not job.open:
            click.echo("  nothing is open")
    one = found.one
    if one is None:
        click.echo("" if found.jobs else "Nothing is open in any job.", nl=not found.jobs)
        return
    click.echo("\nWhat comes next:")
    click.echo(f"  {_command(one)}")
    if one.first is not None and one.first.needs == "plan law":
        strike = f"finishmatch job strike {one.job.ref} {one.first.number} --why TEXT"
        click.echo(f"or, if that paint isn't used after all:\n  {strike}")
    if one.first is not None and one.first.tints:
        click.echo(f"or, if the tin is to do without:\n  finishmatch judge CARD --job {one.job.ref}")
