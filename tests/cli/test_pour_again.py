"""More of the paint that was right: a batch whose card was inside is poured again, scaled, as a recipe of its own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.job_document import job_document
from finishmatch.ledger import open_ledger
from finishmatch.steps.handover.kept_job import kept_job
from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
RIGHT, OUTSIDE = 4, 9
MADE = (
    "job new Roof",
    "mix target.csv --bank bank --grams 500 --recipes 1 --job J1",
    "job pour J1 batch1.csv",
    "judge card1.csv --tolerance 1 --job J1",
    "job pour J1 batch1.csv --to new",
    "judge 46.5,-5.2,-17.4 --tolerance 1 --anyway --job J1",
)


@pytest.fixture
def right(bench: Path, home: Path) -> Path:
    """A job with a batch whose card was inside, and then one whose card was not."""
    put_ledger(home, list(MADE), (0, 1))
    with open_ledger(home) as ledger:
        assert [view.number for view in ledger.entries(ledger.find_job("J1"), kind="batch")] == [RIGHT, OUTSIDE]
    return bench


def _entries(cli: Cli) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = cli("job", "show", "J1", "--json").json["entries"]
    return found


def _said(ran: Ran) -> str:
    return " ".join((ran.out + ran.err).split())


def test_a_batch_that_was_right_is_weighed_out_again_and_recorded_as_a_recipe(cli: Cli, right: Path) -> None:
    before = len(_entries(cli))
    asked = cli("job", "pour", "J1", "--as", RIGHT, "--grams", 250, "--check")
    assert asked.status == 0
    assert "still to go" in asked.out
    assert len(_entries(cli)) == before
    ran = cli("job", "pour", "J1", "--as", RIGHT, "--grams", 250)
    assert ran.status == 0
    assert f"every part is as batch #{RIGHT} has it" in ran.out
    assert f"the card of batch #{RIGHT} came to ΔE00 D65 0.87 A 0.90 F11 0.95 from Saltmarsh Blue, inside 1:" in _said(
        ran
    )
    recipe, batch = (one["entry"] for one in _entries(cli)[-2:])
    parts = {"white": 222.1, "blue": 14.4, "soft black": 12.7, "violet": 0.8}
    assert {part["tint"]: part["grams"] for part in batch["parts"]} == pytest.approx(parts)
    assert recipe["parts"] == batch["parts"]
    assert (recipe["again"], batch["recipe"], batch["continues"]) == (RIGHT, _entries(cli)[-2]["number"], None)
    card = next(one["entry"] for one in _entries(cli) if one["kind"] == "spray-out" and one["entry"]["batch"] == RIGHT)
    assert recipe["lab"] == pytest.approx(card["lab"])
    assert recipe["lights"] == pytest.approx({"D65": 0.87, "A": 0.90, "F11": 0.95}, abs=0.006)
    assert f"g as batch #{RIGHT} was" in _said(cli("job", "show", "J1"))
    assert f"It is batch #{RIGHT} again, whose card came to ΔE00" in document_html(job_document(kept_job("J1")))


def test_what_is_poured_otherwise_is_held_against_that_batch(cli: Cli, right: Path) -> None:
    ran = cli("job", "pour", "J1", "--as", RIGHT, "--grams", 250, "blue=17")
    assert "2.6 too much" in ran.out
    assert "to come back, add" in ran.out
    kinds = [one["kind"] for one in _entries(cli)[-3:]]
    assert kinds == ["recipe", "batch", "correction"]
    assert _entries(cli)[-1]["entry"]["batch"] == _entries(cli)[-2]["number"]
    half = cli("job", "pour", "J1", "--as", RIGHT, "--grams", 250, "--check", "white=222.1").out
    assert "14.4 to go" in half


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--as", OUTSIDE), "had a card outside 1"),
        (("--as", RIGHT, "--grams", 10), "takes less violet than a step of the scale"),
        (("--as", RIGHT, "--grams", 0), "grams"),
        (("--as", RIGHT, "--to", "last"), "into a tin of its own"),
        (("--as", RIGHT, "--set-aside", "half"), "into a tin of its own"),
        (("--as", 5), "is a spray-out, not a recipe or correction"),
    ],
)
def test_what_cant_be_poured_again_is_refused_and_nothing_is_recorded(
    cli: Cli, right: Path, given: tuple[object, ...], said: str
) -> None:
    before = len(_entries(cli))
    ran = cli("job", "pour", "J1", *given)
    assert ran.status == 2
    assert said in ran.err
    assert len(_entries(cli)) == before


def test_a_batch_of_which_no_card_was_judged_is_refused(cli: Cli, right: Path) -> None:
    cli("job", "pour", "J1", "--as", RIGHT, "--grams", 250)
    again = _entries(cli)[-1]["number"]
    ran = cli("job", "pour", "J1", "--as", again, "--anyway")
    assert ran.status == 2
    assert "has no card that was judged" in ran.err


def test_other_tins_and_parts_too_small_for_the_scale_are_told(cli: Cli, right: Path) -> None:
    unmarked = _said(cli("job", "pour", "J1", "--as", RIGHT, "--grams", 200, "--check"))
    assert "no lot in tints.csv says whether the tins are those of batch #4" in unmarked
    assert "violet 0.64" in unmarked
    assert "violet by a letdown: 1 g into a cup" in unmarked
    assert "its share" not in unmarked
    cupless = _said(cli("job", "pour", "J1", "--as", RIGHT, "--grams", 70, "--check"))
    assert "letdown" not in cupless
    assert "violet 0.2 g, where 0.22 g is its share" in cupless
    table = (right / "bank/tints.csv").read_text("utf-8").splitlines()
    at = next(i for i, line in enumerate(table) if line.startswith("tint,"))
    rows = [f"{line},lot" if i == at else f"{line},B1" if i > at else line for i, line in enumerate(table)]
    (right / "bank/tints.csv").write_text("\n".join(rows) + "\n", "utf-8")
    cli("job", "pour", "J1", "batch1.csv", "--to", "new")
    marked = _entries(cli)[-1]["number"]
    cli("judge", "45.1,-5.1,-15.3", "--anyway", "--tolerance", 1, "--job", "J1")
    assert "no lot in tints.csv" not in _said(cli("job", "pour", "J1", "--as", marked, "--check", "--anyway"))
    (right / "bank/tints.csv").write_text("\n".join(rows).replace("B1", "B2") + "\n", "utf-8")
    told = _said(cli("job", "pour", "J1", "--as", marked, "--check", "--anyway"))
    assert "blue was of lot B1 and is of lot B2 now" in told
    assert "spray a card before the car" in told
