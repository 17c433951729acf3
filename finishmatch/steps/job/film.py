"""The build readings of one layer of a panel are recorded."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import NoReturn

from finishmatch.defects import layer_role
from finishmatch.errors import InputError
from finishmatch.ledger import FilmLayerEntry, JobView, Ledger, open_ledger
from finishmatch.readings.plain_number import understood_number
from finishmatch.readings.quantities import BUILD, carries_unit, quantity
from finishmatch.steps.card_build import THICKEST_UM, check_card_build
from finishmatch.steps.record import NOTHING, InPlaceOf, RecordedOne, record_one, what_stood
from finishmatch.understood import understood

MOST_UM = 5000.0
FILLERS = ("fill", "putty", "stopper", "lead")  # layers that are thicker than paint

_COMMA_AND_MORE = re.compile(r"\d+,\d{2,}", re.ASCII)  # 62,58: finer than any gauge shows, or two readings

Numbered = tuple[int, FilmLayerEntry]


def film(
    job: str,
    panel: str | None,
    layer: str | None,
    builds_um: Sequence[float],
    *,
    places: Sequence[str] = (),
    position: int | None = None,
    in_place_of: InPlaceOf = NOTHING,
) -> RecordedOne:
    """Record the build readings of one layer of a panel in a job.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    panel, layer : str or None
        For example "roof" and "primer"; needed where no entry is replaced.
    builds_um : sequence of float
        Builds of this layer alone, µm; needed where no entry is replaced.
    places : sequence of str
        Where each was read, in words or as X/Y in mm; none, or one for each reading.
    position : int or None
        Counted from the metal up, 1 lies on it; None is on top of the panel's layers, or where the layer already is.
    in_place_of : InPlaceOf
        The entry it replaces, and why: what isn't given anew is kept of it, the places of as many readings too.

    Raises
    ------
    InputError
        Builds that can't be, or a position that another layer has; nothing is recorded then.
    """
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        stood = what_stood(ledger, found, in_place_of.supersedes, FilmLayerEntry)
        if stood is not None:
            panel, layer, builds_um = panel or stood.panel, layer or stood.layer, builds_um or stood.builds_um
            position = stood.position if position is None else position
            places = stood.places if not places and len(stood.builds_um) == len(builds_um) else places
        panel, layer = " ".join((panel or "").split()), " ".join((layer or "").split())
        _check_builds(layer, builds_um)
        others = [
            (number, entry)
            for number, entry in _standing(ledger, found)
            if number != in_place_of.supersedes and entry.panel.casefold() == panel.casefold()
        ]
        if stood is not None and _unnamed(stood.layer) is not None:  # its other readings are named anew after it
            others = [(number, entry) for number, entry in others if entry.layer.casefold() != stood.layer.casefold()]
        entry = FilmLayerEntry(panel, _position(panel, layer, position, others), layer, builds_um, tuple(places))
        recorded = record_one(ledger, found, entry, in_place_of)
    if (error := _unnamed(layer)) is not None:
        mend = f"{error.mend}: `supersedes` {recorded.entries[0].number} `layer` NAME `why` TEXT"
        warning = f"{error.where}: {error.what}, and no rework is told of this film; {mend}"
        recorded = replace(recorded, warnings=(warning,))
    return recorded


def builds_typed(where: str, text: str, *, by_commas: bool = True) -> list[float]:
    """Return the builds that were typed in one line, µm.

    Parameters
    ----------
    where : str
        Names the line in what is raised.
    text : str
        Builds with semicolons, blanks or commas between them; with a unit behind each they are brought to µm. A comma
        is a decimal comma where something else stands between two, or where it is the only one and one digit follows.
    by_commas : bool
        Whether 62,58 is two readings; else it is asked what is meant, as on a page that asks for blanks.

    Raises
    ------
    InputError
        One is no number, or no film has such a build; some have a unit and some have none; a comma may be either.
    """
    parts = builds_apart(where, text)
    with_unit = [carries_unit(part) for part in parts]
    if any(with_unit) and not all(with_unit):  # 2,3 mil: one build or two
        mend = "write it behind each, as in 2mil,3mil, and a decimal comma as a point, as in 2.3mil"
        raise InputError(where, "some of its builds have a unit and some have none", mend)
    if not parts:
        raise InputError(where, "holds no build reading", "give µm, as in 62 58 60")
    for part in () if by_commas else (text.strip(), *parts):
        if _COMMA_AND_MORE.fullmatch(part):
            _ask(where, part)
    return [_build_typed(where, part.strip(), with_unit=any(with_unit)) for part in parts]


def builds_apart(where: str, text: str) -> list[str]:
    """Return the builds of a line, as typed: 62,58,60 is three, 62 58 two, and 62,5 is one.

    Raises
    ------
    InputError
        A comma may be either, as in 62,5,60.
    """
    parts = re.split(r"[;\s]+|,\s+", re.sub(r"\s+(?=[^\W\d]|[\"″])", "", text.strip()))  # a unit stays with its number
    return [part.strip(" ,") for part in parts if part.strip(" ,")] if len(parts) > 1 else _between_commas(where, text)


def _between_commas(where: str, text: str) -> list[str]:
    """Return the builds of a line in which nothing but commas stands between."""
    parts = text.split(",")
    if len(parts) == 1 or not all(part.strip().isdecimal() for part in parts):
        return parts
    short = [len(part.strip()) == 1 for part in parts]
    if len(parts) == 2 and short[1]:
        return [text]
    if any(short[i] and not short[i - 1] for i in range(1, len(parts))):  # 62,5,60
        _ask(where, text.strip())
    return parts


def _ask(where: str, text: str) -> NoReturn:
    """Ask whether a comma stands within a build or between two."""
    first, second = text[:40].split(",")[:2]
    mend = f"write {first}.{second} for one reading, or {first} {second}, with a blank between, for two"
    raise InputError(where, f"{text[:40]!r} may be read in two ways", mend)


def _build_typed(where: str, text: str, *, with_unit: bool) -> float:
    if with_unit:
        number = quantity(where, text, BUILD)
        understood(where, f"{text[:20]!r} is read as {number:.6g}", "a unit")
    else:
        try:
            number = understood_number(where, text)
        except ValueError:
            raise InputError(where, f"{text[:40]!r} is not a number", "give µm, as in 62 58 60") from None
    check_build(where, number)
    return number


def _check_builds(layer: str, builds_um: Sequence[float]) -> None:
    thickest = MOST_UM if any(word in layer.casefold() for word in FILLERS) else THICKEST_UM
    for build in builds_um:
        check_build(f"`builds` '{build:g}'", build)
        check_card_build(f"`builds` '{build:g}'", build, thickest_um=thickest)


def check_build(where: str, build_um: float) -> None:
    """Raise `InputError` for a build, µm, that no film has."""
    if not 0 < build_um <= MOST_UM:
        raise InputError(where, f"{build_um:g} µm is not a film build", f"give µm above 0 and up to {MOST_UM:g}")


def _unnamed(layer: str) -> InputError | None:
    """Return what is wrong with the name of a layer that doesn't say what it is."""
    try:
        layer_role(layer)
    except InputError as error:
        return error
    return None


def _standing(ledger: Ledger, job: JobView) -> list[Numbered]:
    """Return number and entry of the film readings that have not been replaced."""
    views = ledger.entries(job, current_only=True, kind=FilmLayerEntry)
    return [(view.number, view.entry) for view in views if isinstance(view.entry, FilmLayerEntry)]


def _position(panel: str, layer: str, wanted: int | None, others: Sequence[Numbered]) -> int:
    """Return where a layer lies; one position of a panel holds one layer, which may be read several times."""
    if wanted is None:
        own = [entry.position for _, entry in others if entry.layer.casefold() == layer.casefold()]
        return own[-1] if own else max((entry.position for _, entry in others), default=0) + 1
    for number, entry in others:
        if entry.position == wanted and entry.layer.casefold() != layer.casefold():
            raise InputError(
                f"`position` {wanted}",
                f"layer {wanted} of the {panel} is already '{entry.layer}' (#{number})",
                f"choose another position, or replace it: `supersedes` {number} `why` TEXT",
            )
    return wanted
