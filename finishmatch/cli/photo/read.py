"""`finishmatch photo read`: colours from photographs with a 24-patch chart in them."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import Any

import click

from finishmatch.cli.common import (
    NEARER,
    UNDER_A_LAMP,
    chart_option,
    emit_json,
    job_option,
    json_option,
    keep_place_option,
    observer_option,
    replace_option,
    request_from,
    say_recorded,
    say_warnings,
    stage,
    swatch,
    table,
    under_option,
)
from finishmatch.cli.option_names import with_options
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.colour.display import lab_to_hex
from finishmatch.photo.combine import CombinedRegion
from finishmatch.photo.open.picture import RAW
from finishmatch.steps.photo.photo_read import PhotoRead
from finishmatch.steps.photo.read_photo import PhotoRequest, read_photo
from finishmatch.steps.progress import quiet

EXAMPLE = """\b
Examples:
  finishmatch photo read swatches/photo.jpg
  finishmatch photo read swatches/photo.jpg --region "tin=117,75,90,60" --region "card 1=303,75,90,60" --light A
  finishmatch photo read swatches/photo.jpg --save readings.csv --overlay seen.png

Lay a 24-patch chart beside the samples and photograph both together. Exit status: 0 read; 1 the photograph can't
serve, and what to change; 2 the input is wrong.
"""

_TO_WEIGH = (
    "to weigh them for a target, save them too (--save evidence.csv), say what each is in a column kind (finishmatch "
    "evidence kinds), then: finishmatch evidence weigh evidence.csv"
)


@click.command("read", epilog=EXAMPLE)
@click.argument("image", nargs=-1, required=True)
@click.option(
    "--region",
    multiple=True,
    metavar="[PHOTO:]NAME=x,y,w,h",
    help="A sample, in pixels from the top left of the upright picture, or of one of them; repeat for several. Without "
    "it those in the windows of the shop's card, or beside the chart, are found.",
)
@under_option
@click.option("--skip-patch", type=int, multiple=True, metavar="N", help="Leave a dirty patch out, 1 to 24; repeat it.")
@chart_option
@click.option("--light", default="D65", show_default=True, help="CIE light the colours are given for.")
@observer_option
@click.option(
    "--within",
    type=NUMBER,
    default=0.5,
    show_default=True,
    help="With several photographs: the ΔE00 for which the number needed is given.",
)
@click.option(
    "--save",
    metavar="FILE",
    help="Write the colours as a readings file, for compare, mix and evidence; a card is judged by a photograph that "
    "shows it beside its standard.",
)
@click.option("--overlay", metavar="FILE", help="Write a picture (.png, .jpg) of where chart and samples were found.")
@replace_option
@job_option
@keep_place_option
@json_option
def read_command(image: tuple[str, ...], job: str | None, as_json: bool, **options: Any) -> int:
    """Read the colours of samples from photographs IMAGE that have a 24-patch chart in them.

    Several photographs of the same samples are combined.
    """
    request = request_from(PhotoRequest, options)
    read = read_photo(image, request, job=job, progress=quiet if as_json else stage)
    if as_json:
        emit_json(read.as_dict())
    else:
        _show(read)
        if request.save is not None and not read.why:
            click.echo(f"  saved in {request.save}; for example: {_example(str(request.save), read.regions)}")
            if read.chart.found and not read.chart.printed and not read.lamps:
                click.echo(f"  {NEARER} the samples {UNDER_A_LAMP}")
        if request.overlay is not None:
            click.echo(f"  drawn in {request.overlay}")
        say_recorded(job, read.recorded)
        if read.recorded and request.save is None:
            click.echo(f"  {_TO_WEIGH}")
    return 1 if read.why else 0


def _show(read: PhotoRead) -> None:
    chart, several = read.chart, len(read.photographs) > 1
    for one in read.lamps_used:
        click.echo(f"  {one.picture.source.name}, under {one.light}, is read with it")
    if chart.left_out_median is not None:
        many = f"; {len(read.photographs)} photographs" if several else ""
        made = f" (as {chart.as_made})" if chart.made else ""
        what = f"chart found{made}" if chart.found else "no chart; the card's registered print serves"
        click.echo(
            f"  {what}, {chart.patches_used} patches used; each left out in turn: ΔE00 {chart.left_out_median:.2f} "
            f"(median), 90 in 100 within {chart.left_out_p90:.2f}{many}"
        )
    raw = sum(one.picture.kind == RAW for one in read.photographs)
    if raw:
        which = f"{raw} of the {len(read.photographs)} photographs are raw" if several else "raw"
        click.echo(f"  {which}: the sensor's own values, without the camera's tone curve or sharpening")
    if read.regions:
        _show_regions(read, several)
    if read.differences:
        pairs = [(f"{one.trial} against {one.standard}", one) for one in read.differences]
        rows = [[pair, f"{one.de00:.2f}", f"±{one.u95:.2f}"] for pair, one in pairs]
        click.echo()
        click.echo("\n".join(table(["in one photograph", "ΔE00", "95 in 100"], rows)))
        click.echo("  Samples under one light are compared far more reliably than either is known by itself.")
    say_warnings(read.warnings)
    if read.why:
        who = "None can" if several else "This photograph can't"
        click.echo(f"  {who} serve: {with_options(read.why)}")
        if any(one.card is not None and one.reference is None and one.chart is None for one in read.photographs):
            click.echo("  A print is registered with: finishmatch photo card --register FILE")


def _show_regions(read: PhotoRead, several: bool) -> None:
    header = ["", f"{read.light}, {read.observer}°", "L*", "a*", "b*", "ΔE00, 95 in 100", "set aside"]
    rows = []
    for region in read.regions:
        row = [swatch(lab_to_hex(region.lab)), region.name, *(f"{value:.1f}" for value in region.lab)]
        row += [f"±{region.u95:.1f}", f"{100 * region.rejected:.0f} %"]
        if several:
            spread = "-" if region.spread_de00 is None else f"{region.spread_de00:.2f}"
            row += [str(len(region.labs)), spread, "-" if region.needed is None else str(region.needed)]
        rows.append(row)
    if several:
        header += ["photographs", "spread", "needed"]
    rows += [["", one.name, "-", "-", "-", "lost", *["-"] * (len(header) - 6)] for one in read.lost]
    click.echo()
    click.echo("\n".join(table(header, rows)))


def _example(save: str, found: Sequence[CombinedRegion]) -> str:
    if len(found) == 1:
        return f"finishmatch mix {shlex.quote(save)} --bank BANK --grams G"
    return " ".join(["finishmatch compare", *(shlex.quote(f"{save}@{region.name}") for region in found[:2])])
