"""A defect is logged in a job, as it was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from finishmatch.defects import (
    Film,
    SeenDefect,
    check_in_film,
    check_met_before,
    check_seen,
    find_checks,
    find_kind,
    find_signs,
    read_exposures,
    read_rating,
)
from finishmatch.errors import InputError
from finishmatch.ledger import DefectEntry, EntryView, open_ledger
from finishmatch.steps.card_build import THICKEST_UM
from finishmatch.steps.days import day_of
from finishmatch.steps.defect.logged import layers_of_panel, pair_of
from finishmatch.steps.defect.suspect import suspects_warned
from finishmatch.steps.record import NOTHING, InPlaceOf, RecordedOne, record_one, what_stood

Place = tuple[float, float]


@dataclass(frozen=True)
class LogRequest:
    """A defect as it was seen.

    Parameters
    ----------
    kind : str or None
        Its trade name, or what the shop calls it; needed, as is the panel, where no defect is replaced.
    panel : str or None
        The panel.
    place : str
        Where on the panel, in words.
    count : int or None
        How many there are.
    size_mm, depth_um : float or None
        How wide one is, mm; how deep it goes below the surface beside it, µm.
    reached : str or None
        The layer that lies bare at its bottom, or "metal".
    exposures : sequence of str
        What the panel met: "air line=2", or with its day "air line=2@2024-05-02".
    at, over : (float, float) or None
        Where its middle is, across and down, and the width and height it is spread over, mm.
    signs, checks_done : sequence of str
        Signs such as "rim" or "no rim"; checks and how they came out, as in "water break=breaks".
    rating : str or None
        Its rating by ISO 4628-1, as in "3(S4)".
    seen_on : str or None
        The day it was seen, YYYY-MM-DD; today when None.
    """

    kind: str | None
    panel: str | None
    place: str = ""
    count: int | None = None
    size_mm: float | None = None
    depth_um: float | None = None
    reached: str | None = None
    exposures: Sequence[str] = ()
    at: Place | None = None
    over: Place | None = None
    signs: Sequence[str] = ()
    checks_done: Sequence[str] = ()
    rating: str | None = None
    seen_on: str | None = None


def log(request: LogRequest, *, job: str | None, in_place_of: InPlaceOf = NOTHING) -> RecordedOne:
    """Record a defect in a job.

    Parameters
    ----------
    request : LogRequest
    job : str or None
        A ref or an exact title; needed.
    in_place_of : InPlaceOf
        The defect it replaces, and why: what isn't given anew is kept of it.

    Raises
    ------
    InputError
        A defect that can't be as it is described, or not in the film of its panel; nothing is recorded then.
    """
    if job is None:
        raise InputError("`job`", "is missing: a defect is logged in a job", "name it, as in `job` J1")
    if in_place_of.supersedes is not None:
        with open_ledger(create=False) as ledger:
            stood = what_stood(ledger, ledger.find_job(job), in_place_of.supersedes, DefectEntry)
        request = request if stood is None else _kept(request, stood)
    if request.panel is None or not request.panel.strip():
        raise InputError("`panel`", "is missing", "say which panel, as in `panel` roof")
    seen = SeenDefect(
        kind=find_kind(request.kind or ""),
        count=request.count,
        size_mm=request.size_mm,
        depth_um=request.depth_um,
        layer_reached=request.reached,
        at_mm=request.at,
        over_mm=request.over,
    )
    check_spot(request.at, request.over)
    check_seen(seen)
    entry = _entry(request, request.panel, seen)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        warnings = suspects_warned(ledger, entry.exposures)
        standing = ledger.entries(found, current_only=True)
        warnings += _held_against_film(seen, entry.panel, standing)
        if (seen.depth_um or 0.0) > THICKEST_UM:
            deep = f"{seen.depth_um:g} µm deep is more than any paint but filler"
            warnings.append(f"{deep}: where it is a slip, enter it again with `supersedes`")
        return record_one(ledger, found, entry, in_place_of, warnings=warnings)


def _kept(request: LogRequest, stood: DefectEntry) -> LogRequest:
    """Return a defect as it was seen, with what isn't said anew as it stood in the entry it replaces.

    An exposure takes the place of those of its kind. Depth and layer reached are two ways to say one thing.
    """
    own = {exposure.kind for exposure in read_exposures(request.exposures)}
    days = stood.met_on or ("",) * len(stood.exposures)
    met = [
        f"{kind}={value}@{day}" if day else f"{kind}={value}"
        for (kind, value), day in zip(stood.exposures, days, strict=True)
        if kind not in own
    ]
    deep = request.depth_um is not None or request.reached is not None
    seen, checks = stood.seen, tuple(f"{check}={outcome}" for check, outcome in stood.checks)
    same = request.kind is None or find_kind(request.kind).name == stood.kind
    return replace(
        request,
        kind=request.kind or stood.kind,
        panel=request.panel or stood.panel,
        place=request.place.strip() or stood.place,
        count=stood.count if request.count is None else request.count,
        size_mm=stood.size_mm if request.size_mm is None else request.size_mm,
        depth_um=request.depth_um if deep else stood.depth_um,
        reached=request.reached if deep else stood.layer_reached,
        exposures=(*request.exposures, *met),
        at=request.at or pair_of(stood.at_mm),
        over=request.over or pair_of(stood.over_mm),
        signs=tuple(request.signs) or seen,
        checks_done=(*checks, *request.checks_done),
        rating=(stood.rating or None) if request.rating is None and same else request.rating,
        seen_on=request.seen_on or stood.seen_on or None,
    )


def check_spot(at: Place | None, over: Place | None) -> None:
    """Raise `InputError` when a defect is said to be spread over an area, but not where its middle is."""
    if over is not None and at is None:
        raise InputError("`over`", "its middle is not given", "add it: `at` X/Y")


def _entry(request: LogRequest, panel: str, seen: SeenDefect) -> DefectEntry:
    met, seen_on = read_exposures(request.exposures), day_of("`seen_on`", request.seen_on)
    check_met_before(met, seen_on)
    reached, rating = request.reached, request.rating
    return DefectEntry(
        kind=seen.kind.name,
        panel=" ".join(panel.split()),
        place=" ".join(request.place.split()),
        count=seen.count,
        size_mm=seen.size_mm,
        depth_um=seen.depth_um,
        layer_reached=reached and " ".join(reached.split()),
        seen_on=seen_on,
        exposures=tuple((exposure.kind, exposure.value) for exposure in met),
        met_on=tuple(exposure.day for exposure in met) if any(exposure.day for exposure in met) else (),
        seen=find_signs(request.signs),
        checks=find_checks(request.checks_done),
        at_mm=seen.at_mm or (),
        over_mm=seen.over_mm or (),
        rating="" if rating is None else read_rating(rating, seen.kind, seen.size_mm).text(),
    )


def _held_against_film(seen: SeenDefect, panel: str, views: Sequence[EntryView]) -> list[str]:
    """See that a defect can lie in the film of its panel, where that has been read; return what to note."""
    try:
        layers = layers_of_panel(views, panel)
    except InputError as error:  # a film that can't be judged is no reason to lose a sighting
        return [f"not checked against the film: {error}"]
    if not layers:
        return [f"the film of the {panel} has not been read yet (finishmatch job film)"]
    check_in_film(seen, Film(tuple(layers)))
    return []
