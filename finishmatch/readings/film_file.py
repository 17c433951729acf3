"""A film file: build readings of a panel's layers at named places."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.table_file import read_table


@dataclass(frozen=True)
class LayerReadings:
    """One layer of a panel: its place from the metal up (1 lies on the metal), and its builds in µm by place."""

    layer: str
    position: int
    builds_um: tuple[float, ...]
    places: tuple[str, ...]


def read_film(path: Path) -> tuple[LayerReadings, ...]:
    """Read build readings from a CSV with the columns ``layer,position,place,build_um``, from the metal up."""
    table = read_table(Path(path), required=("layer", "position", "place", "build_um"), optional=())
    layers: dict[str, tuple[int, list[float], list[str]]] = {}
    for row in table.rows:
        position = row.number("position", 1, 50)
        if position != int(position):
            raise InputError(row.where("position"), f"{position:g} is not a whole number", "count from the metal up")
        name = row.text("layer")
        below = next((other for other, (place, _, _) in layers.items() if place == position and other != name), None)
        if below is not None:
            raise InputError(
                row.where("position"),
                f"layer {int(position)} is {below[:40]!r} already",
                "count the layers from the metal up",
            )
        at, builds, places = layers.setdefault(name, (int(position), [], []))
        if at != position:
            raise InputError(row.where("position"), "the layer stands at two positions", "give it one")
        builds.append(row.number("build_um", above=0, high=20_000))
        places.append(row.cells["place"])
    return tuple(
        LayerReadings(name, at, tuple(builds), tuple(places))
        for name, (at, builds, places) in sorted(layers.items(), key=lambda item: item[1][0])
    )
