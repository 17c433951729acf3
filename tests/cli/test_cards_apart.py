"""Two cards of one tin that don't look alike: that is said with the second, whichever way each was read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
MIX = "mix target.csv --bank bank --grams 500 --recipes 1 --job J1"


@pytest.fixture
def poured(cli: Cli, bench: Path, home: Path) -> None:
    """A tin that was poured by a recipe."""
    put_ledger(home, ["job new Roof", MIX, "job pour J1 batch1.csv"])


def _apart(ran: Ran) -> list[Any]:
    document = ran.json.get("correction", ran.json)
    return [line for line in document["warnings"] if "is of the same tin, and differs" in line]


def _judged(cli: Cli, difference: str, *more: object) -> list[Any]:
    return _apart(cli("judge", "--job", "J1", "--difference", difference, *more, "--json"))


def _last_card(cli: Cli) -> int:
    entries = cli("job", "show", "J1", "--json").json["entries"]
    return [int(view["number"]) for view in entries if view["kind"] == "spray-out"][-1]


@pytest.mark.usefixtures("poured")
def test_a_second_card_that_is_unlike_the_first_is_told_of(cli: Cli) -> None:
    assert _judged(cli, "0.3,-0.1,-1.4", "--u95", 0.3) == []
    first = _last_card(cli)
    assert _judged(cli, "0.3,0.1,-1.2", "--u95", 0.3) == []  # as near as cards of one tin come
    (told,) = _judged(cli, "2.2,0.4,1.2", "--u95", 0.3)
    assert told.startswith("spray-out #")
    assert "stir and spray another, and strike the one that it isn't like" in told
    assert cli("job", "strike", "J1", _last_card(cli), "--why", "not stirred").status == 0
    assert _judged(cli, "0.2,-0.1,-1.3", "--u95", 0.3) == []
    assert _last_card(cli) > first


@pytest.mark.usefixtures("poured")
def test_a_card_of_the_tin_with_what_was_added_may_differ(cli: Cli) -> None:
    assert _apart(cli("job", "spray", "J1", "45.4,-4.5,-14.5", "--json")) == []
    first = _last_card(cli)
    (told,) = _apart(cli("job", "spray", "J1", "47.4,-4.5,-12.5", "--anyway", "--json"))
    assert told.startswith(f"spray-out #{first} is of the same tin, and differs from this card by ΔE00 2.")
    assert cli("job", "pour", "J1", "white=30", "--to", "last").status == 0
    assert _apart(cli("job", "spray", "J1", "49.2,-4.3,-11.0", "--anyway", "--json")) == []
