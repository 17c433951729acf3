"""What a painter types about a defect, or has in a job, turned into a defect in its film."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from finishmatch.defects import (
    Evidence,
    Film,
    FilmLayer,
    Practice,
    SeenDefect,
    Timing,
    film_layer,
    find_kind,
    find_option,
    find_step,
    make_film,
    read_place,
)
from finishmatch.errors import InputError

MOST_TYPED = 100_000.0  # days, or money for an hour

Spot = tuple[tuple[float, float] | None, tuple[float, float] | None]  # at, over

_WITH_UNIT = re.compile(r"([-+]?[\d.]+)\s*([^\W\d]+|%)")
_PER_UNIT_UM = {"mil": 25.4, "mils": 25.4, "thou": 25.4, "mm": 1000.0}


@dataclass(frozen=True)
class DefectCase:
    """A defect in its film; with the job's ref, the defect's number and its place where it comes from the ledger.

    sprayed_on is the day of the last coat noted of its panel, "" where none is; broken_through tells that work on it
    was, by its outcome.
    """

    seen: SeenDefect
    film: Film
    job: str | None = None
    number: int | None = None
    place: str = ""
    sprayed_on: str = ""
    broken_through: bool = False

    @property
    def age_days(self) -> float | None:
        """How long ago the last coat was sprayed; None where it was not noted."""
        return float((date.today() - date.fromisoformat(self.sprayed_on)).days) if self.sprayed_on else None


def measured(where: str, text: str | None, unit: str, meaning: str = "") -> float | None:
    """Return a typed number of a unit (None stays None), or raise `InputError`: units are not typed along."""
    if text is None:
        return None
    text = text.strip()
    wanted = meaning or f"a number of {unit}"
    try:
        value = float(text)
    except ValueError:
        if with_unit := _WITH_UNIT.fullmatch(text):
            per = _PER_UNIT_UM.get(with_unit[2].casefold()) if unit == "µm" else None
            hint = f"; 1 {with_unit[2]} is {per:g} µm" if per else ""
            raise InputError(where, f"{text[:40]!r} carries a unit", f"write {wanted} alone{hint}") from None
        hint = "write it with a decimal point" if "," in text else f"write {wanted}"
        raise InputError(where, f"{text[:40]!r} is not a number", hint) from None
    if not math.isfinite(value):
        raise InputError(where, f"{text[:40]!r} is not a finite number", f"write {wanted}")
    return value


def day(where: str, text: str | None) -> str:
    """Return a day as YYYY-MM-DD, today when None; a day that isn't one, or is still to come, is refused."""
    today = date.today()
    if text is None:
        return today.isoformat()
    try:
        found = date.fromisoformat(text.strip())
    except ValueError:
        found = None
    if found is None or found.isoformat() != text.strip():
        raise InputError(where, f"{text[:40]!r} is not a date", f"write it as {today.isoformat()}")
    if found > today:
        raise InputError(where, f"{found.isoformat()} is still to come", f"today is {today.isoformat()}")
    return found.isoformat()


def typed_layer(text: str) -> FilmLayer:
    """Return the layer of NAME=UM,UM,…, or raise `InputError`."""
    name, equals, builds = text.partition("=")
    if not equals or not name.strip():
        raise InputError(f"--layer {text[:40]!r}", "is not NAME=UM,UM,…", "write it as primer=62,58,60")
    where = f"--layer {name.strip()[:40]}"
    values, places = [], []
    for part in (part for part in builds.split(",") if part.strip()):
        build, at, place = part.partition("@")
        value = measured(where, build, "µm")
        assert value is not None
        values.append(value)
        if at:
            places.append(typed_place(where, place))
    if places and len(places) != len(values):
        raise InputError(where, f"{len(places)} places for {len(values)} readings", "place each reading or none")
    return film_layer(name, values, places)


def typed_place(where: str, text: str) -> tuple[float, float]:
    """Return a place typed as X/Y in mm, or raise `InputError`."""
    place = read_place(text)
    if place is None:
        raise InputError(where, f"{text.strip()[:40]!r} is no place", "write mm across and down, as in 120/340")
    return place


def typed_spot(at: str | None, over: str | None) -> Spot:
    """Return where a defect lies and how far it is spread."""
    if over is not None and at is None:
        raise InputError("--over", "it is not said where", "give the middle too: --at X/Y")
    return (None if at is None else typed_place("--at", at), None if over is None else typed_place("--over", over))


def stepped(practice: Practice, steps: str | None) -> Practice:
    """Return a practice whose rubbing goes by the steps typed ("P1200,P1500,compound"); None leaves it as it is."""
    if steps is None:
        return practice
    names = tuple(find_step(name) for name in steps.split(",") if name.strip())
    if not names:
        raise InputError("--steps", "names no step", "write it as P1500,P2000,compound,polish")
    polishing = tuple(name for name in names if practice.steps[name].kind == "polish")
    return replace(practice, sequence={**practice.sequence, "rub": names, "level": names, "polish": polishing or names})


def costed(
    practice: Practice, age: str | None, cure: str | None, window: str | None, hour: str | None
) -> tuple[Practice, Timing]:
    """Return the practice at the shop's hourly cost, and the age, cure and recoat window of the finish, as typed."""
    names = ("--age-days", "--cure-days", "--window-days", "--hour-cost")
    values = []
    for name, text in zip(names, (age, cure, window, hour), strict=True):
        value = measured(name, text, "", "a number of days" if name != "--hour-cost" else "an amount of money")
        if value is not None and not 0 <= value <= MOST_TYPED:
            raise InputError(name, f"{value:g} can't be", f"it lies between 0 and {MOST_TYPED:g}")
        values.append(value)
    age_days, cure_days, window_days, hour_cost = values
    timing = Timing(
        age_days,
        practice.cure_days if cure_days is None else cure_days,
        practice.window_days if window_days is None else window_days,
    )
    return replace(practice, hour_cost=practice.hour_cost if hour_cost is None else hour_cost), timing


def typed_defect(
    kind: str,
    layers: Sequence[str],
    depth_um: float | None,
    pm_um: float | None,
    reached: str | None,
    count: int | None,
    size_mm: float | None,
    rim: bool,
    evidence: Evidence,
    spot: Spot,
) -> DefectCase:
    """Return a defect as it was typed, in the film that was typed."""
    seen = SeenDefect(find_kind(kind), count, size_mm, depth_um, pm_um, reached, rim, evidence, *spot)
    if not layers:
        raise InputError("--layer", "there are no build readings", "type them, as in --layer primer=62,58,60")
    return DefectCase(seen, make_film([typed_layer(text) for text in layers]))


def chosen_option(choose: str | None, why: str, job: str | None) -> str | None:
    """Return the full name of the option chosen (None when none is); it needs a reason and a job."""
    if choose is None:
        if why.strip():
            raise InputError("--why", "a reason is given, but no option is chosen", "choose one: --choose OPTION")
        return None
    name = find_option(choose)
    if job is None:
        raise InputError("--choose", "a decision is recorded in a job", "name it, as in --job J1")
    if not why.strip():
        raise InputError("--choose", "it is not said why", "give the reason: --why TEXT")
    return name
