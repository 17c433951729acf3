"""`finishmatch job film`: build readings of one layer of a panel are recorded."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.cli.common import json_option
from finishmatch.cli.in_use import InJob, needed_without
from finishmatch.cli.recording import replace_options, say_or_emit
from finishmatch.errors import InputError
from finishmatch.readings.plain_number import plain_number
from finishmatch.readings.quantities import BUILD, carries_unit, quantity
from finishmatch.steps.job import film as step
from finishmatch.steps.record import InPlaceOf
from finishmatch.understood import understood


@click.command(
    "film",
    cls=InJob,
    epilog="""\b
Example:
  finishmatch job film J1 --panel roof --layer primer --position 1 --build 62 --build 58,60
  finishmatch job film J1 --panel roof --layer "colour coat" --build 41,44,39
""",
)
@click.argument("job", metavar="[JOB]")
@click.option("--panel", metavar="TEXT", help="The panel, for example roof.")
@click.option("--layer", metavar="TEXT", help="The layer, for example primer.")
@click.option(
    "--build",
    "builds",
    metavar="UM",
    multiple=True,
    help="Build of this layer alone, µm; repeat, or separate them by commas.",
)
@click.option(
    "--place",
    "places",
    metavar="TEXT",
    multiple=True,
    help="Where on the panel, in words or as X/Y in mm (120/340); once for each --build reading, in order.",
)
@click.option(
    "--position",
    metavar="N",
    type=click.IntRange(min=1, max=99),
    help="Counted from the metal up, 1 lies on it [default: on top of the panel's layers, or the layer's own].",
)
@replace_options
@json_option
def film(
    job: str,
    panel: str | None,
    layer: str | None,
    builds: Sequence[str],
    places: Sequence[str],
    position: int | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record in JOB the build readings of one layer of a panel, in µm.

    What isn't given of an entry that is replaced is kept of it.
    """
    needed_without(supersedes, "panel", "layer", "builds")
    numbers = [number for text in builds for number in _builds(text)]
    in_place_of = InPlaceOf(supersedes, why)
    recorded = step.film(job, panel, layer, numbers, places=places, position=position, in_place_of=in_place_of)
    say_or_emit(recorded, as_json)


def _builds(text: str) -> list[float]:
    where, parts, numbers = f"--build '{text[:40]}'", text.split(","), []
    with_unit = [carries_unit(part) for part in parts]
    if any(with_unit) and not all(with_unit):  # 2,3 mil: one build or two
        mend = "write it behind each, as in 2mil,3mil, and a decimal comma as a point, as in 2.3mil"
        raise InputError(where, "some of its builds have a unit and some have none", mend)
    for part in parts:
        if any(with_unit):
            number = quantity(where, part, BUILD)
            understood(where, f"{part.strip()[:20]!r} is read as {number:.6g}", "a unit")
        else:
            try:
                number = plain_number(part)
            except ValueError:
                raise InputError(where, f"'{part.strip()[:40]}' is not a number", "give µm, as in 62,58") from None
        step.check_build(where, number)
        numbers.append(number)
    return numbers
