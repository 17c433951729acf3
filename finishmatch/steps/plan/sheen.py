"""How much flattening base a wanted gloss takes, by a ladder of panels that were read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from finishmatch.cautions import MIXING
from finishmatch.errors import InputError
from finishmatch.finish.sheen import Flattening, angle_besides, flattening_for, sheen_called, sheen_of, sheens
from finishmatch.readings.ladder_file import Rung, read_ladder
from finishmatch.steps.plan.planned import Planned, recorded
from finishmatch.steps.plan.units import Units
from finishmatch.steps.record import check_job


@dataclass(frozen=True)
class SheenRequest:
    """The ladder, and the gloss wanted.

    Parameters
    ----------
    ladder : Path
    gloss : float or None
        Gloss units at 60°.
    sheen : str or None
        Its name, in place of it.
    grams : float or None
        Weight of the paint to be flattened.
    """

    ladder: Path
    gloss: float | None = None
    sheen: str | None = None
    grams: float | None = None


@dataclass(frozen=True, kw_only=True)
class PlannedSheen(Planned):
    """What a wanted gloss takes.

    Parameters
    ----------
    flattening : Flattening
    sheen : str
        The name of that gloss.
    base_g : float or None
        Flattening base for the weight of paint given.
    rungs : tuple of Rung
        The ladder.
    """

    about: ClassVar[str] = "sheen"
    cautions: tuple[str, ...] = MIXING
    flattening: Flattening
    sheen: str
    base_g: float | None
    rungs: tuple[Rung, ...]

    @property
    def figures(self) -> dict[str, float]:
        """What the ledger keeps."""
        return {"gloss": self.flattening.gloss, "parts_per_100": self.flattening.parts}

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        found = self.flattening
        return {
            "gloss": found.gloss,
            "sheen": self.sheen,
            "angle_besides": angle_besides(found.gloss),
            "parts_per_100": found.parts,
            "low": found.low,
            "high": found.high,
            "between": list(found.between),
            "gloss_u95": found.gloss_u95,
            "reading_sd": found.reading_sd,
            "grams": self.base_g,
            "ladder": [{"flattening": r.flattening, "gloss": r.mean, "readings": len(r.gloss)} for r in self.rungs],
            "warnings": list(self.notes),
        }


def plan_sheen(request: SheenRequest, *, units: str = "both", job: str | None = None) -> PlannedSheen:
    """Return how much flattening base brings a paint to a gloss.

    Parameters
    ----------
    request : SheenRequest
    units : str
        Of the answer: "both", "metric" or "us".
    job : str or None
        Record it in this job of the ledger.

    Raises
    ------
    InputError
        No gloss or two, one outside the ladder, a ladder that doesn't fall.
    """
    check_job(job)
    if (request.gloss is None) == (request.sheen is None):
        mend = "give `gloss`, in gloss units at 60°, or `sheen`, such as satin"
        raise InputError("`gloss`", "one gloss is needed", mend)
    wanted = request.gloss if request.gloss is not None else sheen_called(request.sheen or "").aim
    rungs = read_ladder(request.ladder)
    found, name = flattening_for(rungs, wanted), sheen_of(wanted)
    notes = [
        "the parts are of what the ladder was mixed by, weight or volume; the sheen is that of the ladder's build, "
        "thinner and drying: change one of them and spray a card",
    ]
    if found.uneven:
        notes.append("the ladder rises where it should fall: its steps were pooled there; read them again")
    aimed = f"; {wanted:g} is aimed at" if request.sheen is not None else ""
    notes.append(f"{name} is {_bounds(name)} gloss units at 60° («common practice»){aimed}{_elsewhere()}")
    besides = angle_besides(wanted)
    if besides is not None:
        notes.append(f"a gloss of {wanted:g} at 60° is told better at {besides}° (ISO 2813): read the card there too")
    answer = f"{found.parts:.1f} parts of flattening base to 100 of paint for a gloss of {wanted:g} at 60°"
    answer += f" (ISO 2813; {name})"
    base_g = None
    if request.grams is not None:
        shown, base_g = Units(units), request.grams * found.parts / 100
        answer += f": {shown.weight(base_g)} into {shown.weight(request.grams)}"
    planned = PlannedSheen(
        answer=answer,
        notes=tuple(notes),
        sources=(request.ladder,),
        flattening=found,
        sheen=name,
        base_g=base_g,
        rungs=tuple(rungs),
    )
    return recorded(job, planned)


def _elsewhere() -> str:
    """Return the other bounds of sheens that are in use, so that the figure is agreed and not the word."""
    others = [f"{one.name} {one.elsewhere[0]:g} to {one.elsewhere[1]:g}" for one in sheens() if one.elsewhere]
    return f"; others take {' and '.join(others)}: agree on the figure, not the word"


def _bounds(name: str) -> str:
    one = next(one for one in sheens() if one.name == name)
    if one.low == 0:
        return f"under {one.high:g}"
    return f"over {one.low:g}" if one is sheens()[-1] else f"{one.low:g} to {one.high:g}"
