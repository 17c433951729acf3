"""A card photographed beside a piece is told by what the camera sees of the bank's tints, and that is said and kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.readings.seen import told_apart_from
from finishmatch.steps.seen_kept import seen_again
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PHOTO = ROOT / "swatches/photo.jpg"
AT = ("--region", "standard=96,92,174,131", "--region", "spray-out=984,60,181,131")
SEEN, TIN = ("--seen", PHOTO, *AT), ("--bank", "bank", "--batch", "batch1.csv")


@pytest.fixture
def piece(cli: Cli, bench: Path) -> str:
    """The standard of the bundled photograph, as it is read of it."""
    assert cli("photo", "read", PHOTO, *AT, "--save", "piece.csv").status == 0
    return "piece.csv@standard"


def told(ran: Ran) -> dict[str, Any]:
    (one,) = ran.json["seen"]["differences"]
    return dict(one)


def with_target(cli: Cli, piece: str) -> str:
    """A job that is to be matched to the piece."""
    job = str(cli("job", "new", "Door", "--json").json["job"]["ref"])
    assert cli("mix", piece, "--bank", "bank", "--grams", 500, "--job", job).status == 0
    return job


def test_what_the_bank_makes_of_the_two_is_told_beside_what_the_photograph_says(cli: Cli, piece: str) -> None:
    by_bank = told(cli("correct", piece, *TIN, *SEEN, "--json"))
    alone = by_bank["photographs_alone"]
    assert by_bank["told_from"] == min(by_bank["u95"], alone["u95"])  # what other pigments do isn't chased
    assert np.linalg.norm(np.subtract(by_bank["difference"], alone["difference"])) > 0.02
    shown = " ".join(cli("correct", piece, *TIN, *SEEN).out.split())
    assert "(one photograph, and what its camera sees of this bank's tints)" in shown
    assert f"the photograph by itself says ΔE00 {alone['de00']:.2f}" in shown
    assert "look at the two edge to edge" in shown


def test_the_record_keeps_both_and_judges_the_same_by_it(cli: Cli, piece: str) -> None:
    job = with_target(cli, piece)
    first = cli("correct", *TIN, *SEEN, "--job", job, "--json")
    (card,) = (one["entry"] for one in cli("job", "show", job, "--json").json["entries"] if one["kind"] == "spray-out")
    (kept,) = card["seen"]
    assert kept["difference"] == pytest.approx(told(first)["photographs_alone"]["difference"], abs=1e-4)
    assert kept["by_bank"]["difference"] == pytest.approx(told(first)["difference"], abs=1e-4)
    assert len(kept["looks"]) == 1
    again = cli("judge", "--job", job, "--json").json
    assert again["correction"]["additions"] == first.json["additions"]
    (one,) = again["correction"]["seen"]["differences"]
    assert one["difference"] == pytest.approx(told(first)["difference"], abs=0.1)  # the card is in the bank since
    assert one["u95"] == pytest.approx(told(first)["u95"], rel=0.2)
    assert "known to ±" in " ".join(cli("job", "show", job).out.split())


def test_a_card_of_an_older_record_is_told_by_its_photograph_alone(cli: Cli, piece: str) -> None:
    job = with_target(cli, piece)
    cli("correct", *TIN, *SEEN, "--job", job)
    (card,) = (one["entry"] for one in cli("job", "show", job, "--json").json["entries"] if one["kind"] == "spray-out")
    older = {name: value for name, value in card["seen"][0].items() if name not in ("looks", "by_bank")}
    (one,) = seen_again([older])
    assert (one.looks, one.by_bank) == ((), None)
    assert told_apart_from(one) == one.u95
    spoilt = {**card["seen"][0], "looks": [{"light": 3}]}
    assert seen_again([spoilt])[0].looks == ()


def test_of_a_piece_that_an_instrument_read_it_is_told_nearer(cli: Cli, bench: Path) -> None:
    by_bank = told(cli("correct", "target.csv", *TIN, *SEEN, "--json"))
    alone = by_bank["photographs_alone"]
    assert by_bank["u95"] < alone["u95"]
    truth = [0.32, -0.12, -1.43]  # as an instrument read both
    far, near = (float(np.linalg.norm(np.subtract(one["difference"], truth))) for one in (alone, by_bank))
    assert near < far


def test_what_the_photographs_show_alone_counts_where_the_piece_is_another_or_no_mixture_stands_for_it(
    cli: Cli, bench: Path
) -> None:
    rows = (bench / "target.csv").read_text("utf-8").splitlines()
    brighter = [",".join([row.split(",")[0], *(scaled(cell) for cell in row.split(",")[1:])]) for row in rows]
    write(bench / "brighter.csv", "\n".join(brighter) + "\n")
    other = cli("correct", "brighter.csv", *TIN, *SEEN, "--anyway", "--json")
    assert told(other)["photographs_alone"] is None
    assert told(cli("correct", "60,70,60", *TIN, *SEEN, "--anyway", "--json"))["photographs_alone"] is None


def test_a_target_that_was_weighed_from_several_pieces_is_none_of_them(cli: Cli, piece: str, bench: Path) -> None:
    """What the camera saw is of one of them; of one piece alone it is of the target."""
    rows = {"one": "door,sheltered paint,piece.csv@standard\n", "two": "lid,sheltered paint,piece.csv@spray-out\n"}
    write(bench / "one.csv", f"name,kind,reading\n{rows['one']}")
    write(bench / "two.csv", f"name,kind,reading\n{rows['one']}{rows['two']}")
    alone = []
    for name in ("one", "two"):
        assert cli("evidence", "weigh", f"{name}.csv", "--save", f"{name} target.csv").status == 0
        alone.append(told(cli("correct", f"{name} target.csv", *TIN, *SEEN, "--json"))["photographs_alone"])
    assert alone[0] is not None
    assert alone[1] is None


def scaled(cell: str) -> str:
    """A fifth more of the light, where a cell is of that."""
    try:
        value = float(cell)
    except ValueError:
        return cell
    return f"{1.2 * value:.5f}" if value < 1 else cell
