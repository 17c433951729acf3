"""What the room comes with: figures of spraying, areas of panels, rule sets; a shop's own are read elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from finishmatch.readings.areas_file import parse_areas
from finishmatch.readings.rules_file import RuleSet, parse_rules
from finishmatch.toml_reader import packaged_text, packaged_toml


@dataclass(frozen=True)
class SprayingFigures:
    """Figures that stand in where nothing is given; the meanings stand in spraying.toml («common practice»)."""

    transfer: float
    waste: float
    coat_minutes: float
    margin_c: float
    two_pack_c: float
    halving_c: float
    flash_off: float
    recoat_after: float


@cache
def common_spraying_figures() -> SprayingFigures:
    """Return the figures the tool comes with."""
    data = packaged_toml("finish", "spraying.toml")
    return SprayingFigures(**data["spraying"], **data["air"], **data["sheet"])


@cache
def common_areas() -> Mapping[str, float]:
    """Return the areas of panels, m², that the tool comes with («common practice»)."""
    return MappingProxyType(parse_areas(packaged_text("finish", "panels.toml"), "panels.toml"))


@cache
def common_rules() -> Mapping[str, RuleSet]:
    """Return the rule sets that the tool comes with, by name."""
    names = ("federal", "district", "europe")
    return MappingProxyType(
        {name: parse_rules(packaged_text("finish", f"rules/{name}.toml"), name, name) for name in names}
    )
