"""What a painter types about a defect, or has in a job, turned into a defect in its film."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from finishmatch.defects import (
    Evidence,
    Film,
    FilmLayer,
    Practice,
    SeenDefect,
    Timing,
    film_layer,
    find_checks,
    find_kind,
    find_option,
    find_signs,
    find_step,
    make_film,
    reached_layer,
    read_place,
    read_rating,
)
from finishmatch.defects.outcomes import BROKE_THROUGH
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.ledger import EntryView

MOST_TYPED = 100_000.0  # days, or money for an hour

Spot = tuple[tuple[float, float] | None, tuple[float, float] | None]  # at, over

_WITH_UNIT = re.compile(r"([-+]?[\d.]+)\s*([^\W\d]+|%)")
_PER_UNIT_UM = {"mil": 25.4, "mils": 25.4, "thou": 25.4, "mm": 1000.0}


@dataclass(frozen=True)
class DefectCase:
    """A defect in its film; with the job's ref, the defect's number and its place where it comes from the ledger.

    sprayed_on is the day of the last coat noted of its panel, "" where none is.
    """

    seen: SeenDefect
    film: Film
    job: str | None = None
    number: int | None = None
    place: str = ""
    sprayed_on: str = ""

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


def layers_of_panel(entries: Iterable[object], panel: str) -> list[FilmLayer]:
    """Return the layers of a panel from the metal up, repeated readings of one layer put together."""
    from finishmatch.ledger import FilmLayerEntry

    readings: dict[tuple[int, str], tuple[str, list[float], list[tuple[float, float] | None]]] = {}
    for entry in entries:
        if isinstance(entry, FilmLayerEntry) and entry.panel.casefold() == panel.casefold():
            key = (entry.position, entry.layer.casefold())
            _, builds, places = readings.setdefault(key, (entry.layer, [], []))
            builds.extend(entry.builds_um)
            places.extend(map(read_place, entry.places or [""] * len(entry.builds_um)))
    ordered = sorted(readings.items(), key=lambda item: item[0][0])
    return [film_layer(name, builds, places) for _, (name, builds, places) in ordered]


def defect_of_job(job_text: str, number: int | None, pm_um: float | None, rim: bool, evidence: Evidence) -> DefectCase:
    """Return a defect of a job in the film of its panel; `evidence` comes to what was logged with it.

    Raises
    ------
    InputError
        No such job or defect, several to choose from, or a panel whose film has not been read.
    """
    from finishmatch.ledger import DefectEntry, FilmLayerEntry, open_ledger

    with open_ledger(create=False) as ledger:
        job = ledger.find_job(job_text)
        everything = ledger.entries(job)
        views = ledger.entries(job, current_only=True)
        waiting = [item.number for item in ledger.story(job).open if item.kind == "defect"]
    defects = {view.number: view.entry for view in views if isinstance(view.entry, DefectEntry)}
    number = _number_meant(job.ref, list(defects), waiting, number)
    entry = defects[number]
    layers = layers_of_panel((view.entry for view in views), entry.panel)
    if not layers:
        read = sorted({view.entry.panel for view in views if isinstance(view.entry, FilmLayerEntry)})
        others = f" (read: {', '.join(read)})" if read else ""
        command = f"finishmatch job film {job.ref} --panel {entry.panel!r} --layer primer --build UM,UM,UM"
        raise InputError(f"{job.ref}, {entry.panel}", f"its film has not been read{others}", f"read it: {command}")
    known = Evidence(
        find_signs((*entry.seen, *evidence.signs)),
        find_checks(f"{check}={outcome}" for check, outcome in (*entry.checks, *evidence.checks)),
        tuple((kind, value) for kind, value in entry.exposures),
    )
    seen = SeenDefect(
        find_kind(entry.kind),
        entry.count,
        entry.size_mm,
        entry.depth_um,
        pm_um,
        entry.layer_reached,
        rim,
        known,
        at_mm=_pair(entry.at_mm),
        rating=read_rating(entry.rating, find_kind(entry.kind), entry.size_mm) if entry.rating else None,
        over_mm=_pair(entry.over_mm),
    )
    if _broken_through(everything, number):
        seen = opened(seen, make_film(layers))
    place = f"on the {entry.panel}" + (f", {entry.place}" if entry.place else "")
    return DefectCase(seen, make_film(layers), job.ref, number, place, _last_coat(views, entry.panel))


def _last_coat(views: Sequence[EntryView], panel: str) -> str:
    """Return the day of the last coat noted of a panel, "" where none is."""
    from finishmatch.ledger import CoatEntry

    coats = (view.entry for view in views if isinstance(view.entry, CoatEntry))
    return max((coat.sprayed_on for coat in coats if coat.panel.casefold() == panel.casefold()), default="")


def _broken_through(everything: Sequence[EntryView], number: int) -> bool:
    """Tell whether work on a defect, as it stands or stood, broke through by what its decision says."""
    from finishmatch.ledger import DecisionEntry

    place = {view.number: view.place for view in everything}
    return any(
        isinstance(view.entry, DecisionEntry)
        and view.superseded_by is None
        and view.entry.result == BROKE_THROUGH
        and view.entry.defect is not None
        and place[view.entry.defect] == place[number]
        for view in everything
    )


def opened(seen: SeenDefect, film: Film) -> SeenDefect:
    """Return a defect that was cut through the topcoat: what lies below is bare, whatever its depth was."""
    below = film.layers[film.top_start - 1].name if film.top_start else "metal"
    if seen.layer_reached is not None and reached_layer(film, seen.layer_reached) < film.top_start:
        return seen
    return replace(seen, depth_um=None, pm_um=None, layer_reached=below)


def _pair(values: Sequence[float]) -> tuple[float, float] | None:
    return (values[0], values[1]) if values else None


def add_evidence(job_text: str, number: int, evidence: Evidence) -> int:
    """Record signs seen and checks done since a defect was logged, and return the number under which it now stands."""
    from finishmatch.ledger import DefectEntry, open_ledger

    with open_ledger(create=False) as ledger:
        job = ledger.find_job(job_text)
        entry = next(view.entry for view in ledger.entries(job, current_only=True) if view.number == number)
        assert isinstance(entry, DefectEntry)
        new = replace(
            entry,
            seen=find_signs((*entry.seen, *evidence.signs)),
            checks=tuple(dict((*entry.checks, *evidence.checks)).items()),
        )
        if new == entry:
            return number
        told = "; ".join((*evidence.signs, *(f"{check}: {outcome}" for check, outcome in evidence.checks)))
        return ledger.record(job, new, supersedes=number, reason=f"found since: {told}")


def _number_meant(ref: str, standing: Sequence[int], waiting: Sequence[int], number: int | None) -> int:
    if not standing:
        raise InputError(
            f"job {ref}", "no defect is logged in it", f"log it: finishmatch defect log --job {ref} KIND …"
        )
    listed = ", ".join(f"#{n}" for n in standing)
    if number is not None:
        if number not in standing:
            raise InputError(f"--defect {number}", f"is not a standing defect of {ref}", f"those that stand: {listed}")
        return number
    candidates = [n for n in standing if n in waiting] or list(standing)
    if len(candidates) > 1:
        raise InputError(f"job {ref}", f"it has several defects ({listed})", "say which: --defect N")
    return candidates[0]


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
