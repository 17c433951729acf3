"""What the commands share: options, the one JSON object, swatches in a colour terminal, progress."""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields
from typing import Any, TypeVar, cast

import click

from finishmatch.cli.option_names import with_options
from finishmatch.cli.page_width import bare_errors, blocks, page_width, unfolded
from finishmatch.cli.terminal import columns, shows_colour, writes_unicode
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.colour import LIGHTS
from finishmatch.photo.without_place import place_kept
from finishmatch.signs import shown as shown_signs
from finishmatch.steps.cautions_shown import ByTints, cautions_to_show

Command = TypeVar("Command", bound=Callable[..., Any])
Request = TypeVar("Request")

json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
replace_option = click.option(
    "--replace", is_flag=True, help="Write over a file that is there, even one that finishmatch didn't write."
)
detail_option = click.option("--detail", is_flag=True, help="Show the figures behind the answer as well.")
keep_place_option = click.option(
    "--keep-place",
    is_flag=True,
    expose_value=False,
    callback=lambda context, _param, kept: context.with_resource(place_kept(kept)),
    help="Keep photographs in the job with what their files say of place and time.",
)
NEARER, UNDER_A_LAMP = "nearer would tell a photograph of", "under a lamp as well, with the chart: --under A=PHOTO"
under_option = click.option(
    "--under",
    multiple=True,
    metavar="LIGHT=PHOTO",
    help="The same samples in a photograph under a lamp, by the CIE light it is nearest to, as in A=lamp.jpg: their "
    "colours are known nearer by both; repeat it.",
)
chart_option = click.option(
    "--chart",
    metavar="CHART",
    help="The 24-patch chart in the photographs: until-2014 or since-2014, as it was made until or since November of "
    "that year, or a readings file of your own, names 1 to 24.  [default: as registered by photo card --chart]",
)
job_option = click.option("--job", metavar="JOB", help="Record what was found in this job of the ledger.")

LIGHT = f"CIE light ({', '.join(LIGHTS)})"

observer_option = click.option(
    "--observer",
    type=click.Choice(["2", "10"]),
    default="10",
    show_default=True,
    help="CIE observer, degrees.",
    callback=lambda _context, _param, degrees: int(degrees),
)


def light_options(default: Sequence[str]) -> Callable[[Command], Command]:
    """Add --light (repeatable) and --observer to a command."""

    def decorate(command: Command) -> Command:
        command = observer_option(command)
        return click.option(
            "--light",
            "lights",
            multiple=True,
            default=tuple(default),
            help=f"{LIGHT}; repeat for several, the first is the reference.  [default: {', '.join(default)}]",
        )(command)

    return decorate


def gloss_options(with_index: bool) -> Callable[[Command], Command]:
    """Add --gloss to a command, and --binder-index where no bank says it."""

    def decorate(command: Command) -> Command:
        if with_index:
            command = click.option(
                "--binder-index",
                type=NUMBER,
                default=1.5,
                show_default=True,
                metavar="N",
                help="Refractive index of the dry binder, for --gloss.",
            )(command)
        return click.option(
            "--gloss",
            type=NUMBER,
            metavar="GU",
            help="Gloss of the film at 60°, gloss units: a reading of another geometry is converted.",
        )(command)

    return decorate


