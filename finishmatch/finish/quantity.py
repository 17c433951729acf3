"""How much paint: from the area and the dry build to litres ready to spray, and grams of each component."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.near_names import did_you_mean
from finishmatch.readings.product_sheet import Component

MOST_M2 = 1000.0
MOST_UM = 5000.0  # of filler
MOST_OF_A_PANEL = 1000


@dataclass(frozen=True)
class Share:
    """A component of what is mixed: its litres, and grams where its density is known."""

    name: str
    litres: float
    grams: float | None


@dataclass(frozen=True)
class Quantity:
    """What a job takes.

    Parameters
    ----------
    area_m2, build_um : float
        The dry build is of all coats.
    on_panel_l : float
        Paint, ready to spray, that stays on the panel.
    sprayed_l : float
        Through the gun.
    mixed_l : float
        To be mixed, with what stays in cup and hose.
    coverage_m2_l : float
        Area that a litre mixed covers at that build.
    shares : tuple of Share
        Empty without a mixing ratio.
    grams : float or None
        Of what is mixed, where the densities are known.
    """

    area_m2: float
    build_um: float
    on_panel_l: float
    sprayed_l: float
    mixed_l: float
    coverage_m2_l: float
    shares: tuple[Share, ...]
    grams: float | None


def total_area(panels: Sequence[tuple[str, float]], areas: Mapping[str, float], where: str = "`panels`") -> float:
    """Return the area of a number of panels, m².

    Parameters
    ----------
    panels : sequence of (panel, how many)
    areas : mapping of str to float
        The table of panels, m².
    where : str
        For messages.

    Raises
    ------
    InputError
        A panel that isn't in the table, or a number that isn't above 0.
    """
    total = 0.0
    for panel, count in panels:
        if panel not in areas:
            mend = did_you_mean(panel, areas, "the table has " + ", ".join(areas), most=2)
            raise InputError(where, f"the table of panels has no {panel[:40]!r}", mend)
        if not 0 < count <= MOST_OF_A_PANEL:
            raise InputError(
                where, f"{count:g} × {panel} can't be painted", f"give a number above 0, up to {MOST_OF_A_PANEL}"
            )
        total += count * areas[panel]
    return total


def coverage_m2_l(build_um: float, volume_solids: float = 1.0) -> float:
    """Return the area, m², that a litre covers at a dry build when nothing is lost.

    References
    ----------
    Geometry: 1 L spread at 1 µm is 1000 m². At 1 mil and 100 % solids that is 1,604 ft² per US gallon, the figure of
    the handbooks.
    """
    return 1000.0 * volume_solids / build_um


def paint_needed(
    area_m2: float,
    build_um: float,
    volume_solids: float,
    transfer: float,
    waste: float,
    components: Sequence[Component] = (),
    mix_by: str = "volume",
    density_kg_l: float | None = None,
) -> Quantity:
    """Return what has to be mixed for an area.

    Parameters
    ----------
    area_m2 : float
        Above 0.
    build_um : float
        Dry, of all coats together, above 0.
    volume_solids : float
        Of the paint ready to spray, 0 to 1.
    transfer : float
        Share of the sprayed paint that stays on the panel.
    waste : float
        Share of the mixed paint that is never sprayed, 0 to below 1.
    components : sequence of Component
        Of the mixing ratio, if there is one.
    mix_by : str
        "volume" or "weight".
    density_kg_l : float or None
        Of the paint ready to spray, where it is known.

    Raises
    ------
    InputError
        An area, build or share that can't be; a ratio by weight without densities.

    Notes
    -----
    Volumes are taken to add.
    """
    if not 0 < area_m2 <= MOST_M2:
        raise InputError("`area_m2`", f"{area_m2:g} m² can't be painted", f"give an area above 0, up to {MOST_M2:g} m²")
    if not 0 < build_um <= MOST_UM:
        raise InputError(
            "`build_um`", f"{build_um:g} µm can't be sprayed", f"give a dry build above 0, up to {MOST_UM:g} µm"
        )
    for name, value in (("volume_solids", volume_solids), ("transfer", transfer)):
        if not 0 < value <= 1:
            raise InputError(f"`{name}`", f"{value:g} is not a share above 0, up to 1", "write 0.42 for 42 %")
    if not 0 <= waste < 1:
        raise InputError("`waste`", f"{waste:g} is not a share of 0 to below 1", "write 0.1 for a tenth")
    on_panel = area_m2 / coverage_m2_l(build_um, volume_solids)
    sprayed = on_panel / transfer
    mixed = sprayed / (1 - waste)
    shares = _shares(mixed, components, mix_by, density_kg_l)
    known = [share.grams for share in shares if share.grams is not None]
    grams = 1000 * mixed * density_kg_l if density_kg_l is not None else None
    if grams is None and shares and len(known) == len(shares):
        grams = sum(known)
    return Quantity(area_m2, build_um, on_panel, sprayed, mixed, area_m2 / mixed, shares, grams)


def volume_parts(components: Sequence[Component], mix_by: str) -> tuple[float, ...]:
    """Return the components' shares of the volume, which come to 1.

    Raises
    ------
    InputError
        A ratio by weight of which a density isn't known.
    """
    if mix_by == "weight":
        for component in components:
            if component.density_kg_l is None:
                raise InputError(
                    component.name,
                    "is mixed by weight and its density isn't known",
                    "give the density of each component",
                )
        volumes = [one.parts / one.density_kg_l for one in components if one.density_kg_l is not None]
    else:
        volumes = [one.parts for one in components]
    return tuple(volume / sum(volumes) for volume in volumes)


def mixed_solids(components: Sequence[Component], mix_by: str) -> float | None:
    """Return the volume solids of a mixed paint, None when that of a component isn't known."""
    solids = [one.volume_solids for one in components if one.volume_solids is not None]
    if not components or len(solids) < len(components):
        return None
    return sum(part * own for part, own in zip(volume_parts(components, mix_by), solids, strict=True))


def _shares(
    mixed_l: float, components: Sequence[Component], mix_by: str, density_kg_l: float | None
) -> tuple[Share, ...]:
    if not components:
        return ()
    if mix_by == "weight" and density_kg_l is not None and any(one.density_kg_l is None for one in components):
        # the weight of the whole is known, so the grams are, though not the litres of each
        whole = sum(one.parts for one in components)
        grams = [1000 * mixed_l * density_kg_l * one.parts / whole for one in components]
        return tuple(
            Share(one.name, g / 1000 / (one.density_kg_l or density_kg_l), g)
            for one, g in zip(components, grams, strict=True)
        )
    return tuple(
        Share(one.name, mixed_l * part, None if one.density_kg_l is None else 1000 * mixed_l * part * one.density_kg_l)
        for one, part in zip(components, volume_parts(components, mix_by), strict=True)
    )
