"""`finishmatch job new`: a job is opened."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option, wrapped
from finishmatch.cli.terminal import columns
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
