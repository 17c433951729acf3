"""`finishmatch plan hiding`: the dry build and the coats that hide, and the ground that saves paint."""

from __future__ import annotations

from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.plan.common import Told, checked_job, plan_options, tell
from finishmatch.cli.plan.units import Shown
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.colour import Floats
    from finishmatch.finish.hiding import HidingBuild
    from finishmatch.mix.hiding_build import GroundChoice


@click.command(
    "hiding",
    short_help="The dry build, coats and ground that hide.",
    epilog="""\b
Examples:
  finishmatch plan hiding --bank swatches/bank --batch swatches/batch1.csv
  finishmatch plan hiding --contrast 0.93 --at 20um --colour swatches/target.csv
""",
)
@click.option("--bank", metavar="FOLDER", help="The bank the paint is mixed from.")
@click.option("--batch", metavar="FILE", help="What is in the tin, as tint,grams.")
@click.option("--contrast", metavar="SHARE", help="In place of both: a contrast ratio over black and white, as 0.93.")
@click.option("--at", "at", metavar="QUANTITY", help="The dry build it was read at, as 20um.")
@click.option(
    "--colour", metavar="COLOUR", help="The paint where it hides, as L,a,b, FILE or FILE@NAME; narrows the answer."
)
@click.option("--coat", metavar="QUANTITY", help="Dry build of one coat.  [default: the sheet's, or 25um]")
@click.option("--product", "sheet", metavar="FILE", help="The product's data sheet, for the build of a coat.")
@plan_options
def hiding(
    bank: str | None,
    batch: str | None,
    contrast: str | None,
    at: str | None,
    colour: str | None,
    coat: str | None,
    sheet: str | None,
    units: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Tell from which dry build a paint hides, in how many coats, and over which ground with the least.

    From the bank's optics (--bank, --batch), or from one reading of a drawdown (--contrast, --at).
    """
    from finishmatch.readings.product_sheet import read_product
    from finishmatch.readings.quantities import BUILD, quantity, share

    product = read_product(Path(sheet)) if sheet else None
    coat_um = product.build_um if product is not None else None
    coat_um = coat_um if coat is None else quantity("--coat", coat, BUILD, above=0)
    ratio = None if contrast is None else share("--contrast", contrast, whole=False)
    at_um = None if at is None else quantity("--at", at, BUILD, above=0)
    checked_job(job)
    told = hiding_told(
        None if bank is None else Path(bank),
        None if batch is None else Path(batch),
        ratio,
        at_um,
        colour,
        coat_um,
        None,
        Shown(units),
    )
    return tell(told, units, job, as_json)


def hiding_told(
    bank: Path | None,
    batch: Path | None,
    contrast: float | None,
    at_um: float | None,
    colour: str | None,
    coat_um: float | None,
    planned_um: float | None,
    shown: Shown,
) -> Told:
    """Return the build that hides.

    Parameters
    ----------
    bank, batch : Path or None
        Both, or neither.
    contrast, at_um : float or None
        A contrast ratio, and the dry build it was read at.
    colour : str or None
        The hiding film, as L,a,b, FILE or FILE@NAME.
    coat_um : float or None
        Dry build of a coat; that of practice when None.
    planned_um : float or None
        What is planned to be sprayed, to be held against it.
    shown : Shown
    """
    from finishmatch.mix.hiding_build import CHART_BLACK, CHART_WHITE, COAT_UM, CONTRAST_RATIO

    each = COAT_UM if coat_um is None else coat_um
    by_bank, by_ratio = (bank is not None, batch is not None), (contrast is not None, at_um is not None)
    if not ((all(by_bank) and not any(by_ratio)) or (all(by_ratio) and not any(by_bank))):
        raise InputError("plan hiding", "a paint is needed", "give --bank and --batch, or --contrast and --at")
    choices: tuple[GroundChoice, ...] = ()
    if bank is not None and batch is not None:
        build, choices, kept = _from_bank(bank, batch, each)
        found, notes = None, [*kept]
        if build is None:
            notes.append("the bank can't tell, or it takes more than 400 µm: read a drawdown")
        sources: tuple[Path, ...] = (batch,)
    else:
        from finishmatch.finish.hiding import build_that_hides

        assert contrast is not None
        assert at_um is not None
        curve, known_as, sources = _curve(colour)
        found = build_that_hides(contrast, at_um, CHART_BLACK, CHART_WHITE, CONTRAST_RATIO, curve, known_as)
        build, notes = found.build_um, _assumptions(known_as)
    coats = None if build is None else max(1, ceil(build / each - 1e-9))
    enough = planned_um is None or build is None or planned_um >= build
    if build is not None and planned_um is not None:
        told = "hides" if enough else "doesn't hide: spray more, or choose a ground nearer to the colour"
        notes.insert(0, f"the {shown.build(planned_um)} planned {told}")
    return Told(
        "hiding",
        _part(build, found, coats, each, choices, notes, shown),
        _document(build, found, coats, each, choices, notes),
        {} if build is None else {"hiding_build_um": build},
        yes=build is not None and enough,
        sources=sources,
    )


def _part(
    build: float | None,
    found: HidingBuild | None,
    coats: int | None,
    each: float,
    choices: tuple[GroundChoice, ...],
    notes: list[str],
    shown: Shown,
) -> Any:
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part

    if build is None or coats is None:
        answer = "It isn't known from which build it hides"
    else:
        answer = (
            f"It hides from {shown.build(build)} dry: {coats} coat{'' if coats == 1 else 's'} of {shown.build(each)}"
        )
    lines = [("counts as hiding", "contrast ratio 0.98 over black and white (ISO 6504-3)")]
    if found is not None:
        lines.append(("between", f"{shown.build(found.low_um)} and {shown.build(found.high_um)}"))
    rows = tuple(
        (
            choice.ground,
            "-" if choice.build_um is None else shown.build(choice.build_um),
            "-" if choice.coats is None else str(choice.coats),
        )
        for choice in choices
    )
    tables = (Table("by ground", ("over the ground", "no longer seen from", "coats"), rows),) if rows else ()
    return Part("Hiding", answer, tuple(lines), tables, tuple(notes))


def _document(
    build: float | None,
    found: HidingBuild | None,
    coats: int | None,
    each: float,
    choices: tuple[GroundChoice, ...],
    notes: list[str],
) -> dict[str, Any]:
    return {
        "build_um": build,
        "low_um": None if found is None else found.low_um,
        "high_um": None if found is None else found.high_um,
        "coat_um": each,
        "coats": coats,
        "grounds": [vars(choice) for choice in choices],
        "warnings": notes,
    }


def _from_bank(
    folder: Path, batch: Path, coat_um: float
) -> tuple[float | None, tuple[GroundChoice, ...], tuple[str, ...]]:
    """Return the build that hides and the grounds, by the bank's optics, and what was in the way of keeping its fit."""
    import numpy as np

    from finishmatch.cli.inputs import film_of, keep_fit, open_bank
    from finishmatch.mix.hiding_build import ground_choices, hiding_build_um
    from finishmatch.readings import read_batch

    fitted = open_bank(str(folder))
    parts: dict[str, float] = {}
    for tint, grams in read_batch(batch, known=fitted.fit.optics.names):
        parts[tint] = parts.get(tint, 0.0) + grams
    film = film_of(fitted, None, None)
    optics, weights = film.optics.chosen(list(parts)), np.array(list(parts.values()))
    choices = ground_choices(optics, weights, film.grounds, coat_um=coat_um)
    return hiding_build_um(optics, weights, film.grounds), choices, keep_fit(fitted)


def _curve(colour: str | None) -> tuple[Floats | None, str, tuple[Path, ...]]:
    """Return the reflectance of a colour where it hides, how it is known, and the files it is from."""
    from finishmatch.cli.entries import sources_of
    from finishmatch.cli.inputs import reading_of
    from finishmatch.evidence.target import colour_target
    from finishmatch.mix.relaxed import likely_spectrum

    if colour is None:
        return None, "", ()
    reading = reading_of(colour, "D65", 10)
    if reading.reflectance is not None:
        return reading.reflectance, "spectrum", tuple(sources_of(reading))
    goal = colour_target(reading, (reading.light,), reading.observer)
    return likely_spectrum(goal), "lab", tuple(sources_of(reading))


def _assumptions(known_as: str) -> list[str]:
    paint = {
        "spectrum": "the paint is taken to scatter alike at all wavelengths",
        "lab": "the paint is taken to have the smoothest spectrum of its colour; a clean red or yellow may need more",
        "": "the colour isn't told, so greys of L* 25 to 95 stand in for it: give --colour",
    }[known_as]
    return [f"from one contrast ratio, read within ±0.01; {paint}; a second drawdown near the answer settles it"]
