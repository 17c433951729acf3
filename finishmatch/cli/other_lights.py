"""What is said of lights in which a standard without a spectrum can't be known."""

from __future__ import annotations

from collections.abc import Iterable

from finishmatch.mix.metamers import LightRisk


def risks_said(risks: Iterable[LightRisk]) -> str:
    """Return how a match to a standard without a spectrum may part from it in further lights; "" without any."""
    found = list(risks)
    if not found:
        return ""
    half = ", ".join(f"{risk.light} {risk.median:.1f}" for risk in found)
    most = ", ".join(f"{risk.light} {risk.most:.1f}" for risk in found)
    return f"in other lights, as its standard's pigments aren't known: expect ΔE00 {half}; 9 in 10 within {most}"
