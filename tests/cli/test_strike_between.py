"""A pour that is struck from the middle of a tin's story: shelf, cards and what is poured anew count what is left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, SprayOutEntry, StrikeEntry, open_ledger
from finishmatch.mix.weighing import Scale
from finishmatch.readings import read_bank
from finishmatch.steps.bank import open_bank
from finishmatch.steps.cards_of_tin import earlier_cards
from finishmatch.steps.record import entries_in
from finishmatch.steps.shelf import shelf_today
from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
FIRST, SECOND, THIRD = 4, 5, 6


@pytest.fixture
def poured(cli: Cli, bench: Path, home: Path) -> Path:
    """A tin that was poured, and added to twice."""
    put_ledger(home, ["job new Roof", "mix target.csv --bank bank --grams 500 --recipes 1 --job J1"])
    for parts in (("white=400", "blue=30", "--to", "new"), ("white=40", "--to", "last"), ("blue=5", "--to", "last")):
        assert cli("job", "pour", "J1", *parts).status == 0
    return bench


def _shelf(bench: Path) -> dict[str, float]:
    return shelf_today(read_bank(bench / "bank")).poured


def _tin(cli: Cli) -> dict[str, float]:
    entries = cli("job", "show", "J1", "--json").json["entries"]
    parts = [view["entry"]["parts"] for view in entries if view["kind"] == "batch"][-1]
    return {name: sum(part["grams"] for part in parts if part["tint"] == name) for name in ("white", "blue")}


def test_what_is_in_the_tin_is_off_the_shelf_once(cli: Cli, poured: Path) -> None:
    assert _shelf(poured) == {"white": 440, "blue": 35}
    said = cli("job", "strike", "J1", SECOND, "--why", "never poured", "--json").json["warnings"]
    (told,) = said
    assert told.startswith(f"batch #{THIRD} goes on from batch #{SECOND} and stands as it was recorded")
    assert _tin(cli) == {"white": 440, "blue": 35}
    assert _shelf(poured) == {"white": 440, "blue": 35}
    again = cli(
        "job", "pour", "J1", "blue=5", "--supersedes", THIRD, "--why", "without what was never poured", "--json"
    )
    assert again.json["recorded"]["entry"]["continues"] == FIRST
    assert _tin(cli) == {"white": 400, "blue": 35}
    assert _shelf(poured) == {"white": 400, "blue": 35}


def test_a_part_set_aside_by_mistake_is_back_in_what_was_taken(cli: Cli, poured: Path) -> None:
    aside = cli("job", "pour", "J1", "--set-aside", "half", "--json").json["recorded"]["number"]
    assert cli("job", "pour", "J1", "white=10", "--to", "last").status == 0
    assert _shelf(poured) == {"white": 450, "blue": 35}
    assert cli("job", "strike", "J1", aside, "--why", "another tin").status == 0
    assert _shelf(poured) == {"white": 450, "blue": 35}


def test_a_pour_that_replaced_another_and_is_struck_counts_as_that(cli: Cli, poured: Path) -> None:
    wrong = cli("job", "pour", "J1", "blue=50", "--supersedes", THIRD, "--why", "read again", "--json")
    number = wrong.json["recorded"]["number"]
    assert cli("job", "pour", "J1", "white=10", "--to", "last").status == 0
    assert cli("job", "strike", "J1", number, "--why", "it was 5").status == 0
    assert _shelf(poured) == {"white": 450, "blue": 80}  # #6 stands again, and the tin after it holds what it says


def test_the_cards_from_before_it_count_still(bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof"])
    fitted, white = open_bank(bench / "bank"), ("white", 400.0)
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        first = ledger.record(job, BatchEntry((white, ("blue", 30.0))))
        second = ledger.record(job, BatchEntry((white, ("blue", 31.0)), continues=first))
        third = ledger.record(job, BatchEntry((white, ("blue", 33.0)), continues=second))
        for number in (first, second, third):
            card = SprayOutEntry(number, [60.0, 0.0, -9.0], [0.3 + number / 100] * 31, geometry=fitted.bank.geometry)
            ledger.record(job, card)
    now = (white, ("blue", 33.0))

    def blue() -> list[float]:
        return [dict(card.batch)["blue"] for card in earlier_cards(fitted, entries_in("J1"), now, Scale())]

    assert blue() == [30.0, 31.0, 33.0]
    with open_ledger(home) as ledger:
        ledger.record(ledger.find_job("J1"), StrikeEntry(second, "never poured"))
    assert blue() == [30.0, 33.0]
