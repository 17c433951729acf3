"""A letdown whose colour a photograph can't hold: a panel of less of the tint is named, or less of it is weighed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger
from tests.helpers.photo_frames import vivid_letdown

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


@pytest.fixture(scope="module")
def photograph(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A photograph of two such samples."""
    return vivid_letdown(tmp_path_factory.mktemp("vivid") / "letdown.jpg")


def test_a_panel_of_less_of_the_tint_is_named(cli: Cli, bench: Path, home: Path, photograph: Path) -> None:
    put_ledger(home, ["job new Roof"])
    for panel, weaker in (("blue 50/50", "blue 20/80"), ("blue 5/95", "blue 1/99"), ("blue 1/99", None)):
        ran = cli("job", "tin", "J1", panel, "--seen", photograph, "--bank", bench / "bank")
        assert "its colour lies outside the file's" in ran.error
        less = "weigh less of the tint into it, and say how much (--weighed)"
        assert ran.error.endswith(
            f"; or {less if weaker is None else f'draw it as the panel {weaker}, which holds less of the tint'}"
        )
