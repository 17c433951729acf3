"""`finishmatch find`: have we matched this before?"""

from __future__ import annotations

import click
import numpy as np

from finishmatch.cli.common import emit_json, json_option, light_options, show_swatches, stage, wrapped
from finishmatch.cli.terminal import columns
from finishmatch.cli.typed_numbers import NUMBER
from finishmatch.colour.display import lab_to_hex
from finishmatch.ledger import describe_parts
from finishmatch.steps.colour_inputs import LIGHTS
from finishmatch.steps.find import KINDS, FindRequest, Found, FoundColour, find
from finishmatch.steps.progress import quiet

EXAMPLE = """\b
Examples:
  finishmatch find 45.2,-5.0,-15.2
  finishmatch find swatches/target.csv --within 2
  finishmatch find J1

Exit status: 0 when something was found, 1 when nothing was.
"""


@click.command(epilog=EXAMPLE)
@click.argument("colour")
@click.option("--most", type=int, default=10, show_default=True, metavar="N", help="How many are shown, nearest first.")
@click.option("--within", type=NUMBER, metavar="DE00", help="Show none that lies further off, ΔE00 in the first light.")
@light_options(LIGHTS)
@json_option
def find_command(
    colour: str, most: int, within: float | None, lights: tuple[str, ...], observer: int, as_json: bool
) -> int:
    """Find the earlier targets, formulas and cards that lie nearest to COLOUR: L,a,b, a readings file, or a job.

    All jobs of the record are looked through, imported ones too. Of a job its target is meant, and its own colours are
    left out.
    """
    found = find(colour, FindRequest(lights, observer, most, within), progress=quiet if as_json else stage)
    if as_json:
        emit_json(found.as_dict())
    else:
        _show(found, within)
    return 0 if found.found else 1


def _show(found: Found, within: float | None) -> None:
    for one in found.found:
        click.echo(wrapped(_line(one), "  ", columns()))
    if found.found:
        nearest = found.found[0]
        wanted = lab_to_hex(found.wanted.lab_in(found.wanted.light, found.wanted.observer))
        show_swatches((found.wanted.name, wanted), (nearest.called, lab_to_hex(np.array(nearest.colour.lab))))
    mixed = [one for one in found.found if one.formula is not None]
    if mixed:
        click.echo(f"\n  to start from what was mixed there: finishmatch mix COLOUR --like {mixed[0].job.ref}")
    if not found.found:
        none = "the record holds no other colour that can be compared"
        click.echo(f"  {none if within is None else 'nothing in the record lies so near'}")
    if found.not_compared:
        click.echo(f"  note: {found.not_compared} of {found.looked_through} are known in another light alone: left out")
    for warning in found.warnings:
        click.echo(wrapped(f"note: {warning}", "  ", columns()))


def _line(one: FoundColour) -> str:
    lights = "  ".join(f"{light} {de:.2f}" for light, de in one.lights.items())
    mixed = "nothing mixed" if one.formula is None else describe_parts(one.formula.pairs)
    came = "" if one.came_within is None else f"; its last card came within ΔE00 {one.came_within:.2f} of its target"
    which = f"{one.job.ref} #{one.colour.number} {KINDS[one.colour.kind]} {one.called}".rstrip()
    return f"{which}: ΔE00 {lights}; {one.job.title}: {mixed}{came}"
