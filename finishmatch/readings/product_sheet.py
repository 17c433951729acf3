"""A product's data sheet, written down once by the shop: what it is, how it is mixed, applied and dried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.quantities import BUILD, CONTENT, DENSITY, TEMPERATURE, TIME, quantity, share
from finishmatch.readings.toml_file import Node, read_toml

KINDS = (
    "wash primer",
    "primer",
    "sealer",
    "basecoat",
    "mid-coat",
    "clear",
    "single-stage",
    "multi-coloured",
    "specialty",
    "special finish",
    "adhesion promoter",
    "uniform finish",
    "filler",
    "preparatory",
    "precleaner",
    "other",
)
SPECKLE = "multi-coloured"  # several colours from one container in one pass; a two-tone is not
CARRIERS = ("solvent", "water")
EFFECTS = ("solid", "metallic", "pearl")
BY = ("volume", "weight")
COLDEST_C, WARMEST_C = -20.0, 250.0  # of a booth, or of a stove
SAME_C = 0.05  # temperatures nearer than that are one
_SUM_SLACK = 0.005  # of shares that must come to the whole


@dataclass(frozen=True)
class TimeAt:
    """A time of the data sheet, minutes, and the temperature it holds at, °C."""

    minutes: float
    temperature_c: float


@dataclass(frozen=True)
class Component:
    """A component of a mixed paint: its parts, and per litre of it what is known; None is not known.

    Parameters
    ----------
    name : str
    parts : float
        In the mixing ratio, above 0.
    density_kg_l, volume_solids : float or None
    voc_g_l : float or None
        Organic solvent in a litre of the component, water and exempt compounds not counted.
    water_g_l, exempt_g_l : float
    exempt_density_kg_l : float or None
        Of the exempt compounds; needed when there are any.
    """

    name: str
    parts: float
    density_kg_l: float | None = None
    volume_solids: float | None = None
    voc_g_l: float | None = None
    water_g_l: float = 0.0
    exempt_g_l: float = 0.0
    exempt_density_kg_l: float | None = None


@dataclass(frozen=True)
class Product:
    """A paint as its data sheet has it; None or an empty tuple is not known.

    Parameters
    ----------
    name, kind, carrier, effect : str
        Of KINDS, CARRIERS, EFFECTS.
    two_pack : bool or None
        Whether it has a hardener (isocyanates are then to be expected); None where the sheet doesn't say.
    mix_by : str
        Of BY.
    components : tuple of Component
    build_um, coats : float or None, int or None
        Dry, of one coat; how many the sheet asks for.
    volume_solids, density_kg_l, voc_g_l : float or None
        Ready to spray; the VOC less water and exempt compounds.
    temperature_c, humidity : tuple of two floats, or None
        The window it may be sprayed in, °C and 0 to 1.
    pot_life, flash_off, recoat_after, recoat_within, dry : tuple of TimeAt
        By rising temperature.
    speckle : bool
        Whether a multi-coloured paint is said to be speckle: several colours from one container in one pass.
    holds : tuple of str or None
        What harms in it, as on the sheet, such as "lead chromate"; None where the sheet doesn't say.
    source : Path or None
    """

    name: str
    kind: str
    carrier: str = "solvent"
    effect: str = "solid"
    two_pack: bool | None = None
    mix_by: str = "volume"
    components: tuple[Component, ...] = ()
    build_um: float | None = None
    coats: int | None = None
    volume_solids: float | None = None
    density_kg_l: float | None = None
    voc_g_l: float | None = None
    temperature_c: tuple[float, float] | None = None
    humidity: tuple[float, float] | None = None
    pot_life: tuple[TimeAt, ...] = ()
    flash_off: tuple[TimeAt, ...] = ()
    recoat_after: tuple[TimeAt, ...] = ()
    recoat_within: tuple[TimeAt, ...] = ()
    dry: tuple[TimeAt, ...] = ()
    speckle: bool = False
    holds: tuple[str, ...] | None = None
    source: Path | None = None


def read_product(path: Path) -> Product:
    """Read a product's data sheet (TOML), or raise `InputError` that names the key."""
    sheet = read_toml(Path(path))
    sheet.only(
        *("name", "kind", "carrier", "effect", "two_pack", "build", "coats", "volume_solids", "density", "voc"),
        *("mix_by", "component", "temperature", "humidity"),
        *("pot_life", "flash_off", "recoat_after", "recoat_within", "dry", "speckle", "holds"),
    )
    components = _components(sheet.tables("component"))
    return Product(
        name=sheet.text("name"),
        kind=sheet.one_of("kind", KINDS),
        carrier=sheet.one_of("carrier", CARRIERS, "solvent"),
        effect=sheet.one_of("effect", EFFECTS, "solid"),
        two_pack=sheet.flag("two_pack", False) if "two_pack" in sheet else None,
        mix_by=sheet.one_of("mix_by", BY, "volume"),
        components=components,
        build_um=sheet.quantity("build", BUILD, above=0),
        coats=sheet.whole("coats") if "coats" in sheet else None,
        volume_solids=sheet.share("volume_solids"),
        density_kg_l=sheet.quantity("density", DENSITY, above=0),
        voc_g_l=sheet.quantity("voc", CONTENT, least=0),
        temperature_c=_window(sheet, "temperature"),
        humidity=_window(sheet, "humidity"),
        pot_life=_times(sheet, "pot_life"),
        flash_off=_times(sheet, "flash_off"),
        recoat_after=_times(sheet, "recoat_after"),
        recoat_within=_times(sheet, "recoat_within"),
        dry=_times(sheet, "dry"),
        speckle=sheet.flag("speckle", False),
        holds=sheet.texts("holds") if "holds" in sheet else None,
        source=Path(path),
    )


