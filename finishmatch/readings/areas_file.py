"""The areas of panels, to be painted on the outside: the shop's table."""

from __future__ import annotations

from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.quantities import AREA, quantity
from finishmatch.readings.table_file import read_text
from finishmatch.readings.toml_file import Node
from finishmatch.toml_reader import parse_toml


def read_areas(path: Path) -> dict[str, float]:
    """Read a table of panels (TOML), or raise `InputError`."""
    return parse_areas(read_text(Path(path)), str(path))


def parse_areas(text: str, file: str) -> dict[str, float]:
    """Return the areas, m², by panel, of a TOML text; `file` is what it is called in messages."""
    table = Node(parse_toml(text, file), file)
    table.only("source", "areas", "provenance")
    areas = table.table("areas")
    if not areas.data:
        raise InputError(file, "there is no panel in it", 'add [areas] with lines such as roof = "1.6 m2"')
    return {name: quantity(areas.where(name), value, AREA, above=0) for name, value in areas.data.items()}
