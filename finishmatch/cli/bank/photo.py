"""`finishmatch bank photo`: drawdowns in photographs become panels of a bank."""

from __future__ import annotations

from typing import Any

import click
import numpy as np

from finishmatch.cli.common import (
    NEARER,
    UNDER_A_LAMP,
    chart_option,
    emit_json,
    json_option,
    replace_option,
    request_from,
    say_warnings,
    stage,
    swatch,
    table,
    under_option,
)
from finishmatch.cli.option_names import with_options
from finishmatch.colour.display import lab_to_hex
from finishmatch.steps.photo.bank_photo import BankPhoto, PanelsRequest, photograph_bank
from finishmatch.steps.progress import quiet

EXAMPLE = """\b
Examples:
  finishmatch bank photo swatches/bank swatches/panels.jpg --panel "3=blue 20/80" --panel "4=blue 5/95"
  finishmatch bank photo swatches/bank swatches/photo.jpg --region "blue 5/95=117,75,90,60"

finishmatch photo card --panels 8 --out panels.pdf writes a sheet with numbered windows. Draw the panels down in them, a
24-patch chart between, and photograph it all; or lay the drawdowns beside a chart, or the shop's card, and say where
they lie. Exit status: 0 read; 1 no photograph can serve, and what to change; 2 the input is wrong.
"""


@click.command("photo", epilog=EXAMPLE)
@click.argument("bank")
@click.argument("image", nargs=-1, required=True)
@click.option(
    "--panel",
    multiple=True,
    metavar="N=PANEL",
    help="The panel of panels.csv in window N of the sheet that is in the photograph; repeat for several.",
)
@click.option(
    "--region",
    multiple=True,
    metavar="[PHOTO:]PANEL=x,y,w,h",
    help="A panel of panels.csv, in pixels from the top left of the upright picture, or of one of them; repeat for "
    "several.",
)
@under_option
@chart_option
@replace_option
@json_option
def photo_command(bank: str, image: tuple[str, ...], as_json: bool, **options: Any) -> int:
    """Read the colours of panels from photographs IMAGE into the bank: a shop needs no instrument for it.

    What was weighed into each panel stands in panels.csv. The colours go into seen.csv, each with its doubt: its own,
    and what it is off by together with others. A photograph that is read again takes its own place.
    """
    request = request_from(PanelsRequest, options)
    found = photograph_bank(bank, image, request, progress=quiet if as_json else stage)
    if as_json:
        emit_json(found.as_dict())
    else:
        _show(found, bool(request.under))
    return 1 if found.why else 0


def _show(found: BankPhoto, under: bool) -> None:
    if found.panels:
        header = ["", "panel", "picture", "L*", "a*", "b*", "within"]
        rows = [
            [
                swatch(lab_to_hex(np.array(panel.lab))),
                panel.panel,
                panel.picture,
                *(f"{value:.1f}" for value in panel.lab),
                f"±{np.hypot(panel.u95, panel.u95_shared):.1f}",
            ]
            for panel in found.panels
        ]
        click.echo("\n".join(table(header, rows)))
        click.echo(f"\n  written into {found.file}")
        if not under:
            click.echo(f"  {NEARER} the panels {UNDER_A_LAMP}")
    if found.unread:
        click.echo(f"  no colour is known yet of: {', '.join(found.unread)}")
    elif found.panels:
        click.echo(f"  every panel is read: finishmatch bank fit {found.file.parent}")
    say_warnings(found.warnings)
    if found.why:
        click.echo(f"  no photograph can serve: {with_options(found.why)}")
