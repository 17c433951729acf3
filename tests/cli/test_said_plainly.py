"""What is asked back, offered and printed: names that are free, sizes that are doubted, chances that claim no more."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.cli.correct.shown import chance_said
from finishmatch.ledger import BatchEntry, RecipeEntry, TargetEntry, open_ledger
from finishmatch.readings import read_bank
from tests.conftest import Ran

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


@pytest.mark.parametrize("title", ["none", " None "])
def test_no_job_is_called_what_says_no_job(cli: Cli, home: Path, title: str) -> None:
    assert "says no job where one is named; name it by what it is" in cli("job", "new", title).error
    assert cli("job", "new", "None of these").status == 0


def test_what_was_never_poured_is_not_found_again(cli: Cli, home: Path) -> None:
    cli("job", "new", "Wing")
    lab = [45.0, -5.0, -15.0]

    def recipe(rank: int) -> RecipeEntry:
        parts = (("white", 90.0), ("blue", 10.0 + rank))
        near = [lab[0] + 0.1 * rank, *lab[1:]]
        return RecipeEntry("a bank", "0" * 64, 100.0 + rank, parts, {"D65": 0.1}, None, None, None, rank, near)

    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        ledger.record_all(job, [TargetEntry("Wing", lab, "D65", 10), *(recipe(rank) for rank in range(1, 6))])
        assert [one["entry"] for one in cli("find", "45,-5,-15", "--json").json["found"]] == [1, 2]  # the best
        ledger.record(job, BatchEntry(recipe(3).parts, recipe=4))
    assert [one["entry"] for one in cli("find", "45,-5,-15", "--json").json["found"]] == [1, 4]
    assert [one["entry"] for one in cli("find", "45.5,-5,-15", "--most", 1, "--json").json["found"]] == [4]


def test_no_chance_is_said_to_be_sure() -> None:
    assert [chance_said(chance) for chance in (1.0, 0.996, 0.88, 0.0)] == ["over 99%", "over 99%", "88%", "under 1%"]


def test_a_depth_that_no_paint_has_is_doubted(cli: Cli, home: Path) -> None:
    cli("job", "new", "Wing")
    log = ("defect", "log", "crater", "--job", "J1", "--panel", "wing", "--depth-um")
    assert "2000 µm deep is more than any paint but filler" in " ".join(cli(*log, 2000).out.split())
    assert "but filler" not in cli(*log, 80).out


def test_a_layer_is_taken_in_the_unit_that_a_film_is_read_in(cli: Cli, home: Path) -> None:
    asked = ("defect", "advise", "crater", "--depth-um", 20, "--json", "--layer")
    in_mils = cli(*asked, "colour=2.3mil")
    assert "'2.3mil' is read as 58.42" in in_mils.err
    assert in_mils.json == cli(*asked, "colour=58.42").json


def test_a_planned_panel_has_a_name_that_the_bank_has_not(cli: Cli, bench: Path) -> None:
    there = {panel.name for panel in read_bank(bench / "bank").panels}
    names = [panel["panel"] for panel in cli("bank", "plan", "bank", "--panels", 12, "--json").json["panels"]]
    assert there.isdisjoint(names)
    assert len(set(names)) == len(names)
    assert any(name.removesuffix(" (2)") in there for name in names)  # drawn once more


@pytest.mark.parametrize("command", ["judge", "find"])
def test_the_lights_that_are_taken_are_said_once(cli: Cli, command: str) -> None:
    said = " ".join(cli(command, "--help").out.split())
    assert "[default: D65, A, F11]" in said
    assert "default: (" not in said


def test_a_batch_file_that_isnt_there_is_no_job_that_isnt_there(cli: Cli, home: Path) -> None:
    cli("job", "new", "Wing")
    cli("job", "use", "J1")
    assert "batch 1.csv: there is no such file" in cli("job", "pour", "batch 1.csv").error
    assert "'nowhere': there is no such job" in cli("job", "pour", "nowhere", "white=2").error


@pytest.mark.parametrize("typed", [("white=99.6,", "blue=0.4"), ("white=99.6;", "blue=0.4,")])
def test_parts_with_commas_between_them_are_parts(cli: Cli, home: Path, typed: tuple[str, ...]) -> None:
    cli("job", "new", "Wing")
    assert cli("job", "pour", "J1", *typed).status == 0
    with open_ledger(home) as ledger:
        last = ledger.latest(ledger.find_job("J1"), BatchEntry)
    assert last is not None
    assert [list(part) for part in last.entry.parts] == [["white", 99.6], ["blue", 0.4]]  # type: ignore[attr-defined]


def test_blanks_about_the_equals_sign_are_named(cli: Cli, home: Path) -> None:
    cli("job", "new", "Wing")
    told = cli("job", "pour", "J1", "white", "=", "99.6").error
    assert """'=': has a blank beside it; write black=9.8 or "soft black=2\"""" in told
    assert "'white=': has a blank beside it" in cli("job", "pour", "J1", "white=", "99.6").error


def test_a_card_that_is_a_photograph_is_judged_and_not_read_by_itself(cli: Cli, home: Path, swatches: Path) -> None:
    """`photo read` would give a colour that `job spray` refuses as too unsure."""
    cli("job", "new", "Wing")
    told = cli("job", "spray", "J1", swatches / "photo.jpg").error
    assert "is a photograph, and no file of readings; judge it, so that what it may be off by counts" in told
    assert "photo read" not in told


def test_a_batch_typed_where_a_file_is_wanted_is_told_so(cli: Cli, bench: Path) -> None:
    typed = ("correct", "50,0,0", "--bank", "bank", "--batch", "white=99.6", "blue=0.4", "--difference", "1,1,1")
    assert "(blue=0.4); --batch takes one file, with a line of tint,grams for each part" in cli(*typed).error


def test_readings_recorded_of_a_photograph_say_how_they_are_weighed(cli: Cli, home: Path, swatches: Path) -> None:
    cli("job", "new", "Wing")
    said = " ".join(cli("photo", "read", swatches / "photo.jpg", "--job", "J1").out.split())
    assert "to weigh them for a target, save them too (--save evidence.csv)" in said
    saved = cli("photo", "read", swatches / "photo.jpg", "--job", "J1", "--save", swatches / "evidence of it.csv").out
    assert "to weigh them" not in saved


def test_a_count_in_words_is_no_whole_number(cli: Cli, home: Path) -> None:
    cli("job", "new", "Wing")
    assert "'two' is not a whole number." in cli("job", "spray", "J1", "50,0,0", "--coats", "two").error


def test_a_card_without_a_registered_print_needs_none_beside_a_chart(cli: Cli, home: Path) -> None:
    said = " ".join(cli("photo", "card").out.split())
    assert "no card is registered yet: with a 24-patch chart in its chart window it needs none" in said
