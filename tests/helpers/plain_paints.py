"""Four paints of an invented bank without a fit: smooth K and S known exactly, so that a test can do its sums."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch.correct.tin import Tin
from finishmatch.evidence.target import colour_target
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.surface import Surface
from finishmatch.readings import Reading

NM = np.arange(400, 701, 10)
NAMES = ("white", "blue", "red", "black")


def _band(centre: float, width: float) -> np.ndarray:
    return np.exp(-(((NM - centre) / width) ** 2))


PAINTS = TintOptics(
    names=NAMES,
    K=np.stack([
        0.001 + 0.03 * _band(400, 20), 0.3 * _band(620, 70) + 0.01, 0.4 * _band(490, 60) + 0.01, np.full(31, 0.6),
    ]),
    S=np.stack([np.full(31, 0.25), 0.02 + 0 * NM, 0.03 + 0.02 * _band(650, 60), np.full(31, 0.01)]),
    dry_ml_per_g=np.array([0.30, 0.40, 0.45, 0.50]),
    surface=Surface(0.04, 0.575),
    per_um=True,
)  # fmt: skip
TINTS = (
    *(
        Tint(name, "white" if name == "white" else "tint", "", density, density * dry, price, stock)
        for name, density, dry, price, stock in zip(
            NAMES, (1.4, 1.1, 1.2, 1.0), PAINTS.dry_ml_per_g, (10.0, 40.0, 60.0, 20.0), (900.0, 200.0, 150.0, 100.0),
            strict=True,
        )
    ),
    Tint("clear", "clear", "", 1.0, 0.4, 8.0, 500.0),
)  # fmt: skip


def grams(**poured: float) -> np.ndarray:
    """Grams of the four paints, by name."""
    return np.array([poured.get(name, 0.0) for name in NAMES])


WISHED = grams(white=300.0, blue=60.0, red=20.0)
POURED = grams(white=300.0, blue=50.0, red=20.0)
GOAL = colour_target(Reading("goal", predicted_reflectance(PAINTS, WISHED)[None]), ("D65", "A"), 10)


def tin_of(poured: np.ndarray = POURED, **other: object) -> Tin:
    """A tin that is exactly what the paints make of it."""
    tin = Tin(PAINTS, poured, float(poured.sum()), np.zeros(31), None, GOAL, 1e-8 * np.eye(4), 0.0)
    return replace(tin, **other)


def batch_of(poured: np.ndarray) -> tuple[tuple[str, float], ...]:
    return tuple((name, float(g)) for name, g in zip(NAMES, poured, strict=True) if g > 0)


def card_of(poured: np.ndarray, off: float = 0.0) -> Reading:
    return Reading("card", (predicted_reflectance(PAINTS, poured) + off)[None])


def of_400_g(added: np.ndarray) -> float:
    """What a tin of 400 g grows by."""
    return float(added.sum()) / 400
