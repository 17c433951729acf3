"""`finishmatch job show`: the story of a job, and what is open in it."""

from __future__ import annotations

import shutil
import textwrap

import click
import numpy as np

from finishmatch.cautions import MIXING, REWORK, SPRAYING, each_once
from finishmatch.cli.common import emit_json, json_option, say_cautions, say_warnings, swatch
from finishmatch.cli.in_use import InJob
from finishmatch.cli.job.next_command import aside_command, next_command, open_document
from finishmatch.cli.local_time import local_time
from finishmatch.cli.page_width import page_width
from finishmatch.cli.terminal import shows_colour
from finishmatch.colour.display import lab_to_hex
from finishmatch.ledger import Story, StoryLine
from finishmatch.steps.cautions_shown import cautions_by_record, tints_of
from finishmatch.steps.job.next_step import Known
from finishmatch.steps.job.show import JobShown, show_job

# what lies ahead when something hangs on an entry of this kind
_AHEAD = {"batch": SPRAYING, "defect": REWORK, "decision": REWORK, "spray-out": ()}


@click.command(
    "show",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job show J1 --history
""",
)
@click.argument("job", metavar="[JOB]")
@click.option("--history", is_flag=True, help="Show what has been replaced as well, and by what and why.")
@json_option
def show(job: str, history: bool, as_json: bool) -> None:
    """Show the story of JOB in order, and what is open in it."""
    shown = show_job(job, history=history)
    story = shown.story
    if as_json:
        emit_json(shown.as_dict() | {"open": [open_document(story.job, item, shown.known) for item in story.open]})
        return
    _print_story(story, history, shown.known)
    if story.open:
        _say_what_lies_ahead(shown)
    say_warnings(shown.warnings)


def _print_story(story: Story, history: bool, known: Known) -> None:
    job = story.job
    click.echo(click.style(f"{job.ref}  {job.title}", bold=True))
    about = [job.vehicle, job.colour_name, f"opened {local_time(job.made_at)}"]
    click.echo("    " + "; ".join(part for part in about if part))
    for text in job.note.splitlines():
        click.echo(f"    {text}")
    lines = story.lines if history else story.current
    if lines:
        click.echo()
    widths = (max((len(f"#{line.number}") for line in lines), default=0), max((len(x.kind) for x in lines), default=0))
    for line in lines:
        _print_line(line, *widths)
    click.echo()
    if story.aside:
        click.echo(click.style("Set aside", bold=True))
        for part in story.aside:
            click.echo(f"  {part.text}; to go on with it:")
            click.echo(f"      {aside_command(job, part)}")
        click.echo()
    if not lines:
        click.echo("Nothing is recorded yet: the other commands record with --job.")
        return
    if not story.open:
        click.echo("Nothing is open.")
        return
    click.echo(click.style("Open", bold=True))
    for item in story.open:
        click.echo(f"  {item.what}")
        click.echo(f"      {next_command(job, item, known)}")


def _say_what_lies_ahead(shown: JobShown) -> None:
    """Print the cautions of what is open, with those of the tints that are handled then."""
    job, items = shown.story.job.ref, shown.story.open
    of_tints, numbers = cautions_by_record(job), {item.number for item in items}
    handled = [tint for view in shown.entries if view.number in numbers for tint in tints_of(view.entry)]
    ahead = [caution for item in items for caution in _AHEAD.get(item.kind, MIXING)]
    bearing = each_once([*(of_tints(handled) if handled else ()), *ahead])
    say_cautions(bearing, None if shown.history else job, by_tints=of_tints)


def _print_line(line: StoryLine, number_width: int, kind_width: int) -> None:
    head = f"  {f'#{line.number}':<{number_width}}  {local_time(line.made_at)}  {line.kind:<{kind_width}}  "
    block = ""
    if shows_colour():  # else there is no colour to show, and no column is kept for it
        block = " " * 4 + "  "
        if line.lab is not None:
            block = swatch(lab_to_hex(np.array(line.lab))) + "  "
    indent = " " * (len(head) + len(click.unstyle(block)))
    width = shutil.get_terminal_size((100, 24)).columns
    room = max(width - len(indent), 40)
    narrow = len(indent) + room > (page_width() or len(indent) + room)
    if narrow:  # the words stand below what they are of
        indent, room = " " * 6, width - 6
    text = line.text + (f"; from {', '.join(line.files)}" if line.files else "")
    wrapped = textwrap.wrap(text, room, break_on_hyphens=False, break_long_words=False) or [""]
    if narrow:
        click.echo((head + block).rstrip(" "))
    for i, piece in enumerate(wrapped):
        words = click.style(piece, strikethrough=True) if line.struck else piece
        click.echo((head + block if i == 0 and not narrow else indent) + words)
    if line.remark:
        for piece in textwrap.wrap(f"[{line.remark}]", room, break_on_hyphens=False):
            click.echo(indent + piece)
