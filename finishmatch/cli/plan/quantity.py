"""`finishmatch plan quantity`: litres ready to spray and grams of each component."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.plan.common import Told, areas_known, checked_job, paint_cautions, plan_options, tell
from finishmatch.cli.plan.units import Shown, minutes_told
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.finish.quantity import Quantity
    from finishmatch.finish.timing import Span
    from finishmatch.readings.product_sheet import Component, Product


@click.command(
    "quantity",
    short_help="How much to mix, and of each component.",
    epilog="""\b
Examples:
  finishmatch plan quantity --panel bonnet --panel "front wing=2" --product swatches/plan/single-stage.toml
  finishmatch plan quantity --area 36ft2 --build 1mil --coats 2 --solids 0.42 --ratio 4:1:1 --units us
""",
)
@click.option("--area", metavar="QUANTITY", help="Area to be painted, as 2.1m2 or 22ft2.")
@click.option(
    "--panel", "panels", metavar="NAME[=N]", multiple=True, help="A panel of the table, or N of them; repeat."
)
@click.option("--panels", "panels_file", metavar="FILE", help="Your own table of panels.")
@click.option("--product", "sheet", metavar="FILE", help="The product's data sheet; what is typed comes before it.")
@click.option("--build", metavar="QUANTITY", help="Dry build of one coat, as 25um or 1mil.")
@click.option("--coats", type=click.IntRange(1, 50), help="How many coats.  [default: the sheet's, or 1]")
@click.option("--solids", metavar="SHARE", help="Volume solids of the paint ready to spray, as 0.42 or 42%.")
@click.option(
    "--transfer", metavar="SHARE", help="Share of the sprayed paint that stays on the panel.  [default: 0.55]"
)
@click.option(
    "--waste", metavar="SHARE", help="Share of the mixed paint that stays in cup, hose and strainer.  [default: 0.10]"
)
@click.option("--ratio", metavar="PARTS", help="Mixing ratio, as 4:1:1, or shares, as 60%:25%:15%.")
@click.option("--by", type=click.Choice(["volume", "weight"]), help="What the ratio is of.  [default: volume]")
@click.option("--density", "densities", metavar="QUANTITY", multiple=True, help="Of each component; repeat in order.")
@click.option("--pot-life", "pot_life", metavar="TIME", multiple=True, help='As "4 h at 20 C"; repeat for more.')
@click.option("--temperature", metavar="QUANTITY", help="Of the booth, as 22C or 72F, for the pot life.")
@plan_options
def quantity(
    area: str | None,
    panels: tuple[str, ...],
    panels_file: str | None,
    sheet: str | None,
    build: str | None,
    coats: int | None,
    solids: str | None,
    transfer: str | None,
    waste: str | None,
    ratio: str | None,
    by: str | None,
    densities: tuple[str, ...],
    pot_life: tuple[str, ...],
    temperature: str | None,
    units: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Tell how much paint to mix for an area: litres ready to spray, and each component in volume and grams.

    Give --area or --panel. What a data sheet (--product) tells needn't be typed.
    """
    from finishmatch.readings.product_sheet import read_product, times_of
    from finishmatch.readings.quantities import BUILD, TEMPERATURE, share
    from finishmatch.readings.quantities import quantity as measured

    product = read_product(Path(sheet)) if sheet else _unnamed()
    typed: dict[str, Any] = {
        "build_um": None if build is None else measured("--build", build, BUILD, above=0),
        "volume_solids": None if solids is None else share("--solids", solids),
        "components": typed_components(ratio, densities, product) or None,
        "mix_by": by,
        "pot_life": times_of("--pot-life", pot_life) or None,
    }
    product = replace(product, **{name: value for name, value in typed.items() if value is not None})
    booth = None if temperature is None else measured("--temperature", temperature, TEMPERATURE)
    area_m2, what, files = area_of(area, panels, panels_file)
    checked_job(job)
    told = quantity_told(
        product,
        area_m2,
        what,
        coats or product.coats or 1,
        None if transfer is None else share("--transfer", transfer),
        None if waste is None else share("--waste", waste, whole=False, none=True),
        booth,
        Shown(units),
    )
    return tell(replace(told, sources=(*told.sources, *files)), units, job, as_json)