def parts_of(where: str, ratio: str) -> tuple[float, ...]:
    """Return the parts of a mixing ratio such as "4:1:1"; shares such as "60%:25%:15%" must come to the whole.

    Numbers that are all below 1 are shares too.

    Raises
    ------
    InputError
        No ratio, a part that isn't above 0, shares that don't sum to 1.
    """
    pieces = [piece.strip() for piece in ratio.split(":")]
    if len(pieces) < 2 or not all(pieces):
        raise InputError(where, f"{ratio[:40]!r} is not a mixing ratio", "write the parts, as 4:1:1")
    try:
        numbers = [float(piece.removesuffix("%")) for piece in pieces]
    except ValueError:
        raise InputError(where, f"{ratio[:40]!r} is not a mixing ratio", "write the parts, as 4:1:1") from None
    if not all(0 < number < 1e6 for number in numbers):
        raise InputError(where, f"{ratio[:40]} has a part that isn't above 0", "leave it out, or write its parts")
    percent = [piece.endswith("%") for piece in pieces]
    if any(percent) and not all(percent):
        raise InputError(where, f"{ratio[:40]} mixes parts and percent", "write all of them alike")
    whole = 100.0 if all(percent) else 1.0
    if (all(percent) or max(numbers) < 1) and abs(sum(numbers) / whole - 1) > _SUM_SLACK:
        total = f"{sum(numbers):g}" + (" %" if all(percent) else "")
        raise InputError(
            where, f"the shares {ratio[:40]} come to {total}", f"they must come to {whole:g}, or write parts, as 4:1:1"
        )
    return tuple(numbers)


def _components(nodes: list[Node]) -> tuple[Component, ...]:
    if not nodes:
        return ()
    found = []
    for node in nodes:
        node.only(
            *("name", "parts", "share", "density", "volume_solids", "voc", "water", "exempt", "exempt_density"),
        )
        if ("parts" in node) == ("share" in node):
            raise InputError(node.where(), "needs parts or share, one of them", "write parts = 4")
        component = Component(
            name=node.text("name"),
            parts=node.number("parts", above=0) if "parts" in node else node.share("share") or 0.0,
            density_kg_l=node.quantity("density", DENSITY, above=0),
            volume_solids=node.share("volume_solids", none=True),
            voc_g_l=node.quantity("voc", CONTENT, least=0),
            water_g_l=node.quantity("water", CONTENT, least=0) or 0.0,
            exempt_g_l=node.quantity("exempt", CONTENT, least=0) or 0.0,
            exempt_density_kg_l=node.quantity("exempt_density", DENSITY, above=0),
        )
        _check_litre(node, component)
        found.append(component)
    shares = ["share" in node for node in nodes]
    if any(shares):
        total = sum(component.parts for component in found)
        if not all(shares):
            raise InputError(nodes[0].where(), "some components give parts and others a share", "write all alike")
        if abs(total - 1) > _SUM_SLACK:
            raise InputError(nodes[0].file, f"the shares come to {total:.3g}", "they must come to 1 (100 %)")
    return tuple(found)


def _check_litre(node: Node, component: Component) -> None:
    """See that what is in a litre fits in it."""
    if component.exempt_g_l and component.exempt_density_kg_l is None:
        raise InputError(node.where(), "gives exempt compounds but not how dense they are", "add exempt_density")
    volatile = (component.voc_g_l or 0) + component.water_g_l + component.exempt_g_l
    if component.density_kg_l is not None and volatile > 1000 * component.density_kg_l + 1e-6:
        raise InputError(
            node.where(),
            f"what evaporates weighs {volatile:.0f} g/l, more than the litre itself",
            "check voc and water",
        )


def _window(sheet: Node, key: str) -> tuple[float, float] | None:
    if key not in sheet:
        return None
    value = sheet.value(key)
    if not isinstance(value, list) or len(value) != 2:
        example = '["15 C", "30 C"]' if key == "temperature" else '["0 %", "75 %"]'
        raise InputError(sheet.where(key), "is not a window", f"write {key} = {example}")
    where = sheet.where(key)
    low, high = (
        quantity(where, end, TEMPERATURE) if key == "temperature" else share(where, end, none=True) for end in value
    )
    if not low < high:
        raise InputError(where, "the window ends before it begins", "write the lower end first")
    return low, high


def _times(sheet: Node, key: str) -> tuple[TimeAt, ...]:
    return times_of(sheet.where(key), sheet.texts(key))


def times_of(where: str, texts: Sequence[str]) -> tuple[TimeAt, ...]:
    """Return times such as "15 min at 20 C", by rising temperature, or raise `InputError`."""
    found = []
    for text in texts:
        time, at, temperature = text.partition(" at ")
        if not at:
            raise InputError(where, f"{text[:40]!r} doesn't give the temperature", 'write it as "15 min at 20 C"')
        found.append(TimeAt(quantity(where, time, TIME, above=0), quantity(where, temperature, TEMPERATURE)))
        if not COLDEST_C <= found[-1].temperature_c <= WARMEST_C:
            problem = f"{temperature.strip()[:20]} is not a temperature to spray or dry at"
            raise InputError(where, problem, f"it must be {COLDEST_C:g} to {WARMEST_C:g} °C")
    found.sort(key=lambda one: one.temperature_c)
    if any(other.temperature_c - one.temperature_c < SAME_C for one, other in pairwise(found)):
        raise InputError(where, "gives two times for one temperature", "keep one")
    if any(one.minutes < other.minutes for one, other in pairwise(found)):
        raise InputError(where, "is longer when it is warmer", "check the times against the data sheet")
    return tuple(found)
