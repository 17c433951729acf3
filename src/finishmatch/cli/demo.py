"""`finishmatch demo`: the whole job on the bundled, invented scenario."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.errors import InputError

EXAMPLE = """\b
Example:
  finishmatch demo --out demo-out
"""


@click.command(epilog=EXAMPLE)
@click.option("--out", default="demo-out", show_default=True, metavar="FOLDER", help="Where the results are written.")
def demo_command(out: str) -> int:
    """Run the whole job on the bundled scenario, whose marque, shop, colour, tints and readings are all invented.

    It tells the story here, writes a page with swatches, plots and the weigh-out, and leaves a ledger in FOLDER that
    one can go on working with. Run it again and another job is opened in that ledger.
    """
    from finishmatch.cli.demo_page import demo_page
    from finishmatch.cli.demo_story import DemoStory
    from finishmatch.dossier.page import render_page
    from finishmatch.readings.scenario import swatches_folder

    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(str(folder), f"can't be made: {error.strerror}", "name another folder with --out") from None
    story = DemoStory(swatches_folder(), folder)
    story.tell()
    page = folder / "match.html"
    from finishmatch.cli.common import stage

    try:
        with stage("drawing the page"):
            page.write_text(render_page(demo_page(story)), encoding="utf-8")
    except OSError as error:
        raise InputError(str(page), f"can't be written: {error.strerror}", "name another folder with --out") from None
    click.echo(f"\n  The page:    {page.resolve()}")
    click.echo(f"  The ledger:  {folder.resolve()}")
    click.echo(f"  Go on with:  FINISHMATCH_HOME={out} finishmatch job show {story.job.ref}")
    return 0
