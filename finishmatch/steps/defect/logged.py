"""A defect as it stands in a job, in the film of its panel; what has been found of it since."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from finishmatch.defects import (
    NOTHING_KNOWN,
    Evidence,
    Film,
    FilmLayer,
    SeenDefect,
    film_layer,
    find_checks,
    find_kind,
    find_signs,
    layer_role,
    make_film,
    reached_layer,
    read_place,
    read_rating,
)
from finishmatch.defects.outcomes import BROKE_THROUGH
from finishmatch.errors import InputError
from finishmatch.ledger import CoatEntry, DecisionEntry, DefectEntry, EntryView, FilmLayerEntry, JobView, open_ledger
from finishmatch.steps.defect.film_now import film_now, read_before_rework

# of a field of the entry: what it is called by who types it, and in words
_TYPED_AS = {"layer_reached": "reached", "at_mm": "at", "over_mm": "over"}
_IN_WORDS = {
    "depth_um": "depth, µm:",
    "layer_reached": "open to the",
    "count": "how many:",
    "size_mm": "mm across:",
    "at_mm": "at, mm:",
    "over_mm": "spread over, mm:",
}


@dataclass(frozen=True)
class DefectCase:
    """A defect in its film; with the job's ref, the defect's number and its place where it comes from the ledger.

    sprayed_on is the day of the last coat noted of its panel, "" where none is; broken_through says whether work on it
    broke through, by its outcome; film_doubts are warnings of what its film is told from; waits says whether nothing is
    decided of it yet.
    """

    seen: SeenDefect
    film: Film
    job: str | None = None
    number: int | None = None
    place: str = ""
    sprayed_on: str = ""
    broken_through: bool = False
    film_doubts: tuple[str, ...] = ()
    waits: bool = False

    @property
    def age_days(self) -> float | None:
        """How long ago the last coat was sprayed; None where it was not noted."""
        return float((date.today() - date.fromisoformat(self.sprayed_on)).days) if self.sprayed_on else None


@dataclass(frozen=True)
class FoundSince:
    """What was found of a defect since it was logged, and is added to its entry; None or empty where nothing was.

    Parameters
    ----------
    evidence : Evidence
        Signs and checks.
    depth_um, layer_reached, count, size_mm : float, str, int, float, each or None
        As in `DefectEntry`; of depth and layer reached one.
    at_mm, over_mm : (float, float) or None
    layers : tuple of FilmLayer
        The film around it, where that has not been read.
    """

    evidence: Evidence = NOTHING_KNOWN
    depth_um: float | None = None
    layer_reached: str | None = None
    count: int | None = None
    size_mm: float | None = None
    at_mm: tuple[float, float] | None = None
    over_mm: tuple[float, float] | None = None
    layers: tuple[FilmLayer, ...] = ()

    def measured(self) -> dict[str, Any]:
        """Return the fields of `DefectEntry` that were found, with their values."""
        names = ("depth_um", "layer_reached", "count", "size_mm", "at_mm", "over_mm")
        return {name: value for name in names if (value := getattr(self, name)) is not None}


class FilmNotReadError(InputError):
    """The film of a panel has not been read, so that nothing can be said of a defect in it."""

    def __init__(self, job: str, panel: str, panels_read: Sequence[str]) -> None:
        self.job = job
        self.panel = panel
        others = f" (read: {', '.join(panels_read)})" if panels_read else ""
        super().__init__(f"{job}, {panel}", f"its film has not been read{others}", "read it")


class UnnamedLayerError(InputError):
    """An entry of a film whose layer's name doesn't say what it is, so that nothing can be said of a defect in it."""

    def __init__(self, number: int, error: InputError) -> None:
        self.number = number
        super().__init__(
            f"{error.where} (#{number})", error.what, f"enter it again in place of #{number}: {error.mend}"
        )


def layers_of_panel(views: Iterable[EntryView], panel: str) -> list[FilmLayer]:
    """Return the layers of a panel from the metal up, repeated readings of one layer put together.

    What was read anew since the panel was painted again stands in place of what was read before.

    Raises
    ------
    UnnamedLayerError
    """
    readings: dict[tuple[int, str], tuple[str, list[float], list[tuple[float, float] | None]]] = {}
    for view in film_now(views, panel):
        entry = view.entry
        if isinstance(entry, FilmLayerEntry) and entry.panel.casefold() == panel.casefold():
            try:
                layer_role(entry.layer)
            except InputError as error:
                raise UnnamedLayerError(view.number, error) from None
            key = (entry.position, entry.layer.casefold())
            _, builds, places = readings.setdefault(key, (entry.layer, [], []))
            builds.extend(entry.builds_um)
            places.extend(map(read_place, entry.places or [""] * len(entry.builds_um)))
    ordered = sorted(readings.items(), key=lambda item: item[0][0])
    return [film_layer(name, builds, places) for _, (name, builds, places) in ordered]


def defect_of_job(
    job_text: str, number: int | None, depth_error_um: float | None, rim: bool, found: FoundSince
) -> DefectCase:
    """Return a defect of a job in the film of its panel; what was found since comes to what was logged with it.

    Parameters
    ----------
    job_text : str
        A ref or an exact title.
    number : int or None
        The defect's number; None is the one without a decision.
    depth_error_um : float or None
        The ± of its depth, 95 times in 100, µm.
    rim : bool
        Whether it has a raised rim around a bare middle.
    found : FoundSince

    Raises
    ------
    InputError
        No such job or defect, several to choose from, something found that stands there as something else, a panel
        whose film has not been read (`FilmNotReadError`), or a layer that can't be told by its name
        (`UnnamedLayerError`).
    """
    with open_ledger(create=False) as ledger:
        job = ledger.find_job(job_text)
        everything = ledger.entries(job)
        views = ledger.entries(job, current_only=True)
        waiting = [item.number for item in ledger.story(job).open if item.kind == "defect"]
    defects = {view.number: view.entry for view in views if isinstance(view.entry, DefectEntry)}
    number = _number_meant(job, list(defects), waiting, number)
    entry = _completed(defects[number], found)
    layers = layers_of_panel(views, entry.panel)
    if layers and found.layers:
        mend = f"leave it out, or record more readings: finishmatch job film {job.ref}"
        raise InputError("`layers`", f"the film of the {entry.panel} stands in the job already", mend)
    layers = layers or list(found.layers)
    if not layers:
        raise FilmNotReadError(
            job.ref, entry.panel, sorted({v.entry.panel for v in views if isinstance(v.entry, FilmLayerEntry)})
        )
    seen, film = _as_seen(entry, depth_error_um, rim, found.evidence), make_film(layers)
    broken = _broken_through(everything, number)
    place = f"on the {entry.panel}" + (f", {entry.place}" if entry.place else "")
    return DefectCase(
        seen=opened(seen, film) if broken else seen,
        film=film,
        job=job.ref,
        number=number,
        place=place,
        sprayed_on=_last_coat(views, entry.panel),
        broken_through=broken,
        film_doubts=read_before_rework(views, entry.panel),
        waits=number in waiting,
    )


def _as_seen(entry: DefectEntry, depth_error_um: float | None, rim: bool, evidence: Evidence) -> SeenDefect:
    """Return a logged defect with all that is known of it by now."""
    known = Evidence(
        find_signs((*entry.seen, *evidence.signs)),
        find_checks(f"{check}={outcome}" for check, outcome in (*entry.checks, *evidence.checks)),
        tuple((kind, value) for kind, value in entry.exposures),
    )
    kind = find_kind(entry.kind)
    return SeenDefect(
        kind=kind,
        count=entry.count,
        size_mm=entry.size_mm,
        depth_um=entry.depth_um,
        pm_um=depth_error_um,
        layer_reached=entry.layer_reached,
        rim=rim,
        evidence=known,
        at_mm=pair_of(entry.at_mm),
        over_mm=pair_of(entry.over_mm),
        rating=read_rating(entry.rating, kind, entry.size_mm) if entry.rating else None,
    )


def opened(seen: SeenDefect, film: Film) -> SeenDefect:
    """Return a defect that was cut through the topcoat: what lies below is bare, whatever its depth was."""
    below = film.layers[film.top_start - 1].name if film.top_start else "metal"
    if seen.layer_reached is not None and reached_layer(film, seen.layer_reached) < film.top_start:
        return seen
    return replace(seen, depth_um=None, pm_um=None, layer_reached=below)


def _completed(entry: DefectEntry, found: FoundSince) -> DefectEntry:
    """Return a logged defect with what was missing; what stands there as something else is refused."""
    measured = found.measured()
    for name, value in measured.items():
        stood = getattr(entry, name)
        deep = entry.depth_um if name == "layer_reached" else entry.layer_reached if name == "depth_um" else None
        if deep is not None:
            shown = f"open to the {deep}" if isinstance(deep, str) else f"{deep:g} µm deep"
            what = f"how deep it goes stands in the job already: {shown}"
        elif stood in (None, (), value):
            continue
        else:
            what = f"stands in the job already as {stood}"
        raise InputError(f"`{_TYPED_AS.get(name, name)}`", what, "leave it out, or log the defect anew")
    return replace(entry, **measured)


def add_found(job_text: str, number: int, found: FoundSince) -> int:
    """Record what was found of a defect since it was logged, and return the number under which it now stands."""
    with open_ledger(create=False) as ledger:
        job = ledger.find_job(job_text)
        entry = next(view.entry for view in ledger.entries(job, current_only=True) if view.number == number)
        assert isinstance(entry, DefectEntry)
        evidence = found.evidence
        new = replace(
            _completed(entry, found),
            seen=find_signs((*entry.seen, *evidence.signs)),
            checks=tuple(dict((*entry.checks, *evidence.checks)).items()),
        )
        if found.layers:
            ledger.record_all(job, [_film_entry(entry.panel, i, one) for i, one in enumerate(found.layers, start=1)])
        if new == entry:
            return number
        said = [*evidence.signs, *(f"{check}: {outcome}" for check, outcome in evidence.checks)]
        said += [f"{_IN_WORDS[name]} {_shown(value)}" for name, value in found.measured().items()]
        return ledger.record(job, new, supersedes=number, reason=f"found since: {'; '.join(said)}")


def _film_entry(panel: str, position: int, layer: FilmLayer) -> FilmLayerEntry:
    places = tuple(f"{across:g}/{down:g}" for across, down in layer.places_mm)
    return FilmLayerEntry(panel, position, layer.name, layer.builds_um, places)


def _shown(value: Any) -> str:
    return "/".join(f"{part:g}" for part in value) if isinstance(value, tuple) else str(value)


def _last_coat(views: Sequence[EntryView], panel: str) -> str:
    """Return the day of the last coat noted of a panel, "" where none is."""
    coats = (view.entry for view in views if isinstance(view.entry, CoatEntry))
    return max((coat.sprayed_on for coat in coats if coat.panel.casefold() == panel.casefold()), default="")


def _broken_through(everything: Sequence[EntryView], number: int) -> bool:
    """Return whether work on a defect, as it stands or stood, broke through by the outcome of its decision."""
    place = {view.number: view.place for view in everything}
    return any(
        isinstance(view.entry, DecisionEntry)
        and view.stands
        and view.entry.result == BROKE_THROUGH
        and view.entry.defect is not None
        and place[view.entry.defect] == place[number]
        for view in everything
    )


def pair_of(values: Sequence[float]) -> tuple[float, float] | None:
    """Return a place or spread as it is kept, or None where it wasn't measured."""
    return (values[0], values[1]) if values else None


def _number_meant(job: JobView, standing: Sequence[int], waiting: Sequence[int], number: int | None) -> int:
    if not standing:
        raise InputError(f"job {job.ref}", "no defect is logged in it", "log it first: finishmatch defect log KIND …")
    listed = ", ".join(f"#{n}" for n in standing)
    if number is not None:
        if number not in standing:
            raise InputError(
                f"`defect` {number}", f"is not a standing defect of {job.ref}", f"those that stand: {listed}"
            )
        return number
    candidates = [n for n in standing if n in waiting] or list(standing)
    if len(candidates) > 1:
        raise InputError(f"job {job.ref}", f"it has several defects ({listed})", "say which: `defect` N")
    return candidates[0]
