"""The shop figures the judgement rests on, read from rework.toml («common practice»)."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

Pair = tuple[float, float]  # mean and standard deviation, µm


@dataclass(frozen=True)
class Practice:
    """What rework takes, what must stay, and how sure a reading is; the meanings stand in rework.toml."""

    gauge_um: float
    spread: float
    enough_readings: int
    depth_error_um: float
    depth_error: float
    unread_depth_um: Mapping[str, Pair]
    rim_um: Pair
    flat_um: Pair
    polish_um: Pair
    keep_um: Mapping[str, float]
    max_risk: float
    level_count: int
    level_size_mm: float
    success: Mapping[str, float]
    success_contaminated: Mapping[str, float]


@cache
def common_practice() -> Practice:
    """Return the figures the tool comes with."""
    text = resources.files("finishmatch.defects").joinpath("data/rework.toml").read_text("utf-8")
    data = tomllib.loads(text)
    readings, depth, cut, limits = data["readings"], data["depth"], data["cut"], data["limits"]
    return Practice(
        gauge_um=readings["gauge_um"],
        spread=readings["spread"],
        enough_readings=readings["enough"],
        depth_error_um=depth["error_um"],
        depth_error=depth["error"],
        unread_depth_um={form: tuple(depth[f"{form}_um"]) for form in ("proud", "surface")},
        rim_um=tuple(cut["rim_um"]),
        flat_um=tuple(cut["flat_um"]),
        polish_um=tuple(cut["polish_um"]),
        keep_um=dict(data["keep_um"]),
        max_risk=limits["max_risk"],
        level_count=limits["level_count"],
        level_size_mm=limits["level_size_mm"],
        success=dict(data["success"]),
        success_contaminated=dict(data["success_contaminated"]),
    )
