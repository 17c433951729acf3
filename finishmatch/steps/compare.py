"""The difference of two colours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from finishmatch import readings
from finishmatch.correct.verdict import Verdict, judge
from finishmatch.readings import Reading
from finishmatch.steps.by_own_photograph import doubt_between, said_of_two
from finishmatch.steps.colour_inputs import (
    LIGHTS,
    ReadingLike,
    Viewing,
    check_gloss,
    check_tolerance,
    conversions_document,
    light_list,
    read_alike,
    reading_of,
    tolerance_of,
)
from finishmatch.steps.entries import reading_entry, sources_of, verdict_entry
from finishmatch.steps.record import check_job, record_to

TOLERANCE = 1.0  # ΔE00 that passes where none is given and none is known


@dataclass(frozen=True)
class CompareRequest:
    """How two colours are compared.

    Parameters
    ----------
    tolerance : float or None
        Largest ΔE00 that passes in every light; None: the standard's own, else 1.0.
    gloss : float or None
        Of the film at 60°, gloss units: a trial of another geometry than the standard's is converted.
    binder_index : float
        Refractive index of the dry binder, for that.
    lights : sequence of str
        CIE lights, the reference first.
    observer : int
        2 or 10.
    """

    tolerance: float | None = None
    gloss: float | None = None
    binder_index: float = 1.5
    lights: str | Sequence[str] = LIGHTS
    observer: int = 10


@dataclass(frozen=True)
class Compared:
    """How a trial differs from its standard.

    Parameters
    ----------
    verdict : Verdict
    conversions : tuple of Conversion
        Of readings of another geometry.
    recorded : tuple of int
        The numbers of the entries, where they were recorded.
    """

    verdict: Verdict
    conversions: tuple[readings.Conversion, ...] = ()
    recorded: tuple[int, ...] = ()

    @property
    def within(self) -> bool:
        """Whether the difference is inside the tolerance in every light."""
        return self.verdict.within

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a comparison."""
        verdict = self.verdict
        delta = verdict.delta
        return {
            "de00": verdict.de00,
            "de76": verdict.de76,
            "delta": {"L": delta.L, "a": delta.a, "b": delta.b, "C": delta.C, "H": delta.H},
            "lights": verdict.lights,
            "metamerism": verdict.metamerism,
            "words": list(verdict.words),
            "verdict": "within" if verdict.within else "outside",
            "tolerance": verdict.tolerance,
            "u95": verdict.u95,
            "sure": verdict.sure,
            "warnings": list(verdict.warnings),
            "converted": conversions_document(self.conversions),
        }


def compare(
    standard: ReadingLike, trial: ReadingLike, request: CompareRequest = CompareRequest(), *, job: str | None = None
) -> Compared:
    """Return how a trial differs from its standard, and whether it passes.

    Parameters
    ----------
    standard, trial : ReadingLike
    request : CompareRequest
    job : str or None
        Where both readings and the verdict are recorded.

    Raises
    ------
    InputError
        A reading that can't be used; nothing is recorded then.
    """
    lights, observer = light_list(request.lights), request.observer
    check_tolerance(request.tolerance)
    check_gloss(request.gloss, request.binder_index)
    check_job(job)
    one, two = (
        reading_of(given, lights[0], observer, name) for given, name in ((standard, "standard"), (trial, "trial"))
    )
    wanted = Viewing(one.geometry, request.binder_index, request.gloss, lights[0], observer)
    (alike,), conversions = read_alike(wanted, two)
    tolerance, warnings = tolerance_of(request.tolerance, one, TOLERANCE)
    verdict = judge(one, alike, lights, observer, tolerance)
    verdict = replace(verdict, u95=doubt_between(one, alike))
    warnings = (*warnings, *verdict.warnings, *said_of_two(verdict, one, alike))
    if any(conversion.u95_de00 > tolerance for conversion in conversions):
        warnings = (
            *warnings,
            "the conversion leaves a doubt larger than the tolerance: read both the same way to be sure",
        )
    verdict = replace(verdict, warnings=warnings)
    return Compared(verdict, tuple(conversions), _recorded(job, one, two, verdict))


def _recorded(job: str | None, standard: Reading, trial: Reading, verdict: Verdict) -> tuple[int, ...]:
    if job is None:
        return ()
    entries = [
        reading_entry(standard, "standard"),
        reading_entry(trial, "trial"),
        verdict_entry(standard, trial, verdict),
    ]
    return tuple(record_to(job, entries, {0: sources_of(standard), 1: sources_of(trial)}))
