"""`finishmatch demo`: the whole job on the bundled, invented scenario."""

from __future__ import annotations

import io
import shlex
import shutil
import sys
import tempfile
from contextlib import nullcontext, redirect_stdout
from pathlib import Path

import click

from finishmatch.cli.common import emit_json, json_option
from finishmatch.errors import InputError
from finishmatch.files import write_file

EXAMPLE = """\b
Example:
  finishmatch demo --out demo-out
"""


@click.command(epilog=EXAMPLE)
@click.option("--out", default="demo-out", show_default=True, metavar="FOLDER", help="Where the results are written.")
@json_option
def demo_command(out: str, as_json: bool) -> int:
    """Run the whole job on the bundled scenario, whose marque, shop, colour, tints and readings are all invented.

    It tells the story here, writes a page with swatches, plots and the weigh-out, and leaves a ledger in FOLDER that
    one can go on working with. Run it again and another job is opened in that ledger.
    """
    from finishmatch.cli.common import stage
    from finishmatch.cli.demo.page import demo_page
    from finishmatch.cli.demo.story import DemoStory
    from finishmatch.dossier.match_page import render_page
    from finishmatch.readings.scenario import swatches_folder
    from finishmatch.steps.bank import keep_fit

    if not out.strip():
        raise InputError("--out", "is empty", "name a folder")
    folder = Path(out)
    page = folder / "match.html"
    _prepare(folder, page)
    story = DemoStory(swatches_folder(), folder)
    with redirect_stdout(io.StringIO()) if as_json else nullcontext():
        story.tell()
    keep_fit(story.fitted)
    with stage("drawing the page"):
        write_file(page, render_page(demo_page(story)), mend="name another folder with --out")
    if as_json:
        emit_json(story.as_document() | {"page": str(page.resolve()), "ledger": str(folder.resolve())})
        return 0
    click.echo(f"\n  The page:    {page.resolve()}")
    click.echo(f"  The ledger:  {folder.resolve()}")
    click.echo(f"  Go on with:  FINISHMATCH_HOME={shlex.quote(out)} {_program()} job show {story.job.ref}")
    return 0


def _program() -> str:
    """Return how the program is called here: by its name, or by its path where the shell wouldn't find it."""
    called = Path(sys.argv[0])
    if shutil.which("finishmatch") or called.stem != "finishmatch" or not called.exists():
        return "finishmatch"
    return shlex.quote(str(called))


def _prepare(folder: Path, page: Path) -> None:
    """Make the folder, and see that everything in it can be written before the first thing is."""
    from finishmatch.ledger import ledger_exists, open_ledger

    another = "name another folder with --out"
    bank = folder / "bank"
    try:
        if bank.exists() and not bank.is_dir():
            raise InputError(str(bank), "is a file where the demo's bank should be", another)
        if page.is_dir():
            raise InputError(str(page), "is a folder where the demo's page should be", another)
        folder.mkdir(parents=True, exist_ok=True)
        for place in (folder, bank) if bank.exists() else (folder,):
            tempfile.TemporaryFile(dir=place).close()
    except OSError as error:
        raise InputError(str(folder), f"can't be written: {error.strerror}", another) from None
    if ledger_exists(folder):
        with open_ledger(folder, create=False):
            pass
