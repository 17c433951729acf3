"""`finishmatch job strike`: an entry is struck, or restored."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.cli.common import emit_json, json_option, say_warnings, wrapped
from finishmatch.cli.in_use import InJob
from finishmatch.cli.terminal import columns
from finishmatch.errors import InputError
from finishmatch.ledger import EntryView, describe_entry, kind_word
from finishmatch.readings.plain_number import counted
from finishmatch.steps.job.strike import Struck
from finishmatch.steps.job.strike import strike as strike_entry


@click.command(
    "strike",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job strike J1 2 --why "entered twice"
""",
)
@click.argument("job", metavar="[JOB]")
@click.argument("n")
@click.option("--why", metavar="TEXT", default="", help="The reason; needed.")
@json_option
def strike(job: str, n: str, why: str, as_json: bool) -> None:
    """Strike entry N of JOB: it stays in the history and is gone from all that counts.

    Any kind of entry can be struck. What rests on it falls with it, and what it had replaced stands again. Striking a
    strike restores the entry.
    """
    try:
        number = counted(n.strip().removeprefix("#"))
    except ValueError:
        what, mend = "is not the number of an entry", "give it as shown, for example 15"
        raise InputError(f"N {n[:40]!r}", what, mend) from None
    struck = strike_entry(job, number, why)
    if as_json:
        emit_json(struck.as_dict())
    else:
        _show(struck)


def _show(struck: Struck) -> None:
    verb = "restored" if struck.restored else "struck"
    view = struck.struck
    width = columns()
    click.echo(wrapped(f"{struck.job.ref} {struck.job.title}: {verb} {kind_word(view.kind)} #{view.number}", "", width))
    click.echo(wrapped(describe_entry(view.entry), "  ", width))
    if not struck.restored and not struck.stand_again and view.supersedes is None:
        click.echo("  it stays in the history, and counts no more")
    _say(struck.fell, "falls with it", "fall with it", width)
    _say(struck.stand_again, "counts again", "count again", width)
    if not struck.restored:
        click.echo(f"  to restore it:\n  finishmatch job strike {struck.job.ref} {struck.strike.number} --why TEXT")
    say_warnings(struck.warnings)


def _say(views: Sequence[EntryView], one: str, several: str, width: int) -> None:
    if views:
        named = ", ".join(f"{kind_word(view.kind)} #{view.number}" for view in views)
        click.echo(wrapped(f"{named} {one if len(views) == 1 else several}", "  ", width))
