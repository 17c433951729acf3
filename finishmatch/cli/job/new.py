"""`finishmatch job new` and `job list`: open a job, and list the jobs there are."""

from __future__ import annotations

from datetime import datetime

import click

from finishmatch.cli.common import emit_json, json_option, table


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
@click.option("--note", "note_text", metavar="TEXT", default="", help="Anything else worth knowing from the start.")
@json_option
def new(title: str, vehicle: str, colour: str, note_text: str, as_json: bool) -> None:
    """Open a job called TITLE; the ledger is made where there is none yet."""
    from finishmatch.ledger import job_title, open_ledger

    job_title(title)  # a title that won't do is told before a ledger is made for it
    with open_ledger() as ledger:
        job = ledger.new_job(title, vehicle=vehicle, colour_name=colour, note=note_text)
    if as_json:
        emit_json({"job": job.as_dict()})
        return
    click.echo(f"Opened {job.ref}: {job.title}")
    click.echo(f"  in {ledger.path}")
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
    from finishmatch.ledger import ledger_exists, open_ledger

    jobs, activity = [], {}
    if ledger_exists():
        with open_ledger(create=False) as ledger:
            jobs, activity = ledger.jobs(), ledger.activity()
    if as_json:
        told = []
        for job in jobs:
            count, last = activity.get(job.id, (0, None))
            told.append({**job.as_dict(), "entries": count, "last_entry_at": last})
        emit_json({"jobs": told})
        return
    if not jobs:
        click.echo('The ledger holds no job yet. Open the first:  finishmatch job new "TITLE"')
        return
    rows = []
    for job in jobs:
        count, last = activity.get(job.id, (0, job.made_at))
        rows.append((job.ref, job.title, job.vehicle, job.colour_name, str(count), local_time(last)))
    for line in table(("job", "title", "vehicle", "colour", "entries", "last entry"), rows):
        click.echo(line)


def local_time(made_at: str) -> str:
    """Return a time of the ledger by the bench's own clock, to the minute."""
    return datetime.fromisoformat(made_at).astimezone().strftime("%Y-%m-%d %H:%M")
