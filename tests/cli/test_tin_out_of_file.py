"""A letdown whose colour a photograph can't hold: a panel of less of the tint is named, or less of it is weighed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from booth.card_scenes import Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.phone_look import PhoneLook
from booth.photo_booth import Shot
from finishmatch.photo.card.layout import card_layout
from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
NM = np.linspace(400, 700, 31)
VIVID = 0.003 + 0.8 * np.exp(-(((NM - 522) / 16) ** 2))


@pytest.fixture(scope="module")
def photograph(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A photograph of two such samples on the card, by a phone that makes colours livelier."""
    drawn = drawn_card(
        bundled_print(), {"standard": VIVID, "spray-out": 0.9 * VIVID}, "one", "D65", chart=True, layout=card_layout()
    )
    shot = Shot(width=900, height=1150, noise=0.006, exposure=0.78, encoding="Display P3", look=PhoneLook(1.3))
    path = tmp_path_factory.mktemp("vivid") / "letdown.jpg"
    path.write_bytes(card_jpeg(card_photograph(drawn, Pose(0.63, 2, 5, 10), Lamp(0.6, 1.5, 30), shot), "Display P3"))
    return path


def test_a_panel_of_less_of_the_tint_is_named(cli: Cli, bench: Path, home: Path, photograph: Path) -> None:
    put_ledger(home, ["job new Roof"])
    for panel, weaker in (("blue 50/50", "blue 20/80"), ("blue 5/95", "blue 1/99"), ("blue 1/99", None)):
        ran = cli("job", "tin", "J1", panel, "--seen", photograph, "--bank", bench / "bank")
        assert "its colour lies outside the file's" in ran.error
        less = "weigh less of the tint into it, and say how much (--weighed)"
        assert ran.error.endswith(
            f"; or {less if weaker is None else f'draw it as the panel {weaker}, which holds less of the tint'}"
        )
