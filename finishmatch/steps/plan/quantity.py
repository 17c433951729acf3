"""How much paint an area takes: litres ready to spray and grams of each component."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

from finishmatch.errors import InputError
from finishmatch.finish.quantity import Quantity, mixed_solids, paint_needed, total_area
from finishmatch.finish.spraying_figures import common_spraying_figures
from finishmatch.finish.timing import PaintCoats, Span, at_temperature, lots_needed, time_in_pot
from finishmatch.readings.product_sheet import Component, Product, TimeAt, read_product
from finishmatch.steps.plan.planned import Planned, paint_cautions, recorded
from finishmatch.steps.plan.shop_tables import areas_known
from finishmatch.steps.plan.units import Units, duration
from finishmatch.steps.record import check_job

SHEET_C = 20.0  # the temperature that a pot life is given at when that of the booth isn't known

LEAST_SOLIDS = 0.005  # a dye in its solvent has more (common practice)


@dataclass(frozen=True)
class QuantityRequest:
    """What is to be painted, and with what; what is given comes before the data sheet, and None is not given.

    Parameters
    ----------
    area_m2 : float or None
    panels : tuple of (panel, how many)
        In place of an area.
    panels_file : Path or None
        A table of panels of one's own.
    product : Product, Path or None
        A data sheet, or where it is.
    build_um : float or None
        Dry, of one coat.
    coats : int or None
    volume_solids, transfer, waste : float or None
        Shares of 0 to 1.
    ratio : tuple of float
        The parts of the components; empty is not given.
    mix_by : str or None
        "volume" or "weight".
    densities : tuple of float
        kg/L of each component; empty is not given.
    pot_life : tuple of TimeAt
    temperature_c : float or None
        Of the booth.
    coat_minutes : float or None
        To spray one coat.
    """

    area_m2: float | None = None
    panels: tuple[tuple[str, float], ...] = ()
    panels_file: Path | None = None
    product: Product | Path | None = None
    build_um: float | None = None
    coats: int | None = None
    volume_solids: float | None = None
    transfer: float | None = None
    waste: float | None = None
    ratio: tuple[float, ...] = ()
    mix_by: str | None = None
    densities: tuple[float, ...] = ()
    pot_life: tuple[TimeAt, ...] = ()
    temperature_c: float | None = None
    coat_minutes: float | None = None


@dataclass(frozen=True, kw_only=True)
class PlannedQuantity(Planned):
    """How much of a paint an area takes.

    Parameters
    ----------
    product : Product
        With what was given in place of what its sheet has.
    area_of : str
        What the area is of; "" when it was given as such.
    coats : int
    quantity : Quantity
    volume_solids, transfer, waste : float
        Shares, as they were taken.
    pot : Span or None
        The pot life at `booth_c`.
    booth_c : float
    lots : int
        In how many it is mixed, so that each is sprayed within the pot life.
    """

    about: ClassVar[str] = "quantity"
    product: Product
    area_of: str
    coats: int
    quantity: Quantity
    volume_solids: float
    transfer: float
    waste: float
    pot: Span | None
    booth_c: float
    lots: int

    @property
    def figures(self) -> dict[str, float]:
        """What the ledger keeps."""
        found = self.quantity
        figures = {"area_m2": found.area_m2, "build_um": found.build_um, "mixed_l": found.mixed_l}
        return figures if found.grams is None else {**figures, "grams": found.grams}

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        found, pot = self.quantity, self.pot
        return {
            "product": self.product.name,
            "area_m2": found.area_m2,
            "coats": self.coats,
            "build_um": found.build_um,
            "volume_solids": self.volume_solids,
            "transfer": self.transfer,
            "waste": self.waste,
            "on_panel_l": found.on_panel_l,
            "sprayed_l": found.sprayed_l,
            "mixed_l": found.mixed_l,
            "grams": found.grams,
            "coverage_m2_l": found.coverage_m2_l,
            "components": [{"name": s.name, "litres": s.litres, "grams": s.grams} for s in found.shares],
            "pot_life": None
            if pot is None
            else {"minutes": pot.minutes, "how": pot.how, "temperature_c": self.booth_c},
            "lots": self.lots,
            "warnings": list(self.notes),
        }


def plan_quantity(request: QuantityRequest, *, units: str = "both", job: str | None = None) -> PlannedQuantity:
    """Return how much paint to mix for an area.

    Parameters
    ----------
    request : QuantityRequest
    units : str
        Of the answer and the notes: "both", "metric" or "us".
    job : str or None
        Record it in this job of the ledger.

    Raises
    ------
    InputError
        No area or two, a build, volume solids or ratio that isn't known, a share that can't be.
    """
    product, shown = _product(request), Units(units)
    area_m2, area_of, files = _area(request)
    check_job(job)
    figures, (build_um, solids) = common_spraying_figures(), _build_and_solids(product)
    coats = request.coats or product.coats or 1
    transfer = figures.transfer if request.transfer is None else request.transfer
    waste = figures.waste if request.waste is None else request.waste
    quantity = paint_needed(
        area_m2,
        coats * build_um,
        solids,
        transfer,
        waste,
        product.components,
        product.mix_by,
        product.density_kg_l,
    )
    booth_c = SHEET_C if request.temperature_c is None else request.temperature_c
    minutes = figures.coat_minutes if request.coat_minutes is None else request.coat_minutes
    paint = PaintCoats(product, coats)
    lots = lots_needed(paint, booth_c, minutes)
    notes = _assumed(request, quantity)
    if product.pot_life:
        notes += _pot_notes(request, lots, time_in_pot(paint, booth_c, minutes), shown.volume(quantity.mixed_l / lots))
    weight = "" if quantity.grams is None else f": {shown.weight(quantity.grams)}"
    found = PlannedQuantity(
        answer=f"Mix {shown.volume(quantity.mixed_l)} of {product.name}, ready to spray{weight}",
        notes=tuple(notes),
        cautions=paint_cautions([product]),
        sources=(*(() if product.source is None else (product.source,)), *files),
        product=product,
        area_of=area_of,
        coats=coats,
        quantity=quantity,
        volume_solids=solids,
        transfer=transfer,
        waste=waste,
        pot=at_temperature(product.pot_life, booth_c),
        booth_c=booth_c,
        lots=lots,
    )
    return recorded(job, found)


def _product(request: QuantityRequest) -> Product:
    """Return the paint: its data sheet, with what was given in place of what stands there."""
    product = request.product or Product(name="the paint", kind="", two_pack=True)
    if isinstance(product, Path):
        product = read_product(product)
    given = {
        "build_um": request.build_um,
        "volume_solids": request.volume_solids,
        "components": _components(request, product) or None,
        "mix_by": request.mix_by,
        "pot_life": request.pot_life or None,
    }
    changed: dict[str, Any] = {name: value for name, value in given.items() if value is not None}
    return replace(product, **changed)


def _build_and_solids(product: Product) -> tuple[float, float]:
    """Return the dry build of a coat, µm, and the volume solids ready to spray."""
    solids = product.volume_solids or mixed_solids(product.components, product.mix_by)
    if product.build_um is None:
        mend = "give `build_um`, as 25um, or a data sheet"
        raise InputError("`build_um`", "the dry build of a coat isn't known", mend)
    if not solids:
        mend = "give `volume_solids`, as 0.42, or a data sheet"
        raise InputError("`volume_solids`", "the volume solids aren't known", mend)
    if solids < LEAST_SOLIDS:
        what = f"{solids:.2g} is too little for a paint"
        raise InputError("`volume_solids`", what, f"it is a share of the volume, {LEAST_SOLIDS:g} at least")
    return product.build_um, solids


def _components(request: QuantityRequest, product: Product) -> tuple[Component, ...]:
    """Return the components of the ratio given, or the sheet's with the densities given; empty where neither is."""
    parts, known = request.ratio, request.densities
    if parts:
        names = ("paint", "hardener", "thinner", *(f"component {i}" for i in range(4, len(parts) + 1)))
        same = len(parts) == len(product.components)  # of the sheet's components in other parts
        listed = product.components if same else [Component(name, 1.0) for name in names[: len(parts)]]
        components = tuple(replace(one, parts=part) for one, part in zip(listed, parts, strict=True))
    else:
        components = product.components
        if known and not components:
            raise InputError("`densities`", "there is no mixing ratio", "give `ratio`, as 4:1:1")
    if not known:
        return components if parts else ()
    if len(known) != len(components):
        what = f"{len(known)} densities for {len(components)} components"
        raise InputError("`densities`", what, "give one for each, in order")
    return tuple(replace(one, density_kg_l=density) for one, density in zip(components, known, strict=True))


