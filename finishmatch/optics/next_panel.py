"""Which panel would show most about a bank, if it were drawn next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics.bank import Bank
from finishmatch.optics.mixture import TintOptics, mixture_reflectance

PANEL_G = 100.0
_SHARES = (0.03, 0.1, 0.3, 0.6)  # of the tint by weight in white, of the letdowns thought of


@dataclass(frozen=True)
class PanelIdea:
    """A panel that isn't there yet: what to weigh, and the uncertainty it would be drawn to end, ΔE00."""

    parts: tuple[tuple[str, float], ...]
    unsure_de00: float


def next_panels(bank: Bank, optics: TintOptics, count: int = 3) -> tuple[PanelIdea, ...]:
    """Return the panels whose colour is predicted least surely, each of another tint, the least sure first.

    Parameters
    ----------
    bank : Bank
        For its white, black and the panels there are.
    optics : TintOptics
        Fitted, with draws.
    count : int

    Notes
    -----
    A panel decides what the draws of K and S disagree on: the mean ΔE00 of the drawn colours from their mean.
    """
    if optics.draws is None:
        return ()
    roles = {tint.role: tint.name for tint in bank.tints}
    white, black = roles.get("white"), roles.get("black")
    ideas: list[PanelIdea] = []
    for name in optics.names:
        best: PanelIdea | None = None
        for parts in _thought_of(name, white, black):
            if all(tint in optics.names for tint, _ in parts):
                idea = PanelIdea(parts, _unsure(optics, parts))
                best = idea if best is None or idea.unsure_de00 > best.unsure_de00 else best
        if best is not None:
            ideas.append(best)
    return tuple(sorted(ideas, key=lambda idea: -idea.unsure_de00)[:count])


def _thought_of(name: str, white: str | None, black: str | None) -> list[tuple[tuple[str, float], ...]]:
    others = [other for other in (white, black) if other is not None and other != name]
    mixed = [((name, PANEL_G * share), (other, PANEL_G * (1 - share))) for other in others for share in _SHARES]
    return [((name, PANEL_G),), *mixed]


def _unsure(optics: TintOptics, parts: tuple[tuple[str, float], ...]) -> float:
    own = optics.chosen([tint for tint, _ in parts])
    assert own.draws is not None
    grams: Floats = np.array([weight for _, weight in parts])
    drawn = mixture_reflectance(grams * own.dry_ml_per_g, own.draws[:, 0], own.draws[:, 1], own.surface)
    labs = reflectance_to_lab(drawn)
    return float(de00(labs.mean(axis=0), labs).mean())
