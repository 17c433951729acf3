"""`finishmatch plan air`: dew point, the window of the data sheets, and the day's timetable."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.plan.common import Told, checked_job, paint_cautions, plan_options, tell
from finishmatch.cli.plan.units import Shown, clock_told, minutes_told
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.finish.air import BoothAir
    from finishmatch.finish.timing import Event, Step
    from finishmatch.readings.product_sheet import Product

_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


@click.command(
    "air",
    short_help="Dew point, the sheet's window, the day's timetable.",
    epilog="""\b
Examples:
  finishmatch plan air --temperature 72F --humidity 60%
  finishmatch plan air swatches/plan/surfacer.toml swatches/plan/single-stage.toml --temperature 22C --humidity 55% \\
        --surface 20C --start 08:30

Exit status: 0 when the air will do, 1 when it won't.
""",
)
@click.argument("products", nargs=-1)
@click.option("--temperature", metavar="QUANTITY", required=True, help="Of the booth's air, as 22C or 72F.")
@click.option("--humidity", metavar="SHARE", help="Relative humidity, as 55% or 0.55.")
@click.option("--dew-point", metavar="QUANTITY", help="The dew point, in place of --humidity.")
@click.option("--surface", metavar="QUANTITY", help="Of the panel.  [default: as the air]")
@click.option("--coats", type=click.IntRange(1, 50), help="Coats of each product.  [default: the sheet's, or 1]")
@click.option("--start", metavar="HH:MM", default="08:00", show_default=True, help="When the first coat goes on.")
@click.option("--coat-time", metavar="TIME", help="To spray one coat, as 10min.  [default: 10min]")
@plan_options
def air(
    products: tuple[str, ...],
    temperature: str,
    humidity: str | None,
    dew_point: str | None,
    surface: str | None,
    coats: int | None,
    start: str,
    coat_time: str | None,
    units: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Tell whether the booth's air will do, and when each coat goes on, for data sheets (PRODUCTS) in their order."""
    from finishmatch.finish.air import booth_air
    from finishmatch.finish.timing import Step
    from finishmatch.readings.product_sheet import read_product
    from finishmatch.readings.quantities import TEMPERATURE, TIME, quantity, share

    booth = booth_air(
        quantity("--temperature", temperature, TEMPERATURE),
        None if humidity is None else share("--humidity", humidity),
        None if surface is None else quantity("--surface", surface, TEMPERATURE),
        None if dew_point is None else quantity("--dew-point", dew_point, TEMPERATURE),
    )
    begin = start_minute("--start", start)
    minutes = None if coat_time is None else quantity("--coat-time", coat_time, TIME, above=0)
    sheets = [read_product(Path(path)) for path in products]
    steps = [Step(sheet, coats or sheet.coats or 1) for sheet in sheets]
    checked_job(job)
    return tell(air_told(booth, steps, begin, minutes, Shown(units)), units, job, as_json)


def start_minute(where: str, text: str) -> int:
    """Return the minute of the day of a clock time such as 08:30."""
    found = _CLOCK.fullmatch(text.strip())
    if not found:
        raise InputError(where, f"{text[:40]!r} is not a time of day", "write it as 08:30")
    return 60 * int(found[1]) + int(found[2])


def air_told(booth: BoothAir, steps: Sequence[Step], begin: int, coat_minutes: float | None, shown: Shown) -> Told:
    """Return whether the air will do for the steps, and the timetable of their coats.

    Parameters
    ----------
    booth : BoothAir
    steps : sequence of Step
        None at all tells of the air only.
    begin : int
        Minute of the day of the first coat.
    coat_minutes : float or None
        To spray one coat; that of practice when None.
    shown : Shown
    """
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part
    from finishmatch.finish.air import air_faults
    from finishmatch.finish.practice import common_practice
    from finishmatch.finish.timing import timetable

    each = common_practice().coat_minutes if coat_minutes is None else coat_minutes
    products: list[Product | None] = [*(step.product for step in steps)] or [None]
    faults = list(dict.fromkeys(fault for product in products for fault in air_faults(booth, product)))
    drying_c = min(booth.temperature_c, booth.surface_c)  # the colder of the two sets the pace
    events = timetable(steps, drying_c, each)
    notes = [f"{fault.what}: {fault.mend}" for fault in faults]
    if steps and coat_minutes is None:
        notes.append(f"a coat is taken to take {each:g} min («common practice»): give --coat-time for yours")
    notes += _told_times(steps, events, booth.temperature_c)
    rows = tuple(
        (
            clock_told(begin, event.minute),
            event.product,
            event.what + ("" if event.until is None else f", not after {clock_told(begin, event.until)}"),
            _short(event.how),
        )
        for event in events
    )
    verdict = "The air won't do" if faults else "The air will do"
    part = Part(
        heading="Booth air and the day",
        answer=f"{verdict}: {shown.temperature(booth.temperature_c)} at "
        f"{100 * booth.humidity:.0f} % humidity, the panel {shown.warmer(booth.margin_c)} above the dew point",
        lines=(
            ("dew point", shown.temperature(booth.dew_point_c)),
            ("panel", shown.temperature(booth.surface_c)),
        ),
        tables=(Table("", ("time", "paint", "what", "wait by"), rows),) if rows else (),
        notes=tuple(notes),
    )
    document = {
        "air": {
            "temperature_c": booth.temperature_c,
            "humidity": booth.humidity,
            "surface_c": booth.surface_c,
            "dew_point_c": booth.dew_point_c,
            "margin_c": booth.margin_c,
        },
        "fit": not faults,
        "faults": [{"what": fault.what, "mend": fault.mend} for fault in faults],
        "timetable": [_event_document(event, begin) for event in events],
        "warnings": notes,
    }
    return Told(
        "air",
        part,
        document,
        {"temperature_c": booth.temperature_c, "humidity": booth.humidity, "dew_point_c": booth.dew_point_c},
        yes=not faults,
        cautions=paint_cautions([step.product for step in steps]),
        sources=tuple(step.product.source for step in steps if step.product.source is not None),
    )


def _event_document(event: Event, begin: int) -> dict[str, Any]:
    return {
        "minute": event.minute,
        "clock": clock_told(begin, event.minute),
        "product": event.product,
        "what": event.what,
        "until": None if event.until is None else clock_told(begin, event.until),
        "how": event.how,
    }


def _short(how: str) -> str:
    from finishmatch.finish.timing import BETWEEN, PRACTICE, SCALED, SHEET

    return {"": "", SHEET: "sheet", BETWEEN: "sheet, between", SCALED: "sheet, scaled", PRACTICE: "practice"}[how]


def _told_times(steps: Sequence[Step], events: Sequence[Event], temperature_c: float) -> list[str]:
    """Return what is to be said of pot lives and of waits that aren't the sheet's."""
    from finishmatch.finish.timing import PRACTICE, SCALED, at_temperature

    notes = []
    for step in steps:
        pot = at_temperature(step.product.pot_life, temperature_c)
        if pot is not None:
            notes.append(f"{step.product.name}: pot life {minutes_told(pot.minutes)} ({pot.how})")
    used = {event.how for event in events}
    if SCALED in used:
        notes.append(
            "scaled: the sheet's time, halved for each 10 °C warmer («common practice»); the sheet comes first"
        )
    if PRACTICE in used:
        notes.append("practice: a wait that the data sheet given doesn't tell; look it up")
    return notes
