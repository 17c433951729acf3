"""The shop figures the judgement rests on, read from rework.toml and steps.toml («common practice»)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from finishmatch.defects.names import by_key, find_or_refuse
from finishmatch.toml_reader import packaged_toml

Pair = tuple[float, float]  # mean and standard deviation, µm


@dataclass(frozen=True)
class Step:
    """A step of flattening or polishing and what it takes, in µm; readings and panels it was calibrated with."""

    name: str
    synonyms: tuple[str, ...]
    kind: str
    mean_um: float
    panel_sd_um: float
    spot_sd_um: float
    readings: int = 0
    panels: int = 0


@dataclass(frozen=True)
class Work:
    """What an option takes: hours whatever the number of spots, minutes a spot, material, days; see rework.toml."""

    hours: float
    spot_minutes: float
    material: float
    wait_days: float
    cured: bool


@dataclass(frozen=True)
class Record:
    """How an option came out in the shop: how often it came right, failed, and broke through."""

    right: int = 0
    failed: int = 0
    broke_through: int = 0

    @property
    def tried(self) -> int:
        """How often it was tried with the film there."""
        return self.right + self.failed


@dataclass(frozen=True)
class ReworkFigures:
    """What rework takes, what must stay, and how sure a reading is; the meanings stand in the data files.

    record holds the shop's own outcomes by option and whether contamination was suspected.
    """

    gauge_um: float
    spread: float
    reach_mm: tuple[float, ...]
    own: tuple[float, ...]
    patch_mm: float
    enough_readings: int
    depth_error_um: float
    depth_error: float
    unread_depth_um: Mapping[str, Pair]
    rim_um: Pair
    steps: Mapping[str, Step]
    sequence: Mapping[str, tuple[str, ...]]
    keep_um: Mapping[str, float]
    max_risk: float
    level_count: int
    level_size_mm: float
    strip_count: int
    strip_size_mm: float
    polish_passes: int
    polish_least: float
    leave_quantity: int
    leave_size: int
    leave_intensity: int
    hour_cost: float
    day_cost: float
    work: Mapping[str, Work]
    cure_days: float
    window_days: float
    prior_jobs: float
    success: Mapping[str, float]
    success_contaminated: Mapping[str, float]
    record: Mapping[tuple[str, bool], Record] = field(default_factory=dict)


@cache
def common_rework_figures() -> ReworkFigures:
    """Return the figures the tool comes with."""
    data = packaged_toml("defects", "rework.toml")
    readings, depth, limits = data["readings"], data["depth"], data["limits"]
    return ReworkFigures(
        gauge_um=readings["gauge_um"],
        spread=readings["spread"],
        reach_mm=tuple(readings["reach_mm"]),
        own=tuple(readings["own"]),
        patch_mm=readings["patch_mm"],
        enough_readings=readings["enough"],
        depth_error_um=depth["error_um"],
        depth_error=depth["error"],
        unread_depth_um={form: tuple(depth[f"{form}_um"]) for form in ("proud", "surface")},
        rim_um=tuple(data["cut"]["rim_um"]),
        steps=common_steps(),
        sequence={key: tuple(names) for key, names in data["sequence"].items()},
        keep_um=dict(data["keep_um"]),
        **limits,
        hour_cost=data["cost"]["hour"],
        day_cost=data["cost"]["day"],
        work={key: Work(**work) for key, work in data["work"].items()},
        cure_days=data["cure"]["cure_days"],
        window_days=data["cure"]["window_days"],
        prior_jobs=data["record"]["prior_jobs"],
        success=dict(data["success"]),
        success_contaminated=dict(data["success_contaminated"]),
    )


@cache
def common_steps() -> dict[str, Step]:
    """Return the steps the tool comes with, by their name."""
    return {
        item["name"]: Step(
            item["name"],
            tuple(item["synonyms"]),
            item["kind"],
            item["mean_um"],
            item["panel_sd_um"],
            item["spot_sd_um"],
        )
        for item in packaged_toml("defects", "steps.toml")["step"]
    }


def find_step(text: str) -> str:
    """Return the name of a step from what the shop calls it ("1500", "cutting compound").

    Raises
    ------
    InputError
        For a step that is not known; the nearest known ones are offered.
    """
    known = by_key(common_steps().values(), lambda step: (step.name, *step.synonyms))
    listed = "'finishmatch defect calibrate' lists them"
    return find_or_refuse(text, known, lambda step: step.name, "step", listed).name
