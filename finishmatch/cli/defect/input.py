"""What a painter types about a defect, turned into numbers, layers and places before the command runs."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

import click

from finishmatch.defects import FilmLayer, film_layer, read_place
from finishmatch.errors import InputError
from finishmatch.readings.plain_number import is_boundless, number_hint, understood_number
from finishmatch.readings.quantities import BUILD, carries_unit, quantity
from finishmatch.steps.job.film import builds_apart
from finishmatch.understood import understood

Place = tuple[float, float]

_WITH_UNIT = re.compile(r"([-+]?[\d.]+)\s*([^\W\d]+|%)")
_PER_UNIT_UM = {"mil": 25.4, "mils": 25.4, "thou": 25.4, "mm": 1000.0}


def in_unit(unit: str, meaning: str = "") -> Callable[[click.Context, click.Parameter, str | None], float | None]:
    """Return the callback of an option that takes a number of a unit; `meaning` says so where there is no unit."""

    def callback(_context: click.Context, param: click.Parameter, text: str | None) -> float | None:
        return None if text is None else measured(_option(param), text, unit, meaning)

    return callback


def layers_typed(_context: click.Context, _param: click.Parameter, texts: Sequence[str]) -> tuple[FilmLayer, ...]:
    """The callback of an option that takes layers as NAME=UM,UM,…."""
    return tuple(typed_layer(text) for text in texts)


def place_typed(_context: click.Context, param: click.Parameter, text: str | None) -> Place | None:
    """The callback of an option that takes two lengths as X/Y."""
    return None if text is None else typed_place(_option(param), text)


def names_typed(_context: click.Context, _param: click.Parameter, text: str | None) -> tuple[str, ...] | None:
    """The callback of an option that takes names separated by commas."""
    return None if text is None else tuple(name for name in text.split(",") if name.strip())


def _option(param: click.Parameter) -> str:
    return max(param.opts, key=len)


def measured(where: str, text: str, unit: str, meaning: str = "") -> float:
    """Return a typed number of a unit, or raise `InputError`: units are not typed along."""
    text = text.strip()
    wanted = meaning or f"a number of {unit}"
    try:
        value = understood_number(where, text)
    except ValueError:
        if is_boundless(text):
            raise InputError(where, f"{text[:40]!r} is not a finite number", f"write {wanted}") from None
        if with_unit := _WITH_UNIT.fullmatch(text):
            per = _PER_UNIT_UM.get(with_unit[2].casefold()) if unit == "µm" else None
            hint = f"; 1 {with_unit[2]} is {per:g} µm" if per else ""
            raise InputError(where, f"{text[:40]!r} carries a unit", f"write {wanted} alone{hint}") from None
        hint = number_hint(text) if "," in text else f"write {wanted}"
        raise InputError(where, f"{text[:40]!r} is not a number", hint) from None
    if not math.isfinite(value):
        raise InputError(where, f"{text[:40]!r} is not a finite number", f"write {wanted}")
    return value


def typed_layer(text: str) -> FilmLayer:
    """Return the layer of NAME=UM,UM,…, or raise `InputError`."""
    name, equals, builds = text.partition("=")
    if not equals or not name.strip():
        raise InputError(f"--layer {text[:40]!r}", "is not NAME=UM,UM,…", "write it as primer=62,58,60")
    where = f"--layer {name.strip()[:40]}"
    values, places = [], []
    parts = builds.split(",") if "@" in builds else builds_apart(where, builds)
    for part in (part for part in parts if part.strip()):
        build, at, place = part.partition("@")
        values.append(_build(where, build.strip()))
        if at:
            places.append(typed_place(where, place))
    if places and len(places) != len(values):
        raise InputError(where, f"{len(places)} places for {len(values)} readings", "place each reading or none")
    return film_layer(name, values, places)


def _build(where: str, text: str) -> float:
    """Return a build in µm, of one with a unit too, as `job film` takes it."""
    if not carries_unit(text):
        return measured(where, text, "µm")
    build = quantity(where, text, BUILD)
    understood(where, f"{text[:20]!r} is read as {build:.6g}", "a unit")
    return build


def typed_place(where: str, text: str) -> Place:
    """Return a place typed as X/Y in mm, or raise `InputError`."""
    place = read_place(text)
    if place is None:
        raise InputError(where, f"{text.strip()[:40]!r} is not a place", "write mm across and down, as in 120/340")
    return place
