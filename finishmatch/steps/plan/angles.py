"""Metallics and pearls, angle by angle, and their flop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from finishmatch.finish.flop import NO_FLAKE, FlopComparison, compare_angles
from finishmatch.readings.angles_file import resolve_angles
from finishmatch.steps.colour_inputs import check_tolerance
from finishmatch.steps.plan.planned import Planned, recorded
from finishmatch.steps.record import check_job


@dataclass(frozen=True)
class AnglesRequest:
    """Two colours read at several angles, and how they are compared.

    Parameters
    ----------
    standard, trial : str
        FILE or FILE@NAME.
    tolerance : float
        The ΔE00 that passes, at every angle.
    light : str
        A CIE light.
    observer : int
        2 or 10, degrees.
    """

    standard: str
    trial: str
    tolerance: float = 1.0
    light: str = "D65"
    observer: int = 10


@dataclass(frozen=True, kw_only=True)
class PlannedAngles(Planned):
    """How two colours compare at each angle, in a light, for an observer."""

    about: ClassVar[str] = "angles"
    comparison: FlopComparison
    tolerance: float
    light: str
    observer: int

    @property
    def figures(self) -> dict[str, float]:
        """What the ledger keeps."""
        return {f"de00_at_{one.angle:g}": one.de00 for one in self.comparison.angles}

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        found = self.comparison
        return {
            "angles": [
                {"angle": one.angle, "de00": one.de00, "delta": one.delta, "words": list(one.words)}
                for one in found.angles
            ],
            "flop": {"standard": found.standard_flop, "trial": found.trial_flop},
            "verdict": "within" if self.yes else "outside",
            "tolerance": self.tolerance,
            "warnings": list(self.notes),
        }


def plan_angles(request: AnglesRequest, *, job: str | None = None) -> PlannedAngles:
    """Return how two colours differ angle by angle, and their flop.

    Parameters
    ----------
    request : AnglesRequest
    job : str or None
        Record it in this job of the ledger.

    Raises
    ------
    InputError
        A file that can't be read, no angle in common, a tolerance that is none.
    """
    check_job(job)
    check_tolerance(request.tolerance)
    one, other = (resolve_angles(text, request.light, request.observer) for text in (request.standard, request.trial))
    found = compare_angles((one.angles, one.labs), (other.angles, other.labs))
    worst, notes = found.worst, [NO_FLAKE]
    within = worst.de00 <= request.tolerance
    if found.standard_flop is None or found.trial_flop is None:
        notes.append("the flop index needs both at 15°, 45° and 110° from the gloss (ASTM E2194)")
    if found.left_out:
        notes.append("not compared, since only one was read there: " + ", ".join(f"{a:g}°" for a in found.left_out))
    planned = PlannedAngles(
        answer=f"{'Within' if within else 'Outside'} the tolerance of {request.tolerance:g}: "
        f"at most ΔE00 {worst.de00:.2f}, at {worst.angle:g}°",
        notes=tuple(notes),
        yes=within,
        sources=tuple(dict.fromkeys((one.source, other.source))),
        comparison=found,
        tolerance=request.tolerance,
        light=one.light,
        observer=request.observer,
    )
    return recorded(job, planned)
