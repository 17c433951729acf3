"""Quantities as they are shown: metric, US, or both. The factors are pint's."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.readings.quantities import converted


@dataclass(frozen=True)
class Units:
    """The units in which quantities are shown: "both", "metric" or "us"."""

    shown: str = "both"

    def area(self, m2: float) -> str:
        """Return an area."""
        return self._pair(f"{m2:.2f} m²", f"{converted(m2, 'meter**2', 'foot**2'):.1f} ft²")

    def build(self, um: float) -> str:
        """Return a film build."""
        return self._pair(f"{um:.0f} µm", f"{converted(um, 'micrometer', 'thou'):.1f} mils")

    def volume(self, litres: float) -> str:
        """Return a volume: millilitres and fluid ounces of a small one, litres and US gallons of a large one."""
        metric = f"{1000 * litres:.0f} ml" if litres < 0.9995 else f"{litres:.2f} L"
        gallons = converted(litres, "liter", "US_liquid_gallon")
        us = f"{gallons:.2f} US gal" if gallons >= 1 else f"{converted(litres, 'liter', 'US_fluid_ounce'):.1f} US fl oz"
        return self._pair(metric, us)

    def weight(self, grams: float) -> str:
        """Return a weight; grams to a tenth, as they are weighed."""
        ounces = converted(grams, "gram", "ounce")
        us = f"{ounces:.2f} oz" if ounces < 32 else f"{ounces / 16:.2f} lb"
        return self._pair(f"{grams:.1f} g", us)

    def temperature(self, c: float) -> str:
        """Return a temperature."""
        return self._pair(f"{c:.1f} °C", f"{converted(c, 'degC', 'degF'):.1f} °F")

    def warmer(self, c: float) -> str:
        """Return a difference of temperatures."""
        return self._pair(f"{c:.1f} °C", f"{1.8 * c:.1f} °F")

    def content(self, g_l: float) -> str:
        """Return a content of solvent."""
        return self._pair(f"{g_l:.0f} g/L", f"{converted(g_l, 'gram/liter', 'pound/US_liquid_gallon'):.2f} lb/gal")

    def coverage(self, m2_l: float) -> str:
        """Return the area a volume covers."""
        us = converted(m2_l, "meter**2/liter", "foot**2/US_liquid_gallon")
        return self._pair(f"{m2_l:.2f} m²/L", f"{us:.0f} ft²/US gal")

    def _pair(self, metric: str, us: str) -> str:
        if self.shown == "both":
            return f"{metric} ({us})"
        return metric if self.shown == "metric" else us


def duration(minutes: float) -> str:
    """Return a time: "45 min", "3 h 20 min", "2 days 4 h"."""
    whole = max(1, round(minutes)) if minutes > 0 else 0
    days, rest = divmod(whole, 24 * 60)
    hours, left = divmod(rest, 60)
    if days:
        return f"{days} day{'s' if days > 1 else ''}" + (f" {hours} h" if hours else "")
    if hours:
        return f"{hours} h" + (f" {left} min" if left else "")
    return f"{left} min"


def clock_time(start_minute: int, minute: float) -> str:
    """Return the time of day at a minute from the start; the days after the first are counted."""
    at = round(start_minute + minute)
    days, rest = divmod(at, 24 * 60)
    return f"{rest // 60:02d}:{rest % 60:02d}" + (f" +{days} d" if days else "")
