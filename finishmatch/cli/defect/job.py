"""A defect as it stands in a job, in the film of its panel; what is found of it since."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from finishmatch.cli.defect.input import DefectCase
from finishmatch.defects import (
    Evidence,
    Film,
    FilmLayer,
    SeenDefect,
    film_layer,
    find_checks,
    find_kind,
    find_signs,
    make_film,
    reached_layer,
    read_place,
    read_rating,
)
from finishmatch.defects.outcomes import BROKE_THROUGH
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.ledger import EntryView


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
    broken = _broken_through(everything, number)
    if broken:
        seen = opened(seen, make_film(layers))
    place = f"on the {entry.panel}" + (f", {entry.place}" if entry.place else "")
    return DefectCase(seen, make_film(layers), job.ref, number, place, _last_coat(views, entry.panel), broken)


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
