"""`finishmatch ledger move`: the record moves onto a server, or back into a folder."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option
from finishmatch.steps.backup.move_record import move_record


@click.command(
    "move",
    epilog="""\b
Example:
  finishmatch ledger move demo-out moved

Exit status: 0 done; 2 nothing was moved, and why.
""",
)
@click.argument("source", metavar="FROM")
@click.argument("target", metavar="TO")
@json_option
def move_command(source: str, target: str, as_json: bool) -> None:
    """Copy the record of FROM to TO, and see that both are equal.

    FROM and TO are the folder of a ledger, or an address as postgresql://USER@HOST/DATABASE. Leave the password out of
    it: whoever sees the list of programs sees it; the file .pgpass of your home folder keeps it. TO must be empty.
    Nobody can record in FROM meanwhile. FROM stays as it is.
    """
    moved = move_record(source, target)
    if as_json:
        emit_json(moved.as_dict())
        return
    jobs, entries = moved.rows("job"), moved.rows("entry")
    counts = ((jobs, "job", "jobs"), (entries, "entry", "entries"), (moved.files, "file", "files"))
    held = ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in counts)
    click.echo(f"  {moved.target}: {held}")
    click.echo("  equal to what it was: every row of every table, every hash")
    name, place = ("FINISHMATCH_LEDGER", moved.target) if "://" in moved.target else ("FINISHMATCH_HOME", target)
    click.echo(f"  work in it with: export {name}={place}")
    click.echo(f"  what is in {moved.source} stays; record no more there")
