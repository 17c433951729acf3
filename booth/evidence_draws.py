"""Invented evidence drawn as the kinds say it scatters, so that what is stated of it can be counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import de00, de00_metric
from finishmatch.evidence import EvidenceCatalogue, common_catalogue
from finishmatch.evidence.conditions import effects_of, not_replaced
from finishmatch.readings import Reading
from finishmatch.readings.evidence_file import EvidenceSample

CATALOGUE = common_catalogue()
READING_SD = 0.15


@dataclass(frozen=True)
class Plan:
    """A kind with its condition, as it is to be drawn."""

    kind: str
    told: tuple[tuple[str, str], ...] = ()


TIN = Plan("leftover tin", (("stirred", "yes"), ("strained", "yes"), ("dried_days", "14")))
DOUBTFUL_TIN = Plan("leftover tin")
SHELTERED = Plan("sheltered paint")
EXPOSED = Plan("exposed paint", (("polished", "after"),))
SURVIVOR = Plan("another vehicle", (("sheltered", "yes"),))
CHIP = Plan("chip or brochure")
ALL = (TIN, DOUBTFUL_TIN, SHELTERED, EXPOSED, SURVIVOR, CHIP)


def some_colour(r: np.random.Generator) -> np.ndarray:
    """A paint colour anywhere a car might wear one."""
    hue, chroma = r.uniform(0, 2 * np.pi), r.uniform(0, 45)
    return np.array([r.uniform(20, 90), chroma * np.cos(hue), chroma * np.sin(hue)])


def sample(name: str, kind: str, labs: Sequence[Sequence[float]], **more: str) -> EvidenceSample:
    """A sample typed as Lab; conditions and other columns by name."""
    told = {column: text for column, text in more.items() if column in CATALOGUE.columns}
    rest = {column: text for column, text in more.items() if column not in CATALOGUE.columns}
    return EvidenceSample(name, kind, Reading(name, np.array(labs, dtype=float)), told, **rest)


def draw(
    plans: Sequence[Plan],
    truth: np.ndarray,
    r: np.random.Generator,
    tau: float = 0.0,
    spread: float = 1.0,
    catalogue: EvidenceCatalogue = CATALOGUE,
) -> list[EvidenceSample]:
    """Samples of a colour: effects common to all that have them, spreads by kind and vehicle, excess tau, readings.

    `spread` multiplies what the kinds say of their own spread: above 1 they are worse than they are taken to be.
    """
    back = np.linalg.inv(de00_metric(truth))
    effects = {
        name: np.array([r.normal(*effect.L), r.normal(*effect.chroma), r.normal(*effect.b_at(float(truth[0])))])
        for name, effect in catalogue.effects.items()
    }
    this_vehicle = r.standard_normal(3)
    found = []
    for i, plan in enumerate(plans):
        kind = catalogue.find_kind(plan.kind, "")
        lab = truth.copy()
        for name in not_replaced(effects_of(kind, dict(plan.told), ""), catalogue.effects):
            lightness, chroma, yellow = effects[name]
            lab = lab + np.array([lightness, chroma * truth[1], chroma * truth[2] + yellow])
        vehicle = r.standard_normal(3) if kind.other_vehicle else this_vehicle
        own = spread * (kind.spread * r.standard_normal(3) + kind.vehicle_spread * vehicle)
        lab = lab + back @ (own + tau * r.standard_normal(3))
        repeats = [lab + back @ (READING_SD * r.standard_normal(3)) for _ in range(r.integers(1, 5))]
        found.append(sample(f"{plan.kind} {i + 1}", plan.kind, repeats, **dict(plan.told)))
    return found


def apart(truth: np.ndarray, de: float, r: np.random.Generator) -> np.ndarray:
    """A colour at a ΔE00 from another, in a random direction."""
    direction = r.standard_normal(3)
    back = np.linalg.inv(de00_metric(truth)) @ (direction / np.linalg.norm(direction))
    low, high = 0.0, 4 * de
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if de00(truth, truth + middle * back) < de else (low, middle)
    return truth + low * back
