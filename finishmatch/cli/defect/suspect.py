"""`finishmatch defect suspect`, `clear`, `suspects`: exposures a later job is warned of."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option
from finishmatch.steps.defect.suspect import list_suspects, mark


def _mark(exposure: str, state: str, why: str | None, job: str | None, as_json: bool) -> None:
    marked = mark(exposure, state, why, job=job)
    made = marked.mark
    if as_json:
        emit_json(marked.as_dict())
    elif state == "suspect":
        click.echo(f"  {made.name} is suspect: {made.why}")
        click.echo("  whoever records a coat or a defect that met it is warned, until it is cleared:")
        click.echo(f'    finishmatch defect clear "{made.name}" --why TEXT')
    else:
        click.echo(f"  {made.name} is cleared: {made.why}")


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
    listed = list_suspects(history)
    if as_json:
        emit_json(listed.as_dict())
        return
    if not listed.marks:
        click.echo("  nothing was ever marked as suspect" if history else "  nothing is suspect")
    for made in listed.marks:
        job = "" if made.job is None else f", {made.job}"
        click.echo(f"  {made.made_at[:10]}  {made.name}  {made.state}: {made.why}{job}")
