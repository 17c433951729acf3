"""Strengths of the tins in the record: used by the next command, said, and left out when card or tin is another."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, put, write
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
JOB = ("--job", "J1")


@pytest.fixture
def judged(bench: Path, home: Path) -> Path:
    """A job in which the first card was judged, and a second batch with its card, not judged yet."""
    put_ledger(home, ["job new Roof", shlex.join([*CORRECT, *JOB])])
    write(bench / "batch2.csv", (bench / "batch1.csv").read_text() + "white,30\nsoft black,6\n")
    head, *rows = [line for line in (bench / "card1.csv").read_text().splitlines() if line[:1] != "#"]
    shifted = [",".join(["card 2", *(f"{float(v) * 0.985:.6f}" for v in row.split(",")[1:])]) for row in rows]
    write(bench / "card2.csv", "\n".join([head, *shifted]) + "\n")
    return bench


SECOND = put(put(CORRECT, "batch1.csv", "batch2.csv"), "card1.csv", "card2.csv")


def strengths(cli: Cli) -> list[Any]:
    """The strengths entered in the job."""
    entries = cli("job", "show", "J1", "--json", "--history").json["entries"]
    return [entry for entry in entries if entry["kind"] == "strength"]


def used(cli: Cli, *line: object) -> dict[str, dict[str, float]]:
    """The strengths a command started from."""
    return cli(*line, *JOB, "--json").json["strengths_used"]


def told(entry: Any) -> dict[str, dict[str, float]]:
    """What an entry of the record says of the tins, as a command prints it.

    The entry holds a card against the bank alone; a command puts it to the bank's panels, of which it takes its share.
    """
    fields = entry["entry"]
    sd = np.sqrt(np.diag(fields["log_covariance"]))
    return {
        tint: {"factor": pytest.approx(float(np.exp(mean)), abs=0.015), "sd": pytest.approx(float(spread), abs=0.01)}
        for tint, mean, spread in zip(fields["tints"], fields["log_mean"], sd, strict=True)
    }


def alike(used: dict[str, dict[str, float]]) -> dict[str, Any]:
    """The same strengths, but for what the start of a search leaves."""
    return {tint: {name: pytest.approx(value, abs=5e-4) for name, value in of.items()} for tint, of in used.items()}


def number_of(cli: Cli, kind: str) -> int:
    """The number of the last entry of a kind."""
    entries = cli("job", "show", "J1", "--json").json["entries"]
    return [entry["number"] for entry in entries if entry["kind"] == kind][-1]


def test_the_next_recipe_is_made_for_todays_tins_and_says_so(cli: Cli, judged: Path) -> None:
    (kept,) = strengths(cli)
    plain, today = cli(*MIX, "--json").json, cli(*MIX, *JOB, "--json").json
    assert plain["strengths_used"] == {}
    assert today["strengths_used"] == told(kept)
    assert today["recipes"][0]["parts"] != plain["recipes"][0]["parts"]
    assert max(v["high"] for v in today["recipes"][0]["intervals"].values()) < max(
        v["high"] for v in plain["recipes"][0]["intervals"].values()
    )
    card = kept["entry"]["spray_out"]
    assert f"strengths of today's tins from spray-out #{card} are used: soft black -" in cli(*MIX, *JOB).out
    assert "are used" not in cli(*MIX).out


def test_two_corrections_in_a_row_use_both_cards(cli: Cli, judged: Path) -> None:
    (first,) = strengths(cli)
    alone = cli(*SECOND, "--json").json
    both = cli(*SECOND, *JOB, "--json").json
    assert alone["strengths_used"] == {}
    assert both["strengths_used"] == told(first)
    assert both["strengths"] != alone["strengths"]
    _, second = strengths(cli)
    assert second["entry"]["starts_from"] == first["number"]
    sure = dict(zip(second["entry"]["tints"], np.diag(second["entry"]["log_covariance"]), strict=True))
    for tint, variance in zip(first["entry"]["tints"], np.diag(first["entry"]["log_covariance"]), strict=True):
        assert sure[tint] <= variance
    cards = [f"#{entry['entry']['spray_out']}" for entry in (first, second)]
    assert f"from spray-outs {' and '.join(cards)} are used" in cli(*MIX, *JOB).out


@pytest.mark.slow
def test_a_card_judged_twice_counts_once(cli: Cli, judged: Path) -> None:
    (before,) = strengths(cli)
    for line in (CORRECT, (*CORRECT, "--tolerance", "0.3")):
        assert used(cli, *line) == {}  # what this very card told isn't put to it again
    assert strengths(cli) == [before]
    assert used(cli, *MIX) == told(before)
    # put to other weights (a gram was forgotten) it tells something else, once
    write(judged / "batch1.csv", (judged / "batch1.csv").read_text() + "blue,1.5\n")
    assert used(cli, *CORRECT) == {}
    _, again = strengths(cli)
    assert again["entry"]["starts_from"] is None
    assert used(cli, *MIX) == told(again)


def test_a_card_read_anew_tells_in_place_of_the_old_reading(cli: Cli, judged: Path) -> None:
    (first,) = strengths(cli)
    cli(*SECOND, *JOB)
    wrong = number_of(cli, "spray-out")
    assert used(cli, *MIX) != told(first)
    write(judged / "card3.csv", (judged / "card2.csv").read_text().replace(",0.2", ",0.21"))
    replaced = ("--replaces", wrong, "--why", "the wrong card")
    assert cli("job", "spray", "J1", "card3.csv", "--batch", number_of(cli, "batch"), *replaced).status == 0
    mended = used(cli, *MIX)
    out = cli(*MIX, *JOB).out
    assert f"from spray-outs #{first['entry']['spray_out']} and #{number_of(cli, 'spray-out')} are used" in out
    cli("job", "new", "As it should have been")
    cli(*CORRECT, "--job", "J2")
    cli(*put(SECOND, "card2.csv", "card3.csv"), "--job", "J2")
    assert cli(*MIX, "--job", "J2", "--json").json["strengths_used"] == alike(mended)


def test_what_was_poured_being_mended_its_card_tells_anew(cli: Cli, judged: Path) -> None:
    cli(*SECOND, *JOB)
    before = used(cli, *MIX)
    write(judged / "mended.csv", (judged / "batch2.csv").read_text() + "blue,3\n")
    mending = ("--replaces", number_of(cli, "batch"), "--why", "a pour was forgotten")
    assert cli("job", "pour", "J1", "mended.csv", *mending).status == 0
    mended = used(cli, *MIX)  # the next command finds it
    assert mended["blue"]["factor"] < before["blue"]["factor"] - 0.01
    assert used(cli, *MIX) == mended
    cli("job", "new", "As it should have been")
    cli(*CORRECT, "--job", "J2")
    cli(*put(SECOND, "batch2.csv", "mended.csv"), "--job", "J2")
    assert cli(*MIX, "--job", "J2", "--json").json["strengths_used"] == alike(mended)


def lots(bench: Path, **of: str) -> None:
    """Write lots into tints.csv; a blank in a name is _ here."""
    path = bench / "bank" / "tints.csv"
    head, *rows = [line.split(",")[:7] for line in path.read_text().splitlines() if line[:1] != "#"]
    named = [[*row, of.get(row[0].replace(" ", "_"), "A")] for row in rows]
    write(path, "\n".join(",".join(cells) for cells in [[*head, "lot"], *named]) + "\n")


def test_a_new_lot_is_a_new_tin_and_the_others_stay_known(cli: Cli, bench: Path) -> None:
    lots(bench)
    cli("job", "new", "Roof")
    cli(*CORRECT, *JOB)
    (kept,) = strengths(cli)
    assert kept["entry"]["lots"] == ["A"] * 4
    assert used(cli, *MIX) == told(kept)
    lots(bench, blue="B")
    left = told(kept)
    del left["blue"]
    ran = cli(*MIX, *JOB, "--json").json
    assert ran["strengths_used"] == left
    assert "blue of lot B is a new tin to this job: its strength is taken as the bank's" in ran["warnings"]
    # the old card keeps to the tins of its day, whatever is open now
    assert used(cli, *CORRECT) == {}
    assert strengths(cli) == [kept]
    lots(bench)  # the old tin is taken down again
    assert used(cli, *MIX) == told(kept)


def test_what_is_learnt_of_a_new_lot_is_its_own(cli: Cli, judged: Path) -> None:
    lots(judged, white="", black="", soft_black="", violet="", blue="B")  # only the new tin is named
    (first,) = strengths(cli)
    started = used(cli, *SECOND)
    assert set(started) == {"white", "soft black", "violet"}
    _, second = strengths(cli)
    of = dict(zip(second["entry"]["tints"], second["entry"]["lots"], strict=True))
    assert of == {"white": "", "soft black": "", "violet": "", "blue": "B"}
    assert "blue of lot B" in " ".join(cli("job", "show", "J1").out.split())
    lots(judged, white="", black="", soft_black="", violet="", blue="")
    back = used(cli, *MIX)
    old = told(first)["blue"]  # what was told of the old tin is not lost, and the others being known better tells more
    assert abs(back["blue"]["factor"] - old["factor"].expected) < old["sd"].expected
    assert back["blue"]["sd"] < old["sd"].expected
    assert back["white"] == told(second)["white"]


def test_fresh_tins_are_as_the_bank_has_them(cli: Cli, judged: Path) -> None:
    assert cli(*MIX, *JOB, "--fresh-tins", "--json").json["strengths_used"] == {}
    assert used(cli, *MIX) == {}
    assert "new tins of Lowmere bench tints are open" in cli("job", "show", "J1").out
    count = len(strengths(cli))
    cli(*MIX, *JOB, "--fresh-tins")
    assert len(strengths(cli)) == count  # said once
    assert used(cli, *SECOND) == {}
    assert strengths(cli)[-1]["entry"]["spray_out"] is not None
    assert set(used(cli, *MIX)) == {"white", "blue", "soft black", "violet"}


def test_the_story_tells_what_was_learnt(cli: Cli, judged: Path) -> None:
    out = " ".join(cli("job", "show", "J1").out.split())
    card = number_of(cli, "spray-out")
    assert f"tins of Lowmere bench tints by spray-out #{card}: soft black -" in out
    assert " % ± " in out


def test_without_a_job_nothing_is_remembered(cli: Cli, bench: Path) -> None:
    assert cli(*CORRECT, "--json").json["strengths_used"] == {}
    assert cli(*CORRECT, "--json").json["strengths_used"] == {}
