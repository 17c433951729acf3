"""`finishmatch restore`: a backup takes the place of the record."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cli.backup import counted
from finishmatch.cli.common import emit_json, json_option
from finishmatch.steps.backup.put_back import put_back

EXAMPLE = """\b
Example:
  finishmatch backup record.zip
  finishmatch restore record.zip

Exit status: 0 done; 2 nothing was replaced, and why.
"""


@click.command(epilog=EXAMPLE)
@click.argument("file", type=click.Path(path_type=Path))
@json_option
def restore_command(file: Path, as_json: bool) -> None:
    """Put the record of FILE, which backup wrote, in the place of the one here; that one is kept.

    Nothing is replaced before all of FILE is verified: every file by its hash, the database by its own check, every
    entry by its hash. A backup of an earlier version of the program is brought up to date.
    """
    found = put_back(file)
    if as_json:
        emit_json(found.as_dict())
        return
    made = found.listed.made_at[:16].replace("T", " ")
    click.echo(f"  {found.home}: {counted(found.listed)}, as of {made} UTC")
    if found.kept is not None and found.kept_damaged:
        click.echo(f"  the damaged record that stood there: {found.kept}")
    elif found.kept is not None:
        click.echo(f"  what stood there is kept: {found.kept}")
