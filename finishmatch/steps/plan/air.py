"""Whether the booth's air will do, and when each coat goes on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from finishmatch.errors import InputError
from finishmatch.finish.air import AirFault, BoothAir, air_faults, booth_air
from finishmatch.finish.spraying_figures import common_spraying_figures
from finishmatch.finish.timing import PRACTICE, SCALED, Event, PaintCoats, at_temperature, timetable
from finishmatch.readings.product_sheet import Product, read_product
from finishmatch.steps.plan.planned import Planned, paint_cautions, recorded
from finishmatch.steps.plan.units import Units, clock_time, duration
from finishmatch.steps.record import check_job

_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


@dataclass(frozen=True)
class AirRequest:
    """The booth, and the paints of the day.

    Parameters
    ----------
    temperature_c : float
        Of the air.
    humidity, dew_point_c : float or None
        Relative humidity 0 to 1, or the dew point, one of them.
    surface_c : float or None
        Of the panel; the same as the air when None.
    products : tuple of Path or PaintCoats
        Data sheets in the order they go on, or paints with their coats.
    coats : int or None
        Of each data sheet; the sheet's, or 1, when None.
    start_minute : int
        Of the day, when the first coat goes on.
    coat_minutes : float or None
        To spray one coat; that of practice when None.
    """

    temperature_c: float
    humidity: float | None = None
    dew_point_c: float | None = None
    surface_c: float | None = None
    products: tuple[Path | PaintCoats, ...] = ()
    coats: int | None = None
    start_minute: int = 8 * 60
    coat_minutes: float | None = None


@dataclass(frozen=True, kw_only=True)
class PlannedAir(Planned):
    """Whether the booth's air will do, what is against it, and the timetable of the coats from `start_minute` on.

    `window_unknown` names the paints whose sheet gives no window of temperature ("the paint" without a sheet).
    """

    about: ClassVar[str] = "air"
    booth: BoothAir
    faults: tuple[AirFault, ...]
    events: tuple[Event, ...]
    start_minute: int
    window_unknown: tuple[str, ...] = ()

    @property
    def figures(self) -> dict[str, float]:
        """What the ledger keeps."""
        booth = self.booth
        return {"temperature_c": booth.temperature_c, "humidity": booth.humidity, "dew_point_c": booth.dew_point_c}

    def clock(self, minute: float) -> str:
        """Return the time of day at a minute from the start."""
        return clock_time(self.start_minute, minute)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        booth = self.booth
        events = [
            {
                "minute": event.minute,
                "clock": self.clock(event.minute),
                "product": event.product,
                "what": event.what,
                "until": None if event.until is None else self.clock(event.until),
                "latest_unknown": event.latest_unknown,
                "how": event.how,
            }
            for event in self.events
        ]
        return {
            "air": {
                "temperature_c": booth.temperature_c,
                "humidity": booth.humidity,
                "surface_c": booth.surface_c,
                "dew_point_c": booth.dew_point_c,
                "margin_c": booth.margin_c,
            },
            "fit": self.yes,
            "window_unknown": list(self.window_unknown),
            "faults": [{"what": fault.what, "mend": fault.mend} for fault in self.faults],
            "timetable": events,
            "warnings": list(self.notes),
        }


def minute_of_day(where: str, text: str) -> int:
    """Return the minute of the day of a time such as 08:30; `where` it stands is for the message."""
    found = _CLOCK.fullmatch(text.strip())
    if not found:
        raise InputError(where, f"{text[:40]!r} is not a time of day", "write it as 08:30")
    return 60 * int(found[1]) + int(found[2])


def plan_air(request: AirRequest, *, units: str = "both", job: str | None = None) -> PlannedAir:
    """Return whether the booth's air will do for the paints, and the timetable of their coats.

    Parameters
    ----------
    request : AirRequest
    units : str
        Of the answer: "both", "metric" or "us".
    job : str or None
        Record it in this job of the ledger.

    Raises
    ------
    InputError
        Air that can't be, a panel below the dew point.
    """
    booth = booth_air(request.temperature_c, request.humidity, request.surface_c, request.dew_point_c)
    paints = [_with_coats(one, request.coats) for one in request.products]
    check_job(job)
    minutes = common_spraying_figures().coat_minutes if request.coat_minutes is None else request.coat_minutes
    products: list[Product | None] = [*(paint.product for paint in paints)] or [None]
    faults = tuple(dict.fromkeys(fault for product in products for fault in air_faults(booth, product)))
    drying_c = min(booth.temperature_c, booth.surface_c)  # the colder of the two sets the pace
    events = timetable(paints, drying_c, minutes, max(booth.temperature_c, booth.surface_c))
    unknown = _without_window(paints)
    notes = [f"{fault.what}: {fault.mend}" for fault in faults]
    notes += _window_notes(paints, unknown, drying_c)
    if paints and request.coat_minutes is None:
        notes.append(f"a coat is assumed to take {minutes:g} min («common practice»); time yours and give that")
    shown, verdict = Units(units), "The air won't do" if faults else "The air will do"
    if unknown and not faults:
        verdict = "Whether the air will do isn't known"
    found = PlannedAir(
        answer=f"{verdict}: {shown.temperature(booth.temperature_c)} at "
        f"{100 * booth.humidity:.0f} % humidity, the panel {shown.warmer(booth.margin_c)} above the dew point",
        notes=(*notes, *_time_notes(paints, events, booth.temperature_c)),
        yes=not faults,
        cautions=paint_cautions([paint.product for paint in paints]),
        sources=tuple(paint.product.source for paint in paints if paint.product.source is not None),
        booth=booth,
        faults=faults,
        events=events,
        start_minute=request.start_minute,
        window_unknown=unknown,
    )
    return recorded(job, found)


def _with_coats(paint: Path | PaintCoats, coats: int | None) -> PaintCoats:
    if isinstance(paint, PaintCoats):
        return paint
    sheet = read_product(paint)
    return PaintCoats(sheet, coats or sheet.coats or 1)


def _without_window(paints: Sequence[PaintCoats]) -> tuple[str, ...]:
    """Return the paints whose sheet gives no window of temperature; "the paint" without a sheet."""
    if not paints:
        return ("the paint",)
    return tuple(paint.product.name for paint in paints if paint.product.temperature_c is None)


def _window_notes(paints: Sequence[PaintCoats], unknown: Sequence[str], coldest_c: float) -> list[str]:
    """Return what is to be said where a window isn't known, with what two-pack commonly wants."""
    if not unknown:
        return []
    least = common_spraying_figures().two_pack_c
    notes = [
        f"from what temperature {' and '.join(unknown)} may be sprayed isn't known: look at the data sheet; two-pack "
        f"commonly wants {least:g} °C and more («common practice»)"
    ]
    silent = [paint.product for paint in paints if paint.product.temperature_c is None]
    if coldest_c < least and (not paints or any(one.two_pack is not False for one in silent)):
        notes.append(f"{coldest_c:.1f} °C is colder than that: two-pack may not cure")
    return notes


def _time_notes(paints: Sequence[PaintCoats], events: Sequence[Event], temperature_c: float) -> list[str]:
    """Return what is to be said of pot lives and of waits that aren't the sheet's."""
    notes = []
    for paint in paints:
        pot = at_temperature(paint.product.pot_life, temperature_c)
        if pot is not None:
            notes.append(f"{paint.product.name}: pot life {duration(pot.minutes)} ({pot.how})")
    for event in events:
        if event.latest_unknown:
            notes.append(
                f"{event.product}: by when it must go on isn't known: the sheet of what lies below gives no latest"
            )
        if event.too_late:
            notes.append(f"{event.product}: comes after the latest time: sand what lies below first, as its sheet says")
    used = {event.how for event in events}
    if SCALED in used:
        notes.append(
            "scaled: the sheet's time, halved for each 10 °C warmer («common practice»); the sheet comes first"
        )
    if PRACTICE in used:
        notes.append("practice: a wait that isn't on the data sheet given; look it up")
    return notes
