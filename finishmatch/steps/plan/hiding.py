"""From which dry build a paint hides, in how many coats, and over which ground with the least."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.finish.hiding import UNSEEN_DE00, build_that_hides, too_dark_for_ratio
from finishmatch.mix.hiding_build import (
    CHART_BLACK,
    CHART_WHITE,
    COAT_UM,
    CONTRAST_RATIO,
    THICKEST_UM,
    GroundChoice,
    ground_choices,
    hides_within_de00,
    hiding_build_um,
)
from finishmatch.mix.relaxed_search import likely_spectrum
from finishmatch.readings import resolve_reading
from finishmatch.readings.product_sheet import Product, read_product
from finishmatch.steps.bank import film_of, keep_fit, open_bank
from finishmatch.steps.from_job import from_job
from finishmatch.steps.matching import Parts, parts_of
from finishmatch.steps.plan.planned import Planned, recorded
from finishmatch.steps.plan.units import Units
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job


@dataclass(frozen=True)
class HidingRequest:
    """The paint: a bank and what is in the tin, or a contrast ratio that was read; and how it is sprayed.

    Parameters
    ----------
    bank, batch : Path or None; of the batch grams by tint as well
        Both, or neither; without a contrast ratio either is the job's where it isn't given.
    contrast, at_um : float or None
        A contrast ratio over black and white, and the dry build it was read at; both, or neither.
    colour : str or None
        The paint where it hides, as L,a,b, FILE or FILE@NAME.
    coat_um : float or None
        Dry build of a coat; the sheet's, or that of practice, when None.
    product : Product, Path or None
        The data sheet.
    planned_um : float or None
        The dry build that is planned, which is held against it.
    """

    bank: Path | None = None
    batch: Path | Parts | None = None
    contrast: float | None = None
    at_um: float | None = None
    colour: str | None = None
    coat_um: float | None = None
    product: Product | Path | None = None
    planned_um: float | None = None


@dataclass(frozen=True, kw_only=True)
class PlannedHiding(Planned):
    """The build that hides.

    Parameters
    ----------
    build_um : float or None
        Dry; None when it isn't known.
    between_um : tuple of two floats, or None
        The least and the most it may be, when it is estimated from a contrast ratio.
    coat_um : float
    coats : int or None
    grounds : tuple of GroundChoice
        Of the bank.
    within_de00 : float or None
        It counts as hiding when black and white ground make no more than this; None: by its contrast ratio.
    """

    about: ClassVar[str] = "hiding"
    build_um: float | None
    between_um: tuple[float, float] | None
    coat_um: float
    coats: int | None
    grounds: tuple[GroundChoice, ...]
    within_de00: float | None = None

    @property
    def figures(self) -> dict[str, float]:
        """What the ledger keeps."""
        return {} if self.build_um is None else {"hiding_build_um": self.build_um}

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        low, high = self.between_um or (None, None)
        return {
            "build_um": self.build_um,
            "low_um": low,
            "high_um": high,
            "within_de00": self.within_de00,
            "coat_um": self.coat_um,
            "coats": self.coats,
            "grounds": [vars(choice) for choice in self.grounds],
            "warnings": list(self.notes),
        }


@dataclass(frozen=True)
class _Build:
    """What was found of the build, with what is to be said of it and the files it is from."""

    um: float | None
    between_um: tuple[float, float] | None = None
    grounds: tuple[GroundChoice, ...] = ()
    notes: tuple[str, ...] = ()
    sources: tuple[Path, ...] = ()
    within_de00: float | None = None


def plan_hiding(
    request: HidingRequest, *, units: str = "both", job: str | None = None, progress: Progress = quiet
) -> PlannedHiding:
    """Return from which dry build a paint hides, in how many coats, and over which ground with the least.

    Parameters
    ----------
    request : HidingRequest
    units : str
        Of the answer and the notes: "both", "metric" or "us".
    job : str or None
        Record it in this job of the ledger.
    progress : Progress

    Raises
    ------
    InputError
        No paint or two; a contrast ratio that no film of that colour has.
    """
    product = read_product(request.product) if isinstance(request.product, Path) else request.product
    coat_um = request.coat_um or (None if product is None else product.build_um) or COAT_UM
    check_job(job)
    request, taken = _completed(request, job)
    found = _build(request, coat_um, progress)
    build, shown, notes = found.um, Units(units), (*taken, *found.notes)
    coats = None if build is None else max(1, ceil(build / coat_um - 1e-9))
    enough = build is not None
    if build is not None and request.planned_um is not None:
        enough = request.planned_um >= build
        outcome = "hides" if enough else "doesn't hide: spray more, or choose a ground nearer to the colour"
        notes = (f"the {shown.build(request.planned_um)} planned {outcome}", *notes)
    if build is None or coats is None:
        answer = "It isn't known from which build it hides"
    else:
        coats_of = f"{coats} coat{'' if coats == 1 else 's'} of {shown.build(coat_um)}"
        answer = f"It hides from {shown.build(build)} dry: {coats_of}"
    planned = PlannedHiding(
        answer=answer,
        notes=notes,
        yes=enough,
        sources=found.sources,
        build_um=build,
        between_um=found.between_um,
        coat_um=coat_um,
        coats=coats,
        grounds=found.grounds,
        within_de00=found.within_de00,
    )
    return recorded(job, planned)


def _completed(request: HidingRequest, job: str | None) -> tuple[HidingRequest, tuple[str, ...]]:
    """Return a request with bank and batch of the job where these are lacking, and what is to be said of that."""
    if job is None or request.contrast is not None or request.at_um is not None:
        return request, ()
    taken = from_job("plan hiding", job, {"bank": request.bank, "batch": request.batch})
    if taken is None:
        return request, ()
    filled = replace(request, bank=taken.bank or request.bank, batch=taken.parts or request.batch)
    return filled, (f"from {taken.job.ref}: {', '.join(taken.words)}",)


def _build(request: HidingRequest, coat_um: float, progress: Progress) -> _Build:
    """Return the build that hides, by the bank's optics or from a contrast ratio."""
    bank, batch, contrast, at_um = request.bank, request.batch, request.contrast, request.at_um
    if bank is not None and batch is not None and contrast is None and at_um is None:
        return _from_bank(bank, batch, coat_um, progress)
    if contrast is not None and at_um is not None and bank is None and batch is None:
        return _from_contrast(contrast, at_um, request.colour)
    raise InputError("plan hiding", "a paint is needed", "give `bank` and `batch`, or `contrast` and `at_um`")


