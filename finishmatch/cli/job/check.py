"""`finishmatch job check`: is the record as it was written?"""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option
from finishmatch.steps.job import check as step


@click.command(
    "check",
    epilog="""\b
Example:
  finishmatch job check

Exit status: 0 everything is as it was written; 1 something is damaged, and what.
""",
)
@json_option
def check_command(as_json: bool) -> int:
    """Look at the whole record: is every entry, and every file that is kept, as it was written?

    Every entry carries a hash of itself and of the one before it in its job. What shows or adds to a job looks at
    that job's; this command looks at all jobs, at the files that are kept, and at the database itself.
    """
    checked = step.check()
    if as_json:
        emit_json(checked.as_dict())
        return 0 if checked.sound else 1
    held = ((checked.jobs, "job", "jobs"), (checked.entries, "entry", "entries"), (checked.files, "file", "files"))
    counts = ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in held)
    click.echo(f"  {checked.ledger}: {counts} kept")
    for job, entry, what in checked.damaged:
        place = f"{job} #{entry}: " if entry is not None else ""
        click.echo(f"  {place}{what}")
    if checked.sound:
        click.echo("  everything is as it was written")
    else:
        click.echo("  put back a backup: finishmatch restore FILE (the damaged record is kept beside it)")
    return 0 if checked.sound else 1
