"""`finishmatch ledger move`: the record moves onto a server, or back into a folder."""

from __future__ import annotations

from pathlib import Path

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
@click.argument("old")
@click.argument("new")
@json_option
def move_command(old: str, new: str, as_json: bool) -> None:
    """Copy the record of OLD to NEW, and see that both are equal.

    OLD and NEW are the folder of a ledger, or an address as postgresql://USER@HOST/DATABASE. Leave the password out of
    it: whoever sees the list of programs sees it; the file .pgpass of your home folder keeps it. NEW must be empty.
    Nobody can record in OLD meanwhile. OLD stays as it is.
    """
    moved = move_record(old, new)
    if as_json:
        emit_json(moved.as_dict())
        return
    jobs, entries = moved.rows("job"), moved.rows("entry")
    counts = ((jobs, "job", "jobs"), (entries, "entry", "entries"), (moved.files, "file", "files"))
    held = ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in counts)
    click.echo(f"  {moved.target}: {held}")
    click.echo("  equal to what it was: every row of every table, every hash")
    on_server = "://" in moved.target
    name, place = ("LEDGER", moved.target) if on_server else ("HOME", str(Path(moved.target).parent))
    click.echo(f"  work in it with: export FINISHMATCH_{name}={place}")
    click.echo(f"  what is in {moved.source} stays; record no more there")
