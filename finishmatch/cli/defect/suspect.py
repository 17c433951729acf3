"""`finishmatch defect suspect`, `clear`, `suspects`: exposures a later job is warned of."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option
from finishmatch.errors import InputError


def one_exposure(text: str) -> tuple[str, str]:
    """Return the kind and value of a typed exposure."""
    from finishmatch.defects import exposure_pairs

    (pair,) = exposure_pairs([text])
    return pair


def _mark(exposure: str, state: str, why: str | None, job: str | None, as_json: bool) -> None:
    from finishmatch.ledger import mark_exposure, open_ledger

    pair = one_exposure(exposure)
    if why is None or not why.strip():
        raise InputError("--why", "it is not said why", "give the reason: --why TEXT")
    with open_ledger(create=False) as ledger:
        found = None if job is None else ledger.find_job(job)
        mark = mark_exposure(ledger, pair, state, why, found)
    if as_json:
        emit_json({"mark": mark.as_dict()})
    elif state == "suspect":
        click.echo(f"  {mark.name} is suspect: {mark.why}")
        click.echo("  a job that meets it is warned until it is cleared:")
        click.echo(f'    finishmatch defect clear "{mark.name}" --why TEXT')
    else:
        click.echo(f"  {mark.name} is cleared: {mark.why}")


@click.command(
    "suspect",
    epilog="""\b
Example:
  finishmatch defect suspect "air line=2" --job J1 --why "craters; its filter was full of oil"
""",
)
@click.argument("exposure")
@click.option("--why", metavar="TEXT", help="What speaks against it. Needed.")
@click.option("--job", metavar="JOB", help="The job it came up in.")
@json_option
def suspect_command(exposure: str, why: str | None, job: str | None, as_json: bool) -> None:
    """Mark EXPOSURE (KIND=VALUE) as suspect: whoever records a coat or a defect that met it is warned."""
    _mark(exposure, "suspect", why, job, as_json)


@click.command(
    "clear",
    epilog="""\b
Example:
  finishmatch defect suspect "air line=2" --job J1 --why "craters; its filter was full of oil"
  finishmatch defect clear "air line=2" --why "new filter; clean-panel spray without a crater"
""",
)
@click.argument("exposure")
@click.option("--why", metavar="TEXT", help="What was done, and how it was proved. Needed.")
@click.option("--job", metavar="JOB", help="The job it was proved in.")
@json_option
def clear_command(exposure: str, why: str | None, job: str | None, as_json: bool) -> None:
    """Clear EXPOSURE (KIND=VALUE) of suspicion. The mark and the reason stay in the history."""
    _mark(exposure, "cleared", why, job, as_json)


@click.command(
    "suspects",
    epilog="""\b
Example:
  finishmatch defect suspects --history
""",
)
@click.option("--history", is_flag=True, help="Every mark ever made, cleared ones as well.")
@json_option
def suspects_command(history: bool, as_json: bool) -> None:
    """List the exposures that are suspect now."""
    from finishmatch.ledger import ledger_exists, marks_made, marks_standing, open_ledger

    marks = []
    if ledger_exists():
        with open_ledger(create=False) as ledger:
            marks = marks_made(ledger) if history else marks_standing(ledger)
    if as_json:
        emit_json({"marks": [mark.as_dict() for mark in marks]})
        return
    if not marks:
        click.echo("  nothing was ever marked as suspect" if history else "  nothing is suspect")
    for mark in marks:
        job = "" if mark.job is None else f", {mark.job}"
        click.echo(f"  {mark.made_at[:10]}  {mark.name}  {mark.state}: {mark.why}{job}")
