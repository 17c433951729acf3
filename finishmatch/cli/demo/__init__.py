"""`finishmatch demo`: the whole job on the bundled, invented scenario."""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path

import click

from finishmatch.cli.common import emit_json, json_option, stage
from finishmatch.cli.demo.story import show_demo
from finishmatch.dossier.demo_page import render_demo
from finishmatch.errors import InputError
from finishmatch.outputs import write_output
from finishmatch.steps.demo import OUT, PAGE, demo

EXAMPLE = """\b
Example:
  finishmatch demo --out demo-out
"""


@click.command(epilog=EXAMPLE)
@click.option("--out", default=OUT, show_default=True, metavar="FOLDER", help="Where the results are written.")
@json_option
def demo_command(out: str, as_json: bool) -> int:
    """Run the whole job on the bundled scenario, whose marque, shop, colour, tints and readings are all invented.

    Shows the story here, writes a page with swatches, plots and the weigh-out, and leaves a ledger in FOLDER that
    you can go on working with. Run it again and another job is opened in that ledger.
    """
    if not out.strip():
        raise InputError("--out", "is empty", "name a folder")
    folder = Path(out)
    found = demo(folder, progress=stage)
    if not as_json:
        show_demo(found)
    page = folder / PAGE
    with stage("drawing the page"):
        write_output(page, render_demo(found), mend="name another folder with --out")
    if as_json:
        emit_json(found.as_dict() | {"page": str(page.resolve()), "ledger": str(folder.resolve())})
        return 0
    click.echo(f"\n  The page:    {page.resolve()}")
    click.echo(f"  The ledger:  {folder.resolve()}")
    click.echo(f"  Go on with:  FINISHMATCH_HOME={shlex.quote(out)} {_program()} job show {found.job.ref}")
    click.echo(f"  On a page:   {_program()} serve --home {shlex.quote(out)}")
    for what, command in (("The owner's:", "dossier"), ("For the lid:", "label")):
        click.echo(f"  {what} FINISHMATCH_HOME={shlex.quote(out)} {_program()} {command} {found.job.ref}")
    return 0


def _program() -> str:
    """Return how the program is called here: by its name, or by its path where the shell wouldn't find it."""
    called = Path(sys.argv[0])
    if shutil.which("finishmatch") or called.stem != "finishmatch" or not called.exists():
        return "finishmatch"
    return shlex.quote(str(called))
