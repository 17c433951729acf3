"""`finishmatch job list`: the jobs there are."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option, table
from finishmatch.cli.local_time import local_time
from finishmatch.steps.job.list import list_jobs as listed_jobs


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
