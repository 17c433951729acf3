"""`finishmatch job new`, `job use` and `job list`: open a job, put one in use, and list the jobs there are."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from finishmatch.cli.common import emit_json, json_option, table, wrapped
from finishmatch.cli.terminal import columns
from finishmatch.steps.job.current_job import current_job, needed_job, use_job
from finishmatch.steps.job.list import list_jobs as listed_jobs
from finishmatch.steps.job.open import open_job


@click.command(
    "new",
    epilog="""\b
Example:
  finishmatch job new "Tarnbeck Six, Saltmarsh Blue" --vehicle "Tarnbeck Six drophead coupé, 1934"
""",
)
@click.argument("title")
@click.option("--vehicle", metavar="TEXT", default="", help="Marque, model, body and year.")
@click.option("--colour", metavar="TEXT", default="", help="The period name of the colour.")
@click.option("--note", metavar="TEXT", default="", help="Anything else worth knowing from the start.")
@click.option("--another", is_flag=True, help="Another job of a title that a job has already.")
@json_option
def new(title: str, vehicle: str, colour: str, note: str, another: bool, as_json: bool) -> None:
    """Open a job called TITLE; the ledger is made where there is none yet."""
    opened = open_job(title, vehicle=vehicle, colour=colour, note=note, another=another)
    if as_json:
        emit_json(opened.as_dict())
        return
    job = opened.job
    click.echo(wrapped(f"Opened {job.ref}: {job.title}", "", columns()))
    click.echo(f"  in {opened.ledger}")
    click.echo(f"  work in it with: finishmatch job use {job.ref}")
    click.echo(f"  read it with:    finishmatch job show {job.ref}")


@click.command(
    "use",
    epilog="""\b
Example:
  finishmatch job use J1
""",
)
@click.argument("job", required=False)
@click.option(
    "--bank",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="The bank it is mixed from, for the job to remember [default: the one it was mixed from last].",
)
@json_option
def use(job: str | None, bank: Path | None, as_json: bool) -> None:
    """Put JOB in use: the commands then record in it and take from it what isn't given; without JOB, say which it is.

    A --job that is given always comes first, and --job none records nowhere. With FINISHMATCH_BAY set to the name of a
    bay, each bay of a shared ledger has a job of its own in use.
    """
    if job is None and bank is not None:
        job = needed_job(None)
    found = current_job() if job is None else use_job(job, bank)
    if as_json:
        emit_json(found.as_dict())
    elif found.job is None:
        click.echo("No job is in use. Put one in use:\n  finishmatch job use JOB")
    else:
        click.echo(wrapped(f"In use: {found.job.ref} {found.job.title}", "", columns()))
        click.echo("  no bank is known to it yet" if found.bank is None else f"  bank: {found.bank}")


@click.command(
    "list",
    epilog="""\b
Example:
  finishmatch job list
""",
)
@json_option
def list_jobs(as_json: bool) -> None:
    """List the jobs of the ledger. No ledger is made where there is none."""
    listed = listed_jobs()
    if as_json:
        emit_json(listed.as_dict())
        return
    if not listed.jobs:
        click.echo('The ledger holds no job yet. Open the first:  finishmatch job new "TITLE"')
        return
    rows = []
    for item in listed.jobs:
        job, last = item.job, local_time(item.last_entry_at or item.job.made_at)
        rows.append((job.ref, job.title, job.vehicle, job.colour_name, str(item.entries), last))
    for line in table(("job", "title", "vehicle", "colour", "entries", "last entry"), rows):
        click.echo(line)


def local_time(made_at: str) -> str:
    """Return a time of the ledger by the bench's own clock, to the minute."""
    return datetime.fromisoformat(made_at).astimezone().strftime("%Y-%m-%d %H:%M")
