"""`job pour` of a tin with a tint that was never drawn down: it is recorded, and what its card is good for is said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
BEGUN = "no panel of the bank shows yet how strong "


@pytest.fixture
def mixed(bench: Path, home: Path) -> Path:
    """A job with a target and a recipe; its bank has two tins since that weren't drawn down."""
    put_ledger(home, ["job new Roof", "mix target.csv --bank bank --grams 500 --recipes 1 --job J1"])
    with (bench / "bank/tints.csv").open("a", encoding="utf-8") as table:
        table.write("brown,tint,PBr7,1.2,0.35,30,500\nochre,tint,PY42,1.2,0.35,30,500\nbinder,clear,,1,0.35,9,500\n")
    return bench


def test_a_tint_without_panels_is_told_of_at_once_and_the_batch_is_recorded(cli: Cli, mixed: Path) -> None:
    ran = cli("job", "pour", "J1", "white=443.6", "blue=27.5", "brown=4", "--json")
    assert ran.status == 0
    assert ran.json["recorded"]["number"] == 4
    (told,) = [note for note in ran.json["warnings"] if note.startswith(BEGUN)]
    assert told == (
        f"{BEGUN}brown is: until letdowns of it are drawn and read, a card of this batch can't be predicted, corrected "
        "or learnt from"
    )
    assert cli("predict", "--job", "J1").status == 2  # as it was said
    sprayed = cli("job", "spray", "J1", "45,-5,-15")
    assert "estimated: the batch, tint 'brown': its optics aren't known" in " ".join(sprayed.out.split())
    ran = cli("job", "pour", "J1", "ochre=2", "binder=10", "--to", "last", "--json")
    assert [note for note in ran.json["warnings"] if note.startswith(f"{BEGUN}brown and ochre are: ")]


def test_a_recipe_overshot_by_one_is_answered_in_proportion_alone(cli: Cli, mixed: Path) -> None:
    ran = cli("job", "pour", "J1", "--as", 3, "blue=40", "brown=4", "--json")
    assert (ran.status, ran.json["stands"]["overshot"], ran.json["stands"]["against"]) == (0, True, None)
    assert sum(part["grams"] for part in ran.json["parts"] if part["tint"] == "brown") == 4


def test_a_masstone_alone_tells_nothing_of_strength_either(cli: Cli, mixed: Path) -> None:
    with (mixed / "bank/panels.csv").open("a", encoding="utf-8") as table:
        table.write("brown masstone,brown,100\n")
    readings = (mixed / "bank/readings.csv").read_text("utf-8").splitlines()
    black = next(line for line in readings if line.startswith("black masstone"))
    (mixed / "bank/readings.csv").write_text("\n".join([*readings, black.replace("black", "brown"), ""]), "utf-8")
    assert BEGUN in " ".join(cli("job", "pour", "J1", "white=443.6", "blue=27.5", "brown=4").out.split())


def test_nothing_is_said_of_tints_that_were_drawn_down(cli: Cli, mixed: Path) -> None:
    assert BEGUN not in " ".join(cli("job", "pour", "J1", "white=443.6", "blue=27.5", "binder=5").out.split())
