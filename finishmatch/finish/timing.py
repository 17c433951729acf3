"""Times of the data sheet at the booth's temperature, and the day's timetable of coats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, log

from finishmatch.finish.spraying_figures import common_spraying_figures
from finishmatch.readings.product_sheet import SAME_C, Product, TimeAt

SHEET, HELD, BETWEEN, SCALED, PRACTICE = (
    "data sheet",
    "the data sheet's at its next warmer temperature",
    "between two of the data sheet",
    "halved per 10 °C, «common practice»",
    "«common practice», not on the sheet",
)


@dataclass(frozen=True)
class Span:
    """A time, minutes, and where it is from: SHEET, HELD, BETWEEN, SCALED or PRACTICE."""

    minutes: float
    how: str


@dataclass(frozen=True)
class Event:
    """What is done at a minute from the start of the day's work.

    Parameters
    ----------
    minute : float
    product : str
    what : str
        "coat 1 of 2".
    until : float or None
        For what may wait: the latest minute.
    how : str
        Where the wait before it is from; "" for none.
    latest_unknown : bool
        Whether it must not come too late, and the sheet doesn't say by when.
    """

    minute: float
    product: str
    what: str
    until: float | None = None
    how: str = ""
    latest_unknown: bool = False

    @property
    def too_late(self) -> bool:
        """Whether it comes after the latest minute."""
        return self.until is not None and self.minute > self.until


@dataclass(frozen=True)
class PaintCoats:
    """A paint, as its data sheet has it, and how many coats of it go on."""

    product: Product
    coats: int


def at_temperature(times: Sequence[TimeAt], temperature_c: float) -> Span | None:
    """Return a time at the booth's temperature, None when the sheet gives none.

    Parameters
    ----------
    times : sequence of TimeAt
        By rising temperature.
    temperature_c : float

    Notes
    -----
    The sheet wins: between two of its temperatures the time goes evenly in its logarithm; beyond them it halves for
    each 10 °C warmer from the nearest («common practice»).
    """
    if not times:
        return None
    first, last = times[0], times[-1]
    for one in times:
        if abs(one.temperature_c - temperature_c) < SAME_C:
            return Span(one.minutes, SHEET)
    if first.temperature_c < temperature_c < last.temperature_c:
        i = next(i for i, one in enumerate(times) if one.temperature_c > temperature_c)
        low, high = times[i - 1], times[i]
        part = (temperature_c - low.temperature_c) / (high.temperature_c - low.temperature_c)
        return Span(exp((1 - part) * log(low.minutes) + part * log(high.minutes)), BETWEEN)
    near = first if temperature_c < first.temperature_c else last
    warmer = temperature_c - near.temperature_c
    return Span(near.minutes * 0.5 ** (warmer / common_spraying_figures().halving_c), SCALED)


def latest_at(times: Sequence[TimeAt], temperature_c: float) -> Span | None:
    """Return the latest time of recoating at a temperature, None when the sheet gives none; it is never stretched.

    Parameters
    ----------
    times : sequence of TimeAt
        By rising temperature.
    temperature_c : float

    Notes
    -----
    A window closes when the film has cured too far to be keyed into. So between two of the sheet's temperatures, and
    below the coldest, the time of the next warmer one holds; above the warmest it halves for each 10 °C.
    """
    warmer = [one for one in times if one.temperature_c >= temperature_c - SAME_C]
    if not warmer:
        return at_temperature(times, temperature_c)
    at_it = (one for one in warmer if abs(one.temperature_c - temperature_c) < SAME_C)
    near = min(at_it, key=lambda one: one.minutes, default=warmer[0])
    return Span(near.minutes, SHEET if abs(near.temperature_c - temperature_c) < SAME_C else HELD)


def wait_of(times: Sequence[TimeAt], temperature_c: float, practice_minutes: float) -> Span:
    """Return a wait at the booth's temperature; where the sheet gives none, that of practice at 20 °C, scaled."""
    found = at_temperature(times, temperature_c)
    if found is not None:
        return found
    scaled = at_temperature((TimeAt(practice_minutes, 20.0),), temperature_c)
    assert scaled is not None
    return Span(scaled.minutes, PRACTICE)


def timetable(
    paints: Sequence[PaintCoats], temperature_c: float, coat_minutes: float, warmest_c: float | None = None
) -> tuple[Event, ...]:
    """Return the day's coats in order, from minute 0.

    Parameters
    ----------
    paints : sequence of PaintCoats
        In the order they go on.
    temperature_c : float
        Of the booth.
    coat_minutes : float
        To spray one coat.
    warmest_c : float or None
        The warmer of air and panel, by which the latest time of recoating goes; as `temperature_c` when None.
    """
    figures = common_spraying_figures()
    events: list[Event] = []
    clock, wait = 0.0, ""
    latest: float | None = None
    for paint in paints:
        product = paint.product
        flash = wait_of(product.flash_off, temperature_c, figures.flash_off)
        for coat in range(1, paint.coats + 1):
            unknown = coat == 1 and paint is not paints[0] and latest is None
            events.append(Event(clock, product.name, f"coat {coat} of {paint.coats}", latest, wait, unknown))
            latest = None
            clock += coat_minutes
            if coat < paint.coats:
                clock += flash.minutes
                wait = flash.how
        after = wait_of(product.recoat_after, temperature_c, figures.recoat_after)
        within = latest_at(product.recoat_within, temperature_c if warmest_c is None else warmest_c)
        latest = None if within is None else clock + within.minutes
        dry = at_temperature(product.dry, temperature_c)
        if paint is paints[-1] and dry is not None:
            events.append(Event(clock + dry.minutes, product.name, "dry to handle", None, dry.how))
        clock += after.minutes
        wait = after.how
    return tuple(events)


def time_in_pot(paint: PaintCoats, temperature_c: float, coat_minutes: float) -> float:
    """Return how long, minutes, a lot mixed at the start of it is in use: to the end of its last coat."""
    flash = wait_of(paint.product.flash_off, temperature_c, common_spraying_figures().flash_off)
    return paint.coats * coat_minutes + (paint.coats - 1) * flash.minutes


def lots_needed(paint: PaintCoats, temperature_c: float, coat_minutes: float) -> int:
    """Return in how many lots to mix, so that each is used up within the pot life: whole coats where they can be."""
    pot = at_temperature(paint.product.pot_life, temperature_c)
    if pot is None or paint.coats < 1:
        return 1
    took = {
        n: time_in_pot(PaintCoats(paint.product, n), temperature_c, coat_minutes) for n in range(1, paint.coats + 1)
    }
    coats = [n for n, minutes in took.items() if minutes <= pot.minutes]
    return ceil(paint.coats / coats[-1]) if coats else paint.coats * ceil(coat_minutes / pot.minutes)