def _plain(value: Any) -> Any:
    """Turn arrays and numbers into what JSON knows, floats with six decimals; parameters are named by their options."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, str):
        return with_options(value)
    if value is None or isinstance(value, bool):
        return value
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, float):
        return round(value, 6)
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def emit_json(document: dict[str, Any]) -> None:
    """Print one JSON object on standard output."""
    click.echo(json.dumps(_plain(document), allow_nan=False, ensure_ascii=not writes_unicode()), file=unfolded())


NO_THIN_PANELS = "no thin panels: this bank can't tell from which build it hides"


def swatch(hex_colour: str, width: int = 4) -> str:
    """Return a block of a colour for a colour terminal (spaces where the output has no colour)."""
    red, green, blue = (int(hex_colour[i : i + 2], 16) for i in (1, 3, 5))
    return click.style(" " * width, bg=(red, green, blue))


def show_swatches(*named: tuple[str, str]) -> None:
    """Print a block of each colour before its name, in a terminal that shows colours; nothing elsewhere."""
    if shows_colour():
        click.echo("  " + "   ".join(f"{swatch(hex_colour)} {name}" for name, hex_colour in named))


BY_LETDOWN = "letdown"  # stands for what the scale shows of a part that is poured by one


def table(header: Sequence[str], rows: Iterable[Sequence[str]], indent: str = "  ") -> list[str]:
    """Return lines of an aligned table, numbers set right; or of blocks where it is wider than the terminal."""
    body = [list(row) for row in rows]
    lines, width = _aligned(header, body, indent), page_width()
    if width is None or all(len(click.unstyle(line)) <= width for line in lines):
        return lines
    return blocks(header, body, indent, width, swatches=shows_colour())


def _aligned(header: Sequence[str], body: Sequence[Sequence[str]], indent: str) -> list[str]:
    widths = [max(len(click.unstyle(cell)) for cell in column) for column in zip(header, *body, strict=True)]
    right = [all(_numeric(row[i]) for row in body) for i in range(len(header))]

    def line(cells: Sequence[str]) -> str:
        padded = []
        for cell, width, to_right in zip(cells, widths, right, strict=True):
            gap = " " * (width - len(click.unstyle(cell)))
            padded.append(gap + cell if to_right else cell + gap)
        return (indent + "  ".join(padded)).rstrip()

    return [line(header), *(line(row) for row in body)]


def _numeric(cell: str) -> bool:
    return cell in ("", "-", BY_LETDOWN) or cell.lstrip("+-").replace(".", "", 1).replace("%", "", 1).strip().isdigit()


def wrapped(text: str, lead: str, width: int = 112) -> str:
    """Return text wrapped to the page behind a lead, its further lines set under the first where there is room."""
    width = min(width, page_width() or width)
    hang = " " * (len(lead) if len(lead) <= width // 2 else 4)
    return textwrap.fill(text, width, initial_indent=lead, subsequent_indent=hang, break_long_words=False)


def ranges(intervals: Mapping[str, tuple[float, float]]) -> str:
    """Return what a ΔE00 lies within, 95 times in 100, in each light."""
    return "   ".join(f"{light} {low:.1f} to {high:.1f}" for light, (low, high) in intervals.items())


def say_warnings(warnings: Iterable[str]) -> None:
    """Print warnings under a result."""
    for warning in warnings:
        click.echo(f"  note: {with_options(warning)}")


def say_cautions(
    cautions: Iterable[str], job: str | None = None, recorded: Sequence[int] = (), by_tints: ByTints | None = None
) -> None:
    """Print the cautions that bear on what was just shown: in one line those that the job has shown before."""
    shown = cautions_to_show(cautions, job, recorded, by_tints)
    click.echo()
    for caution in shown.full:
        click.echo(f"  ! {caution}")
    if shown.again:
        click.echo(f"  ! as before: {shown.again}")


def say_recorded(job_text: str | None, numbers: Sequence[int]) -> None:
    """Print under which numbers something was recorded."""
    if numbers:
        click.echo(f"  recorded in {job_text} as " + ", ".join(f"#{number}" for number in numbers))


def request_from(request: type[Request], options: Mapping[str, Any]) -> Request:
    """Return the request of a step, made of those options of a command that are fields of it."""
    return request(
        **{field.name: options[field.name] for field in fields(cast("Any", request)) if field.name in options}
    )


@contextmanager
def stage(text: str, quiet: bool = False) -> Iterator[None]:
    """Show on standard error, in a terminal, what is being done while it is done; it is wiped afterwards."""
    shown = not quiet and sys.stderr.isatty()
    text = textwrap.shorten(text, columns() - 8, placeholder=" …")
    if shown:
        click.echo(f"\r  {shown_signs(text)} …", nl=False, file=bare_errors())
    try:
        yield
    finally:
        if shown:
            click.echo("\r" + " " * (len(text) + 6) + "\r", nl=False, file=bare_errors())
