"""The picture and the table of the house show every room there is."""

from __future__ import annotations

import re

import pytest

from tests.conftest import ROOT

ROOMS = sorted(
    path.stem
    for path in (ROOT / "finishmatch").iterdir()
    if (path.suffix == ".py" and not path.stem.startswith("_")) or (path / "__init__.py").is_file()
)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_is_in_the_picture_and_in_the_table(room: str) -> None:
    picture = (ROOT / "docs/house.svg").read_text("utf-8")
    words = {word for text in re.findall(r">([^<]+)</text>", picture) for word in re.split(r"[ ·,;]+", text)}
    assert room in words
    house = (ROOT / "docs/design.md").read_text("utf-8").split("## The house")[1].split("\n## ")[0]
    assert f"`{room}`" in house
