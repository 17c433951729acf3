"""The shop's card: the sheet and the form are written, a print of it and the shop's chart are registered."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.files import write_new_file
from finishmatch.ledger.home import ledger_home
from finishmatch.outputs import check_output, write_output
from finishmatch.photo.card.chart_kept import RegisteredChart, register_chart, registered_chart
from finishmatch.photo.card.register import RegisteredCard, card_form, check_card, register_card, registered_card
from finishmatch.photo.find.chart import chart_named
from finishmatch.readings import read_readings


@dataclass(frozen=True)
class CardRequest:
    """What is done with the card; nothing is only to look which print and which chart are registered.

    Parameters
    ----------
    out : str or None
        The file the card to print is written in.
    form : str or None
        The file an empty readings file is written in, to fill in what the print reads.
    register : str or None
        A readings file of what the shop's own print reads, which is registered.
    name : str
        What the shop calls that print.
    chart : str or None
        Which 24-patch chart the shop has, which is registered: when it was made, as `MADE` has it, or a readings file.
    replace : bool
        Whether `out` may be written over a file that the program didn't write.
    """

    out: str | None = None
    form: str | None = None
    register: str | None = None
    name: str = "card"
    chart: str | None = None
    replace: bool = False


@dataclass(frozen=True)
class ShopCard:
    """What was written, and which print and which chart are registered.

    Parameters
    ----------
    written : tuple of str
        Files.
    card : RegisteredCard or None
        The latest registration.
    registered_now : bool
        Whether it was made just now.
    warnings : tuple of str
    chart : RegisteredChart or None
        The latest.
    chart_now : bool
        Whether it was registered just now.
    """

    written: tuple[str, ...]
    card: RegisteredCard | None
    registered_now: bool
    warnings: tuple[str, ...] = ()
    chart: RegisteredChart | None = None
    chart_now: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        registered = None if self.card is None else _as_dict(self.card)
        chart = None if self.chart is None else _chart_as_dict(self.chart)
        return {
            "written": list(self.written),
            "registered": registered,
            "chart": chart,
            "warnings": list(self.warnings),
        }


def _chart_as_dict(kept: RegisteredChart) -> dict[str, Any]:
    made = kept.chart.made or None
    return {"number": kept.number, "registered": kept.registered, "made": made, "name": kept.chart.name}


def _as_dict(card: RegisteredCard) -> dict[str, Any]:
    return {
        "number": card.number,
        "name": card.name,
        "registered": card.registered,
        "fields": {
            name: {
                "lab": reading.lab_in(reading.light, reading.observer).tolist(),
                "light": reading.light,
                "observer": reading.observer,
                "repeats": len(reading.repeats),
                "spectral": reading.is_spectral,
            }
            for name, reading in card.readings.items()
        },
    }


def shop_card(request: CardRequest = CardRequest(), sheet: bytes = b"") -> ShopCard:
    """Write the card and its form, register a print or the shop's chart, and return which of each count.

    Parameters
    ----------
    request : CardRequest
    sheet : bytes
        The card as it is written in the file `out`.

    Returns
    -------
    ShopCard

    Raises
    ------
    InputError
        What was given is wrong; nothing is written or registered then.
    """
    out, form = request.out, request.form
    # all that was given is looked at before anything is written
    if out is not None and form is not None and os.path.abspath(out) == os.path.abspath(form):
        raise InputError("`form`", "is the same file as `out`", "name two files")
    check_output(out, request.replace)
    taken = InputError(form or "", "is there already", "name another file with `form`")  # it may hold the readings
    if form is not None and os.path.lexists(form):
        raise taken
    check_output(form)
    readings, warnings = None, tuple[str, ...]()
    if request.register is not None:
        readings, warnings = check_card(read_readings(Path(request.register)), request.register)
    chart = None if request.chart is None else chart_named(request.chart)
    if out is not None:
        write_output(out, sheet, request.replace)
    if form is not None and not write_new_file(form, card_form()):
        raise taken
    home, now = ledger_home(), datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    card = registered_card(home) if readings is None else register_card(home, request.name, readings, now)
    known = registered_chart(home) if chart is None else register_chart(home, chart, now)
    written = tuple(path for path in (out, form) if path is not None)
    return ShopCard(written, card, readings is not None, warnings, known, chart is not None)
