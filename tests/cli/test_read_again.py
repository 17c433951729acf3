"""A photograph that is read again into a job: one sample in one picture is one reading, however often it is read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.steps.readings_waiting import readings_waiting
from finishmatch.steps.record import entries_in
from tests.helpers.photo_frames import standard_and_card

Cli = Callable[..., Any]
PLACES = ("--region", "tin=90,45,200,80", "--region", "door=340,45,200,80")


@pytest.fixture
def taken(tmp_path: Path, cli: Cli) -> dict[str, Path]:
    """One pair of samples in daylight, under a tungsten lamp and in daylight again, and a job to record them in."""
    cli("job", "new", "Roof")
    kinds = {"day": "D65", "bulb": "A", "noon": "D65"}
    return {
        name: standard_and_card(tmp_path / f"{name}.jpg", i, light) for i, (name, light) in enumerate(kinds.items())
    }


def _told(cli: Cli, *said: object) -> list[str]:
    return list(cli("photo", "read", *said, "--job", "J1", "--json").json["warnings"])


def _standing() -> dict[int, str]:
    return {view.number: view.entry.name for view in entries_in("J1") if view.stands and view.kind == "reading"}  # type: ignore[attr-defined]


def test_with_a_lamp_it_takes_the_place_of_the_one_without_and_the_other_way(cli: Cli, taken: dict[str, Path]) -> None:
    day, lamp = taken["day"], ("--under", f"A={taken['bulb']}")
    assert not any("place of" in one for one in _told(cli, day, *PLACES))
    assert "reading #3 (tin) takes the place of #1, read in the same photograph before" in _told(
        cli, day, *PLACES, *lamp
    )
    assert _standing() == {3: "tin", 4: "door"}
    assert not any("place of" in one for one in _told(cli, day, *PLACES, *lamp))  # the very reading: nothing is new
    assert _standing() == {3: "tin", 4: "door"}
    back = _told(cli, day, *PLACES)
    assert (
        "reading #5 (tin) takes the place of #3, read in the same photograph before; that was read in bulb.jpg as "
        "well, which no longer counts: read them together if it should"
    ) in back
    assert _standing() == {5: "tin", 6: "door"}
    assert [one.number for one in readings_waiting(entries_in("J1"))] == [5, 6]
    assert "readings #5, #6 are not weighed" in " ".join(cli("next").out.split())
    shown = " ".join(cli("job", "show", "J1", "--history").out.split())
    assert "replaced by #3: the photograph was read again" in shown


def test_marked_anew_it_takes_the_place_of_what_was_marked_before(cli: Cli, taken: dict[str, Path]) -> None:
    _told(cli, taken["day"], *PLACES)
    again = _told(cli, taken["day"], "--region", "Tin=95,50,150,60")
    assert [one for one in again if "place of" in one] == [
        "reading #3 (Tin) takes the place of #1, read in the same photograph before"
    ]
    assert _standing() == {3: "Tin", 2: "door"}


def test_photographs_read_apart_and_then_together_are_one_reading(cli: Cli, taken: dict[str, Path]) -> None:
    tin = PLACES[:2]
    _told(cli, taken["day"], *tin)
    _told(cli, taken["noon"], *tin)
    assert len(_standing()) == 2
    said = _told(cli, taken["day"], taken["noon"], *tin)
    assert "reading #3 (tin) takes the place of #1 and #2, read in the same photograph before" in said
    assert _standing() == {3: "tin"}


def test_what_another_photograph_told_is_not_lost_where_each_has_one_of_its_own(
    cli: Cli, taken: dict[str, Path]
) -> None:
    tin = PLACES[:2]
    _told(cli, taken["day"], *tin, "--under", f"A={taken['bulb']}")
    (said,) = (one for one in _told(cli, taken["day"], taken["noon"], *tin) if "reading #1" in one)
    assert said == (
        "reading #1 (tin) shares a photograph with this one and was read in bulb.jpg too: read all of them in one go, "
        "and that takes the place of both"
    )
    assert len(_standing()) == 2
    said = next(
        one
        for one in _told(cli, taken["day"], taken["noon"], *tin, "--under", f"A={taken['bulb']}")
        if "place of" in one
    )
    assert "takes the place of #1 and #2" in said
    assert len(_standing()) == 1


def test_one_sample_under_two_names_or_for_two_lights_is_asked_about(cli: Cli, taken: dict[str, Path]) -> None:
    _told(cli, taken["day"], *PLACES[:2])
    (said,) = (one for one in _told(cli, taken["day"], "--region", "lid=92,47,180,70") if "reading #1" in one)
    assert said == (
        "reading #1 (tin) is of the same photograph and of nearly the same colour as lid: if it is the same sample, "
        "strike one of the two and say why: finishmatch job strike J1 NUMBER"
    )
    assert not any("reading #" in one for one in _told(cli, taken["noon"], "--region", "rim=92,47,180,70"))
    found = cli("photo", "read", taken["day"], *PLACES[:2], "--light", "A", "--job", "J1")
    said = " ".join(found.out.split())
    assert "reading #1 (tin) is of the same photograph, for D65, 10°; this one is for A, 10°" in said
    assert "strike the one you don't need and say why: finishmatch job strike J1 NUMBER" in said
    assert list(_standing()) == [1, 2, 3, 4]


def test_in_another_job_it_is_told_and_stays(cli: Cli, taken: dict[str, Path]) -> None:
    _told(cli, taken["day"], *PLACES[:2])
    cli("job", "new", "Wing")
    found = cli("photo", "read", taken["day"], *PLACES[:2], "--job", "J2", "--json").json["warnings"]
    assert "a photograph of reading #1 (tin) of J1 Roof is read again: the two are one reading" in found
    assert list(_standing()) == [1]


def test_where_a_target_was_found_from_the_earlier_it_is_said_and_all_of_it_waits_again(
    cli: Cli, taken: dict[str, Path], tmp_path: Path
) -> None:
    cli("photo", "read", taken["day"], *PLACES, "--save", tmp_path / "read.csv")
    lines = (tmp_path / "read.csv").read_text("utf-8").splitlines()
    head = next(i for i, line in enumerate(lines) if line.startswith("name,"))
    kinds = [*(line + ",sheltered paint" for line in lines[head + 1 :])]
    evidence = tmp_path / "evidence.csv"
    evidence.write_text("\n".join([lines[head] + ",kind", *kinds]) + "\n", "utf-8")
    _told(cli, taken["day"], *PLACES)
    weighed = cli("evidence", "weigh", evidence, "--job", "J1", "--colour", "1", "--json")
    assert weighed.status == 0, weighed.err
    target = next(view for view in entries_in("J1") if view.kind == "target")
    assert readings_waiting(entries_in("J1")) == ()
    said = _told(cli, taken["day"], *PLACES[:2], "--under", f"A={taken['bulb']}")
    assert (
        f"target #{target.number} was found from #1 as it was, and stays: weigh the evidence again, and mix for what "
        "comes of it"
    ) in said
    renewed = max(_standing())
    assert {one.number for one in readings_waiting(entries_in("J1"))} >= {renewed}
    assert f"reading #{renewed} was read again since target #{target.number} was found from it" in " ".join(
        cli("next").out.split()
    )