def area_of(area: str | None, panels: Sequence[str], panels_file: str | None) -> tuple[float, str, tuple[Path, ...]]:
    """Return the area, m², what it is of, and the files it was found with."""
    from finishmatch.finish.quantity import total_area
    from finishmatch.readings.quantities import AREA
    from finishmatch.readings.quantities import quantity as measured

    if (area is None) == (not panels):
        raise InputError("--area", "one area is needed", "give --area, or --panel for each panel")
    if area is not None:
        return measured("--area", area, AREA, above=0), "", ()
    areas, files = areas_known(panels_file)
    counted = [_counted(text) for text in panels]
    what = ", ".join(name if count == 1 else f"{count:g} × {name}" for name, count in counted)
    return total_area(counted, areas), what, files


def _counted(text: str) -> tuple[str, float]:
    name, equals, count = text.rpartition("=")
    if not equals:
        return text.strip(), 1.0
    try:
        return name.strip(), float(count)
    except ValueError:
        raise InputError("--panel", f"{count[:40]!r} is not a number of panels", 'write "front wing=2"') from None


def _unnamed() -> Product:
    from finishmatch.readings.product_sheet import Product

    return Product(name="the paint", kind="", two_pack=True)


def typed_components(ratio: str | None, densities: Sequence[str], product: Product) -> tuple[Component, ...]:
    """Return the components that were typed, or the sheet's with the densities typed."""
    from finishmatch.readings.product_sheet import Component, parts_of
    from finishmatch.readings.quantities import DENSITY
    from finishmatch.readings.quantities import quantity as measured

    known = [measured("--density", text, DENSITY, above=0) for text in densities]
    if ratio is None:
        components = product.components
        if known and not components:
            raise InputError("--density", "there is no mixing ratio", "give --ratio, as 4:1:1")
    else:
        parts = parts_of("--ratio", ratio)
        names = ("paint", "hardener", "thinner", *(f"component {i}" for i in range(4, len(parts) + 1)))
        same = len(parts) == len(product.components)  # of the sheet's components in other parts
        listed = product.components if same else [Component(name, 1.0) for name in names[: len(parts)]]
        components = tuple(replace(one, parts=part) for one, part in zip(listed, parts, strict=True))
    if not known:
        return components if ratio is not None else ()
    if len(known) != len(components):
        raise InputError(
            "--density", f"{len(known)} densities for {len(components)} components", "give one for each, in order"
        )
    return tuple(replace(one, density_kg_l=density) for one, density in zip(components, known, strict=True))


