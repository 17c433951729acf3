"""Invented evidence and how it scatters, so that what is stated of it can be counted.

The figures are the booth's own («common practice»), apart from those the program weighs by: one of the program's that
goes wrong shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import de00, de00_metric
from finishmatch.evidence import common_catalogue
from finishmatch.readings import Reading
from finishmatch.readings.evidence_file import EvidenceSample

CATALOGUE = common_catalogue()
READING_SD = 0.15


@dataclass(frozen=True)
class Happened:
    """What time and handling did: [mean, SD] of L*, of chroma as a share, and of b*; `b_white` is that of a white."""

    L: tuple[float, float] = (0.0, 0.0)
    chroma: tuple[float, float] = (0.0, 0.0)
    b: tuple[float, float] = (0.0, 0.0)
    b_white: tuple[float, float] | None = None


HAPPENED = {
    "tin-binder": Happened(L=(0.0, 0.25), b=(0.2, 0.3)),
    "perhaps-settled": Happened(L=(-0.3, 0.9), chroma=(0.0, 0.05), b=(0.0, 0.5)),
    "dark-yellowed": Happened(L=(-0.1, 0.25), b=(0.4, 0.4), b_white=(2.0, 2.0)),
    "faded": Happened(L=(1.0, 1.2), chroma=(-0.10, 0.10), b=(0.5, 1.0)),
    "printed": Happened(L=(0.0, 1.5), chroma=(-0.05, 0.10), b=(1.0, 1.5)),
}


@dataclass(frozen=True)
class Plan:
    """A kind with its condition, as it is to be drawn: what happened to it, and how it scatters (SD, ΔE00)."""

    kind: str
    happened: tuple[str, ...]
    spread: float
    vehicle_spread: float = 0.0
    other_vehicle: bool = False
    told: tuple[tuple[str, str], ...] = ()


TIN = Plan("leftover tin", ("tin-binder",), 0.35, told=(("stirred", "yes"), ("strained", "yes"), ("dried_days", "14")))
DOUBTFUL_TIN = Plan("leftover tin", ("tin-binder", "perhaps-settled"), 0.35)
SHELTERED = Plan("sheltered paint", ("dark-yellowed",), 0.45, 0.3)
EXPOSED = Plan("exposed paint", ("faded",), 0.7, 0.3, told=(("polished", "after"),))
SURVIVOR = Plan("another vehicle", ("dark-yellowed",), 0.5, 0.7, True, (("sheltered", "yes"),))
CHIP = Plan("chip or brochure", ("printed",), 1.2)
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
    plans: Sequence[Plan], truth: np.ndarray, r: np.random.Generator, tau: float = 0.0, spread: float = 1.0
) -> list[EvidenceSample]:
    """Samples of a colour: effects common to all that have them, spreads by kind and vehicle, excess tau, readings.

    `spread` multiplies the kinds' own spread: above 1 they are worse than they are taken to be.
    """
    back = np.linalg.inv(de00_metric(truth))
    drawn = dict(zip(CATALOGUE.effects, r.standard_normal((len(CATALOGUE.effects), 3)), strict=True))
    shifts = {name: _shift(happened, float(truth[0]), drawn[name]) for name, happened in HAPPENED.items()}
    this_vehicle = r.standard_normal(3)
    found = []
    for i, plan in enumerate(plans):
        lab = truth.copy()
        for name in plan.happened:
            lightness, chroma, yellow = shifts[name]
            lab = lab + np.array([lightness, chroma * truth[1], chroma * truth[2] + yellow])
        vehicle = r.standard_normal(3) if plan.other_vehicle else this_vehicle
        own = spread * (plan.spread * r.standard_normal(3) + plan.vehicle_spread * vehicle)
        lab = lab + back @ (own + tau * r.standard_normal(3))
        repeats = [lab + back @ (READING_SD * r.standard_normal(3)) for _ in range(r.integers(1, 5))]
        found.append(sample(f"{plan.kind} {i + 1}", plan.kind, repeats, **dict(plan.told)))
    return found


def _shift(happened: Happened, lightness: float, drawn: np.ndarray) -> np.ndarray:
    """What happened, as drawn, to a colour of a lightness; from L* 50 upwards b* goes to that of a white."""
    white = happened.b_white or happened.b
    part = min(max((lightness - 50) / 50, 0.0), 1.0)
    b = [own + part * (other - own) for own, other in zip(happened.b, white, strict=True)]
    return np.array([mean + sd * z for (mean, sd), z in zip((happened.L, happened.chroma, b), drawn, strict=True)])


def apart(truth: np.ndarray, de: float, r: np.random.Generator) -> np.ndarray:
    """A colour at a ΔE00 from another, in a random direction."""
    direction = r.standard_normal(3)
    back = np.linalg.inv(de00_metric(truth)) @ (direction / np.linalg.norm(direction))
    low, high = 0.0, 4 * de
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if de00(truth, truth + middle * back) < de else (low, middle)
    return truth + low * back
