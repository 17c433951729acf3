"""The air of the booth: dew point, the margin of the panel above it, and the window of the data sheet."""

from __future__ import annotations

from dataclasses import dataclass

import psychrolib

from finishmatch.errors import InputError
from finishmatch.finish.spraying_figures import common_spraying_figures
from finishmatch.readings.product_sheet import Product

COLDEST_C, WARMEST_C = -20.0, 90.0
DRIEST = 0.001  # relative humidity, drier than any booth


@dataclass(frozen=True)
class BoothAir:
    """The booth: air and panel, °C, relative humidity 0 to 1, and the dew point."""

    temperature_c: float
    humidity: float
    surface_c: float
    dew_point_c: float

    @property
    def margin_c(self) -> float:
        """How far the panel is above the dew point."""
        return self.surface_c - self.dew_point_c


@dataclass(frozen=True)
class AirFault:
    """What keeps a product from being sprayed in this air, and the mend."""

    what: str
    mend: str


def dew_point(temperature_c: float, humidity: float) -> float:
    """Return the dew point of air, °C.

    Parameters
    ----------
    temperature_c : float
    humidity : float
        Relative, 0.001 to 1.

    References
    ----------
    ASHRAE Handbook, Fundamentals (2017), ch. 1, by psychrolib.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    return float(psychrolib.GetTDewPointFromRelHum(temperature_c, humidity))


def booth_air(
    temperature_c: float,
    humidity: float | None = None,
    surface_c: float | None = None,
    dew_point_c: float | None = None,
) -> BoothAir:
    """Return the booth's air, from its humidity or its dew point.

    Parameters
    ----------
    temperature_c : float
    humidity, dew_point_c : float or None
        Relative humidity 0.001 to 1, or the dew point, one of them.
    surface_c : float or None
        Of the panel; the same as the air when None.

    Raises
    ------
    InputError
        Air that can't be: no humidity, air or panel below the dew point.
    """
    readings = {"temperature_c": temperature_c, "surface_c": surface_c, "dew_point_c": dew_point_c}
    for name, value in readings.items():
        if value is not None and not COLDEST_C <= value <= WARMEST_C:
            raise InputError(
                f"`{name}`",
                f"{value:.1f} °C is not the temperature of a booth",
                f"it must be {COLDEST_C:g} to {WARMEST_C:g} °C",
            )
    if (humidity is None) == (dew_point_c is None):
        raise InputError("`humidity`", "the air needs its humidity or its dew point", "give one of the two")
    psychrolib.SetUnitSystem(psychrolib.SI)
    if humidity is None:
        assert dew_point_c is not None
        if temperature_c < dew_point_c:
            raise InputError(
                "`temperature_c`",
                f"{temperature_c:.1f} °C is below the dew point, {dew_point_c:.1f} °C: which is impossible",
                "read both again",
            )
        humidity = float(psychrolib.GetRelHumFromTDewPoint(temperature_c, dew_point_c))
    elif not DRIEST <= humidity <= 1:
        raise InputError("`humidity`", f"{100 * humidity:g} % is not a humidity of air", "it is 0.1 to 100 %")
    dew = dew_point_c if dew_point_c is not None else dew_point(temperature_c, humidity)
    panel = temperature_c if surface_c is None else surface_c
    if panel < dew:
        warm = dew + common_spraying_figures().margin_c
        raise InputError(
            "`surface_c`",
            f"the panel, {panel:.1f} °C, is below the dew point, {dew:.1f} °C: water stands on it",
            f"warm it to {warm:.0f} °C, or dry the air",
        )
    return BoothAir(temperature_c, humidity, panel, dew)


def air_faults(air: BoothAir, product: Product | None = None) -> tuple[AirFault, ...]:
    """Return what keeps a product from being sprayed in this air; empty when it may be.

    References
    ----------
    ISO 8502-4: the surface at least 3 °C above the dew point; the window is the data sheet's.
    """
    faults = []
    least = common_spraying_figures().margin_c
    if air.margin_c < least:
        warm = air.dew_point_c + least
        faults.append(
            AirFault(
                f"the panel is only {air.margin_c:.1f} °C above the dew point; {least:g} °C is the least (ISO 8502-4)",
                f"warm the panel to {warm:.1f} °C, or dry the air",
            )
        )
    if product is not None and product.temperature_c is not None:
        low, high = product.temperature_c
        for what, value in (("the air", air.temperature_c), ("the panel", air.surface_c)):
            if not low <= value <= high:
                mend = "warm" if value < low else "cool"
                faults.append(
                    AirFault(
                        f"{what}, {value:.1f} °C, is outside the data sheet's {low:.0f} to {high:.0f} °C "
                        f"({product.name})",
                        f"{mend} it",
                    )
                )
    if product is not None and product.humidity is not None:
        low, high = product.humidity
        if not low <= air.humidity <= high:
            mend = "wet the floor or wait" if air.humidity < low else "dry or warm the air"
            faults.append(
                AirFault(
                    f"the humidity, {100 * air.humidity:.0f} %, is outside the data sheet's {100 * low:.0f} to "
                    f"{100 * high:.0f} % ({product.name})",
                    mend,
                )
            )
    return tuple(faults)
