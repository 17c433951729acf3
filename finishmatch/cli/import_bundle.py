"""`finishmatch import`: a job that was exported elsewhere is taken into this record."""

from __future__ import annotations

from dataclasses import replace

import click

from finishmatch.cli.common import emit_json, json_option, say_warnings
from finishmatch.cli.job.use import use
from finishmatch.cli.option_names import with_options
from finishmatch.steps.handover.take_in import import_job

EXAMPLE = """\b
Example:
  finishmatch import J1.zip
"""


@click.command(epilog=EXAMPLE)
@click.argument("file")
@json_option
def import_command(file: str, as_json: bool) -> None:
    """Take the job of FILE, which export wrote, into this record, equal to what it was.

    It gets a ref of its own here. Its history and every hash stay; a bundle in which anything was changed is refused.
    """
    found = import_job(file)
    found = replace(found, warnings=tuple(with_options(warning, use) for warning in found.warnings))
    if as_json:
        emit_json(found.as_dict())
        return
    click.echo(f"{found.job.ref}  {found.job.title}")
    click.echo(f"  imported: {found.entries} entries, {found.files} files; it was {found.ref_there} there")
    click.echo(f"  seal {found.seal}")
    click.echo(f"  read it with: finishmatch job show {found.job.ref}")
    say_warnings(found.warnings)