def quantity_told(
    product: Product,
    area_m2: float,
    what: str,
    coats: int,
    transfer: float | None,
    waste: float | None,
    booth_c: float | None,
    shown: Shown,
    coat_minutes: float | None = None,
) -> Told:
    """Return how much of a product an area takes.

    Parameters
    ----------
    product : Product
    area_m2 : float
    what : str
        What the area is of.
    coats : int
    transfer, waste : float or None
        Shares; those of practice when None.
    booth_c : float or None
        Temperature of the booth, °C, for the pot life.
    shown : Shown
    coat_minutes : float or None
        To spray one coat; that of practice when None.
    """
    from finishmatch.finish.practice import common_practice
    from finishmatch.finish.quantity import mixed_solids, paint_needed
    from finishmatch.finish.timing import Step, at_temperature, lots_needed, time_in_pot

    practice = common_practice()
    if product.build_um is None:
        raise InputError("--build", "the dry build of a coat isn't known", "give --build, as 25um, or a data sheet")
    solids = product.volume_solids or mixed_solids(product.components, product.mix_by)
    if not solids:
        raise InputError("--solids", "the volume solids aren't known", "give --solids, as 0.42, or a data sheet")
    found = paint_needed(
        area_m2,
        coats * product.build_um,
        solids,
        practice.transfer if transfer is None else transfer,
        practice.waste if waste is None else waste,
        product.components,
        product.mix_by,
        product.density_kg_l,
    )
    booth = 20.0 if booth_c is None else booth_c
    pot = at_temperature(product.pot_life, booth)
    step = Step(product, coats)
    each = practice.coat_minutes if coat_minutes is None else coat_minutes
    use, lots = time_in_pot(step, booth, each), lots_needed(step, booth, each)
    notes = _notes(found, transfer is None, waste is None)
    if pot is not None:
        if lots > 1:
            notes.append(
                f"the coats take {minutes_told(use)}, longer than the pot life: mix in {lots} lots of "
                f"{shown.volume(found.mixed_l / lots)}"
            )
        if booth_c is None:
            notes.append("the pot life is told at 20 °C; give --temperature for your booth")
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part

    rows = tuple(
        (share.name, shown.volume(share.litres), "-" if share.grams is None else shown.weight(share.grams))
        for share in found.shares
    )
    part = Part(
        heading=f"Quantity: {product.name}",
        answer=f"Mix {shown.volume(found.mixed_l)} of {product.name}, ready to spray"
        + ("" if found.grams is None else f": {shown.weight(found.grams)}"),
        lines=_lines(found, product, what, coats, solids, pot, shown),
        tables=(Table(f"by {product.mix_by}", ("component", "volume", "weight"), rows),) if rows else (),
        notes=tuple(notes),
    )
    document = {
        "product": product.name,
        "area_m2": found.area_m2,
        "coats": coats,
        "build_um": found.build_um,
        "volume_solids": solids,
        "transfer": practice.transfer if transfer is None else transfer,
        "waste": practice.waste if waste is None else waste,
        "on_panel_l": found.on_panel_l,
        "sprayed_l": found.sprayed_l,
        "mixed_l": found.mixed_l,
        "grams": found.grams,
        "coverage_m2_l": found.coverage_m2_l,
        "components": [{"name": s.name, "litres": s.litres, "grams": s.grams} for s in found.shares],
        "pot_life": None if pot is None else {"minutes": pot.minutes, "how": pot.how, "temperature_c": booth},
        "lots": lots,
        "warnings": notes,
    }
    figures = {"area_m2": found.area_m2, "build_um": found.build_um, "mixed_l": found.mixed_l}
    return Told(
        "quantity",
        part,
        document,
        figures if found.grams is None else {**figures, "grams": found.grams},
        cautions=paint_cautions([product]),
        sources=() if product.source is None else (product.source,),
    )


def _lines(
    found: Quantity, product: Product, what: str, coats: int, solids: float, pot: Span | None, shown: Shown
) -> tuple[tuple[str, str], ...]:
    from finishmatch.finish.quantity import coverage_m2_l

    each = "" if coats == 1 else f", {coats} coats of {shown.build(found.build_um / coats)}"
    lines = [
        ("area", shown.area(found.area_m2) + (f": {what}" if what else "")),
        ("dry build", shown.build(found.build_um) + each),
        ("volume solids", f"{100 * solids:.0f} %"),
        ("stays on the panel", shown.volume(found.on_panel_l)),
        ("goes through the gun", shown.volume(found.sprayed_l)),
        ("covers at that build", f"{shown.coverage(found.coverage_m2_l)} with all losses"),
        ("", f"{shown.coverage(coverage_m2_l(found.build_um, solids))} without"),
    ]
    if pot is not None:
        lines.append(("pot life", f"{minutes_told(pot.minutes)} ({pot.how})"))
    return tuple(lines)


def _notes(found: Quantity, no_transfer: bool, no_waste: bool) -> list[str]:
    from finishmatch.finish.practice import common_practice

    practice, notes = common_practice(), []
    if no_transfer:
        notes.append(f"{100 * practice.transfer:.0f} % is taken to stay on the panel («common practice»); weigh yours")
    if no_waste:
        notes.append(f"{100 * practice.waste:.0f} % is taken to stay in cup, hose and strainer («common practice»)")
    if found.shares and any(share.grams is None for share in found.shares):
        notes.append("grams need the density of each component: give --density, or put it in the data sheet")
    return notes
