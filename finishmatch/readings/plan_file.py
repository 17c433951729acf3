"""A plan file: the panels, the paints in their order, the booth, and what else is to be planned for a job."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.product_sheet import Product, read_product
from finishmatch.readings.quantities import AREA, BUILD, TEMPERATURE, TIME
from finishmatch.readings.toml_file import Node, read_toml

_TYPED = re.compile(r"[-+\d.\s]+(,[-+\d.\s]+){2}")


@dataclass(frozen=True)
class PlannedStep:
    """A paint of the plan, and its coats; the sheet's when None."""

    product: Product
    coats: int | None


@dataclass(frozen=True)
class PlannedBooth:
    """The booth as it is described: °C, relative humidity 0 to 1; None is not known."""

    temperature_c: float
    humidity: float | None
    dew_c: float | None
    surface_c: float | None
    start: str
    coat_minutes: float | None


@dataclass(frozen=True)
class PlannedHiding:
    """Hiding from a bank and a batch file, or from the contrast ratio of a build, µm, and the paint's colour."""

    bank: Path | None
    batch: Path | None
    contrast: float | None
    at_um: float | None
    colour: str | None


@dataclass(frozen=True)
class PlannedSheen:
    """A ladder, and the gloss at 60° or the name wanted."""

    ladder: Path
    gloss: float | None
    name: str | None


@dataclass(frozen=True)
class PlanFile:
    """A plan as it was written; None, or an empty tuple, is not given.

    Parameters
    ----------
    title : str
    area_m2 : float or None
    panels : tuple of (panel, how many)
    steps : tuple of PlannedStep
    transfer, waste : float or None
    booth, hiding, sheen : PlannedBooth, PlannedHiding, PlannedSheen, or None
    rules : str or None
        A name, or a file as the plan file has it.
    angles : tuple of two texts, or None
        FILE or FILE@NAME of standard and trial.
    source : Path
    """

    title: str
    area_m2: float | None
    panels: tuple[tuple[str, float], ...]
    steps: tuple[PlannedStep, ...]
    transfer: float | None
    waste: float | None
    booth: PlannedBooth | None
    hiding: PlannedHiding | None
    sheen: PlannedSheen | None
    rules: str | None
    angles: tuple[str, str] | None
    source: Path


def read_plan(path: Path) -> PlanFile:
    """Read a plan file (TOML); files it names are looked for beside it. Raise `InputError` that names the key."""
    path = Path(path)
    plan = read_toml(path)
    plan.only("title", "area", "panels", "rules", "gun", "booth", "step", "hiding", "sheen", "angles")
    gun = plan.table("gun")
    gun.only("transfer", "waste")
    panels = plan.table("panels")
    area = plan.quantity("area", AREA, above=0)
    if area is not None and panels.data:
        raise InputError(plan.where("area"), "stands beside [panels]", "keep one of the two")
    steps = tuple(_step(node, path.parent) for node in plan.tables("step"))
    rules = plan.text("rules", "") or None
    return PlanFile(
        title=plan.text("title"),
        area_m2=area,
        panels=tuple((name, panels.number(name, above=0)) for name in panels.data),
        steps=steps,
        transfer=gun.share("transfer"),
        waste=gun.share("waste", whole=False, none=True),
        booth=_booth(plan.table("booth")) if "booth" in plan else None,
        hiding=_hiding(plan.table("hiding"), path.parent) if "hiding" in plan else None,
        sheen=_sheen(plan.table("sheen"), path.parent) if "sheen" in plan else None,
        rules=str(path.parent / rules) if rules is not None and rules.endswith(".toml") else rules,
        angles=_angles(plan.table("angles"), path.parent) if "angles" in plan else None,
        source=path,
    )


def _step(node: Node, folder: Path) -> PlannedStep:
    node.only("product", "coats")
    return PlannedStep(read_product(folder / node.text("product")), node.whole("coats") if "coats" in node else None)


def _booth(node: Node) -> PlannedBooth:
    node.only("temperature", "humidity", "dew_point", "surface", "start", "coat_time")
    temperature = node.quantity("temperature", TEMPERATURE)
    if temperature is None:
        raise InputError(node.where(), "there is no 'temperature'", 'add temperature = "22 C"')
    return PlannedBooth(
        temperature_c=temperature,
        humidity=node.share("humidity"),
        dew_c=node.quantity("dew_point", TEMPERATURE),
        surface_c=node.quantity("surface", TEMPERATURE),
        start=node.text("start", "08:00"),
        coat_minutes=node.quantity("coat_time", TIME, above=0),
    )


def _hiding(node: Node, folder: Path) -> PlannedHiding:
    node.only("bank", "batch", "contrast", "at", "colour")
    return PlannedHiding(
        bank=folder / node.text("bank") if "bank" in node else None,
        batch=folder / node.text("batch") if "batch" in node else None,
        contrast=node.share("contrast"),
        at_um=node.quantity("at", BUILD, above=0),
        colour=_beside(folder, node.text("colour")) if "colour" in node else None,
    )


def _sheen(node: Node, folder: Path) -> PlannedSheen:
    node.only("ladder", "gloss", "name")
    return PlannedSheen(
        ladder=folder / node.text("ladder"),
        gloss=node.number("gloss") if "gloss" in node else None,
        name=node.text("name") if "name" in node else None,
    )


def _angles(node: Node, folder: Path) -> tuple[str, str]:
    node.only("standard", "trial")
    return _beside(folder, node.text("standard")), _beside(folder, node.text("trial"))


def _beside(folder: Path, colour: str) -> str:
    """Return L,a,b as it is, and FILE or FILE@NAME as a file beside the plan."""
    return colour if _TYPED.fullmatch(colour) else str(folder / colour)