def _from_bank(bank: Path, batch: Path | Parts, coat_um: float, progress: Progress) -> _Build:
    fitted = open_bank(bank, progress)
    parts: dict[str, float] = {}
    poured, files = parts_of(batch, fitted.fit.optics.names)
    for tint, grams in poured:
        parts[tint] = parts.get(tint, 0.0) + grams
    film = film_of(fitted)
    optics, weights = film.optics.chosen(list(parts)), np.array(list(parts.values()))
    grounds = ground_choices(optics, weights, film.grounds, coat_um=coat_um)
    build = hiding_build_um(optics, weights, film.grounds)
    notes = keep_fit(fitted)
    if build is None:
        unknown = f"the bank's panels don't show it, or it takes more than {THICKEST_UM:g} µm: read a drawdown"
        notes = (*notes, unknown)
    return _Build(build, None, grounds, notes, files, hides_within_de00(optics, weights))


def _from_contrast(contrast: float, at_um: float, colour: str | None) -> _Build:
    curve, known_as, sources = _reflectance(colour)
    found = build_that_hides(contrast, at_um, CHART_BLACK, CHART_WHITE, CONTRAST_RATIO, curve, known_as)
    paint = {
        "spectrum": "the paint is assumed to scatter alike at all wavelengths",
        "lab": "the paint is assumed to have the smoothest spectrum of its colour; a clean red or yellow may need more",
        "": "the colour isn't given, so greys of L* 25 to 95 stand in for it, the dark ones by ΔE00 0.3 over black and "
        "white: give it to narrow the answer",
    }[known_as]
    note = f"from one contrast ratio, read within ±0.01; {paint}; a second drawdown near the answer settles it"
    dark = curve is not None and too_dark_for_ratio(float(reflectance_to_lab(curve)[0]))
    within = UNSEEN_DE00 if dark else None
    return _Build(found.build_um, (found.low_um, found.high_um), (), (note,), sources, within)


def _reflectance(colour: str | None) -> tuple[Floats | None, str, tuple[Path, ...]]:
    """Return the reflectance of a colour where it hides, how it is known, and the files it is from."""
    if colour is None:
        return None, "", ()
    reading = resolve_reading(colour, "D65", 10)
    sources = () if reading.source is None else (reading.source,)
    if reading.reflectance is not None:
        return reading.reflectance, "spectrum", sources
    return likely_spectrum(colour_target(reading, (reading.light,), reading.observer)), "lab", sources
