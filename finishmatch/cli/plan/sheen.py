"""`finishmatch plan sheen`: how much flattening base a wanted gloss takes."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cautions import MIXING
from finishmatch.cli.plan.common import Told, checked_job, plan_options, tell
from finishmatch.cli.plan.units import Shown
from finishmatch.errors import InputError


@click.command(
    "sheen",
    short_help="The flattening base for a gloss.",
    epilog="""\b
Examples:
  finishmatch plan sheen swatches/plan/ladder.csv --gloss 35
  finishmatch plan sheen swatches/plan/ladder.csv --sheen eggshell --weight 500g
""",
)
@click.argument("ladder")
@click.option("--gloss", type=float, metavar="GU", help="The gloss wanted, gloss units at 60°.")
@click.option("--sheen", "name", metavar="NAME", help="Its name: flat, eggshell, satin, semi-gloss, gloss.")
@click.option("--weight", metavar="QUANTITY", help="Weight of the paint to be flattened, as 500g or 18oz.")
@plan_options
def sheen(
    ladder: str, gloss: float | None, name: str | None, weight: str | None, units: str, job: str | None, as_json: bool
) -> int:
    """Tell how much flattening base brings a paint to a gloss, from a LADDER of panels that were read."""
    from finishmatch.readings.quantities import WEIGHT, quantity

    grams = None if weight is None else quantity("--weight", weight, WEIGHT, above=0)
    checked_job(job)
    return tell(sheen_told(Path(ladder), gloss, name, grams, Shown(units)), units, job, as_json)


def sheen_told(ladder: Path, gloss: float | None, name: str | None, grams: float | None, shown: Shown) -> Told:
    """Return what a wanted gloss, or a name of sheen, takes by a ladder; grams are of the paint to be flattened."""
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part
    from finishmatch.finish.sheen import flattening_for, sheen_called, sheen_of
    from finishmatch.readings.ladder_file import read_ladder

    if (gloss is None) == (name is None):
        raise InputError("--gloss", "one gloss is needed", "give --gloss, in gloss units at 60°, or --sheen NAME")
    wanted = gloss if gloss is not None else sheen_called(name or "").aim
    rungs = read_ladder(ladder)
    found = flattening_for(rungs, wanted)
    called = sheen_of(wanted)
    base = None if grams is None else grams * found.parts / 100
    notes = [
        "the parts are of what the ladder was mixed by, weight or volume; the sheen is that of the ladder's build, "
        "thinner and drying: change one of them and spray a card",
    ]
    if found.uneven:
        notes.append("the ladder rises where it should fall: its steps were pooled there; read them again")
    if name is not None:
        notes.append(f"{called} is {_bounds(called)} gloss units at 60° («common practice»); {wanted:g} is aimed at")
    part = Part(
        heading="Sheen",
        answer=f"{found.parts:.1f} parts of flattening base to 100 of paint for a gloss of {wanted:g} at 60° ({called})"
        + ("" if base is None or grams is None else f": {shown.weight(base)} into {shown.weight(grams)}"),
        lines=(
            ("95 times in 100", f"{found.low:.1f} to {found.high:.1f} parts, for the readings' error"),
            ("between the steps", f"{found.between[0]:g} and {found.between[1]:g} of the ladder"),
            ("the next panel", f"reads {max(wanted - found.gloss_u95, 0):.0f} to {wanted + found.gloss_u95:.0f}"),
        ),
        tables=(
            Table(
                "the ladder",
                ("parts to 100", "gloss at 60°", "readings", "sheen"),
                tuple((f"{r.flattening:g}", f"{r.mean:.1f}", str(len(r.gloss)), sheen_of(r.mean)) for r in rungs),
            ),
        ),
        notes=tuple(notes),
    )
    document = {
        "gloss": wanted,
        "sheen": called,
        "parts_per_100": found.parts,
        "low": found.low,
        "high": found.high,
        "between": list(found.between),
        "gloss_u95": found.gloss_u95,
        "reading_sd": found.reading_sd,
        "grams": base,
        "ladder": [{"flattening": r.flattening, "gloss": r.mean, "readings": len(r.gloss)} for r in rungs],
        "warnings": notes,
    }
    return Told(
        "sheen",
        part,
        document,
        {"gloss": wanted, "parts_per_100": found.parts},
        cautions=MIXING,
        sources=(ladder,),
    )


def _bounds(name: str) -> str:
    from finishmatch.finish.sheen import sheens

    one = next(one for one in sheens() if one.name == name)
    if one.low == 0:
        return f"under {one.high:g}"
    return f"over {one.low:g}" if one is sheens()[-1] else f"{one.low:g} to {one.high:g}"
