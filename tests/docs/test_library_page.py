"""The page of the library: every line of its notebook runs, and its numbers are those of the commands."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import finishmatch as fm
from finishmatch.cli.common import _plain
from tests.conftest import Ran
from tests.helpers.same_numbers import same_json
from tools.doc_pages import ROOT

Cli = Callable[..., Ran]
PAGE = ROOT / "docs/library.md"
POURED = {"white": 444.2, "blue": 28.7, "soft black": 25.4, "violet": 1.6}


def notebook() -> list[str]:
    """The lines of the page's notebook."""
    return PAGE.read_text("utf-8").split("```python\n")[1].split("```")[0].splitlines()


@pytest.fixture
def names(swatches: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What the notebook holds after every line of it ran beside a copy of the scenario."""
    monkeypatch.chdir(swatches.parent)
    held: dict[str, Any] = {}
    for line in notebook():
        exec(line, held)
    return held


def test_the_notebook_has_under_twenty_lines() -> None:
    assert len([line for line in notebook() if line.strip()]) < 20


def test_its_numbers_are_those_of_the_commands_to_the_last_printed_digit(names: dict[str, Any], cli: Cli) -> None:
    tin, bank = "swatches/evidence.csv@tin", ("--bank", "swatches/bank")
    ran = cli("mix", tin, *bank, "--grams", 500, "--max-tints", 4, "--json")
    same_json(_plain(names["mixed"].as_dict()), ran.json)
    files = ("--batch", "swatches/batch1.csv", "--sprayed", "swatches/card1.csv")
    same_json(_plain(names["correction"].as_dict()), cli("correct", tin, *bank, *files, "--json").json)
    compared = fm.compare(names["target"], "swatches/card1.csv", tolerance=0.5)
    ran = cli("compare", tin, "swatches/card1.csv", "--tolerance", 0.5, "--json")
    same_json(_plain(compared.as_dict()), ran.json)


def test_the_other_functions_give_what_their_commands_print(names: dict[str, Any], cli: Cli) -> None:
    ran = cli("evidence", "weigh", "swatches/survivors.csv", "--ageing", "--json")
    same_json(_plain(fm.weigh_evidence("swatches/survivors.csv", ageing=True).as_dict()), ran.json)
    ran = cli("photo", "read", "swatches/photo.jpg", "--light", "A", "--json")
    same_json(_plain(fm.read_photo("swatches/photo.jpg", light="A").as_dict()), ran.json)


def test_a_recipe_is_predicted_as_it_was_proposed(names: dict[str, Any]) -> None:
    recipe, card = names["recipe"], names["card"]
    np.testing.assert_allclose(card.reflectance, recipe.reflectance, rtol=1e-12)
    np.testing.assert_allclose(card.lab, recipe.lab, rtol=1e-12)
    document = card.as_dict()
    assert {"predicted", "u95", "lights", "warnings"} <= set(document)
    assert set(document["predicted"]) == {"wavelengths", "reflectance", "lab"}
    # the target lies about where the recipe does, so a card differs from it about as much as from the recipe
    assert card.u95 == pytest.approx(recipe.intervals["D65"][1], rel=0.25)


@pytest.mark.parametrize(
    "batch", [POURED, tuple(POURED.items()), "swatches/batch1.csv"], ids=["a mapping", "pairs", "a file"]
)
def test_a_batch_may_be_given_in_three_ways(names: dict[str, Any], batch: Any) -> None:
    found = fm.correct(names["target"], names["fit"], batch, "swatches/card1.csv")
    assert found.additions == names["correction"].additions


def test_a_fit_may_be_a_folder_or_a_bank(names: dict[str, Any]) -> None:
    fit = fm.fit_bank(fm.read_bank("swatches/bank"))
    assert pytest.approx(names["fit"].fit.optics.K, rel=1e-6) == fit.fit.optics.K
    assert fm.predict("swatches/bank", POURED).u95 == pytest.approx(fm.predict(fit, POURED).u95, abs=1e-6)


def test_an_unknown_wish_is_refused_and_the_nearest_named(names: dict[str, Any]) -> None:
    with pytest.raises(fm.InputError, match="did you mean max_tints"):
        fm.mix(names["target"], names["fit"], 500, max_tint=3)


def test_importing_the_library_loads_nothing_and_its_names_are_functions() -> None:
    code = (
        "import sys, finishmatch as fm\n"
        "assert not {'numpy', 'click', 'finishmatch.library'} & set(sys.modules)\n"
        "from finishmatch.mix.propose import propose_recipes\n"
        "from finishmatch.correct.correct import correct_batch\n"
        "assert all(callable(getattr(fm, name)) for name in fm.__all__)\n"
        "assert fm.mix.__module__ == fm.correct.__module__ == 'finishmatch.library'\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stderr) == (0, "")