def _area(request: QuantityRequest) -> tuple[float, str, tuple[Path, ...]]:
    """Return the area, m², what it is of, and the files it was found with."""
    if (request.area_m2 is None) == (not request.panels):
        raise InputError("`area_m2`", "one area is needed", "give `area_m2`, or `panels` for each panel")
    if request.area_m2 is not None:
        return request.area_m2, "", ()
    areas, files = areas_known(request.panels_file)
    area_of = ", ".join(name if count == 1 else f"{count:g} × {name}" for name, count in request.panels)
    return total_area(request.panels, areas), area_of, files


def _assumed(request: QuantityRequest, quantity: Quantity) -> list[str]:
    figures, notes = common_spraying_figures(), []
    if request.transfer is None:
        notes.append(f"{100 * figures.transfer:.0f} % is taken to stay on the panel («common practice»); weigh yours")
    if request.waste is None:
        notes.append(f"{100 * figures.waste:.0f} % is taken to stay in cup, hose and strainer («common practice»)")
    if quantity.shares and any(share.grams is None for share in quantity.shares):
        notes.append("grams need the density of each component: give it, or put it in the data sheet")
    return notes


def _pot_notes(request: QuantityRequest, lots: int, minutes: float, lot: str) -> list[str]:
    notes = []
    if lots > 1:
        notes.append(f"the coats take {duration(minutes)}, longer than the pot life: mix in {lots} lots of {lot}")
    if request.temperature_c is None:
        notes.append(f"the pot life is that at {SHEET_C:g} °C; give the temperature of your booth")
    return notes
