"""`finishmatch job use`: a job is put in use."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cli.common import emit_json, json_option, wrapped
from finishmatch.cli.terminal import columns
from finishmatch.steps.job.current_job import current_job, needed_job, use_job


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
