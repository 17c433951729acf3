"""`finishmatch job new` and `job list`: open a job, and list the jobs there are."""

from __future__ import annotations

from datetime import datetime

import click

from finishmatch.cli.common import emit_json, json_option, table
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
@json_option
def new(title: str, vehicle: str, colour: str, note: str, as_json: bool) -> None:
    """Open a job called TITLE; the ledger is made where there is none yet."""
    opened = open_job(title, vehicle=vehicle, colour=colour, note=note)
    if as_json:
        emit_json(opened.as_dict())
        return
    job = opened.job
    click.echo(f"Opened {job.ref}: {job.title}")
    click.echo(f"  in {opened.ledger}")
    click.echo(f"  the commands record in it with --job {job.ref}; read it with: finishmatch job show {job.ref}")


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
