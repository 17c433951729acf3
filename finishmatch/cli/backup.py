"""`finishmatch backup`: the whole record in one file."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cli.common import emit_json, json_option, replace_option
from finishmatch.steps.backup.back_up import back_up
from finishmatch.steps.backup.backup_file import BackupList

EXAMPLE = """\b
Example:
  finishmatch backup record.zip

Exit status: 0 done; 2 nothing was written, and why.
"""


def counted(listed: BackupList) -> str:
    """Return what a backup holds, in words."""
    counts = ((listed.jobs, "job", "jobs"), (listed.entries, "entry", "entries"))
    parts = [f"{count} {one if count == 1 else many}" for count, one, many in counts]
    beside = len(listed.beside)
    return ", ".join(parts + ([f"{beside} file{'s' if beside > 1 else ''} beside"] if beside else []))


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 1e6 else f"{count / 1e3:.0f} kB"


@click.command(epilog=EXAMPLE)
@click.argument("file", type=click.Path(path_type=Path))
@replace_option
@json_option
def backup_command(file: Path, replace: bool, as_json: bool) -> None:
    """Write the whole record into FILE, as it stands at one moment; others may go on writing in it.

    In it are the ledger with all its files, the shop's cards, tables and figures, and which job is in use. Where FILE
    is a folder, the backup gets a name by the time. An earlier backup of that name is replaced, another file isn't.
    """
    found = back_up(file, replace=replace)
    if as_json:
        emit_json(found.as_dict())
        return
    click.echo(f"  {found.file}: {counted(found.listed)}, {_size(found.size)}")
    click.echo(f"  put it back with: finishmatch restore {found.file}")
