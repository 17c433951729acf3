"""`job coat`, `defect trace`, `defect suspect` and `clear`: from what coats met to what they are warned of."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from finishmatch.ledger import open_ledger
from finishmatch.ledger.shop import read_shop
from tests.helpers.kept_ledger import write_ledger

Cli = Callable[..., Any]
OIL = "oil in the filter"


def _coat(cli: Cli, job: str, panel: str, line: int, day: str, *more: str) -> None:
    met = ("--exposure", f"airline={line}", "--exposure", "gun=HVLP 1", "--sprayed-on", day)
    assert cli("job", "coat", job, "--panel", panel, *met, *more).status == 0


@pytest.fixture(scope="session")
def shop_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve coats of two jobs (invented): those of air line 2 have craters."""
    lines = ["job new Roof", "job new Doors"]
    for i in range(12):
        job, line = f"J{1 + i % 2}", 2 if i >= 6 else 1
        met = f"--exposure airline={line} --exposure 'gun=HVLP 1' --sprayed-on 2026-03-{i + 1:02d}"
        lines.append(f"job coat {job} --panel 'panel {i}' {met}")
        if line == 2:
            lines.append(f"defect log 'craters' --job {job} --panel 'Panel {i}' --seen-on 2026-03-{i + 2:02d}")
    return write_ledger(tmp_path_factory.mktemp("shop"), lines)


@pytest.fixture
def shop(cli: Cli, home: Path, shop_ledger: Path) -> Cli:
    """The terminal of a shop with twelve coats."""
    shutil.copytree(shop_ledger, home, dirs_exist_ok=True)
    return cli


def test_what_the_bad_coats_met_is_found_and_told(shop: Cli, tmp_path: Path) -> None:
    ran = shop("defect", "trace", "crater", "--plot", tmp_path / "trace.png")
    assert (ran.status, ran.err) == (0, "")
    assert "6 of 12 coats came out with cratering" in ran.out
    assert "air line=2 stands out" in ran.out
    assert 'finishmatch defect suspect "air line=2"' in ran.out
    assert "it began about 2026-03-07" in ran.out
    assert (tmp_path / "trace.png").read_bytes()[:4] == b"\x89PNG"
    told = shop("defect", "trace", "crater", "--json").json
    assert (
        told["exposures"][0] | {"exposure": "air line=2", "exposed": 6, "exposed_bad": 6, "stands_out": True}
        == (told["exposures"][0])
    )
    assert told["exposures"][0]["p"] == pytest.approx(2 / 924, abs=1e-6)  # by hand: 1 of C(12, 6) ways, and its mirror
    assert told["exposures"][0]["odds_ratio"] is None


def test_where_nothing_stands_out_the_answer_is_no(shop: Cli) -> None:
    ran = shop("defect", "trace", "crater", "--since", "2026-03-07", "--until", "2026-03-12")
    assert "all 6 coats have it" in ran.error
    _coat(shop, "J1", "wing", 1, "2026-03-09")
    ran = shop("defect", "trace", "crater", "--since", "2026-03-07", "--until", "2026-03-12")
    assert ran.status == 1
    assert "nothing stands out" in ran.out


def test_a_replaced_coat_and_a_recoat_count_as_they_stand(cli: Cli, home: Path) -> None:
    cli("job", "new", "Roof")
    _coat(cli, "J1", "roof", 2, "2026-03-01")  # 1
    cli("defect", "log", "crater", "--job", "J1", "--panel", "roof", "--seen-on", "2026-03-02", "--exposure", "cloth=a")
    _coat(cli, "J1", "roof", 1, "2026-03-05")  # the recoat
    _coat(cli, "J1", "roof", 3, "2026-03-01", "--replaces", "1", "--why", "it was line 3")
    cli("defect", "log", "run", "--job", "J1", "--panel", "door", "--exposure", "air line=9")
    with open_ledger() as ledger:
        record = read_shop(ledger, {"cratering"})
    met = [{record.exposures[e] for c, e in zip(record.coat, record.met, strict=True) if c == i} for i in range(3)]
    assert record.bad.tolist() == [True, False, False]
    assert met == [
        {("air line", "3"), ("gun", "HVLP 1"), ("cloth", "a")},
        {("air line", "1"), ("gun", "HVLP 1")},
        {("air line", "9")},  # a defect without a coat stands for one
    ]


def test_a_coat_like_the_last_one_meets_the_same_but_for_what_is_said(cli: Cli) -> None:
    cli("job", "new", "Roof")
    cli("job", "new", "Doors")
    _coat(cli, "J1", "roof", 2, "2026-03-01")
    cli("job", "coat", "J1", "--panel", "boot", "--layer", "colour", "--like", "last")
    ran = cli("job", "coat", "J2", "--panel", "door", "--like", "last", "--exposure", "gun=HVLP 2", "--json")
    pairs = {item["kind"]: item["value"] for item in ran.json["recorded"][0]["entry"]["exposures"]}
    assert pairs == {"gun": "HVLP 2", "air line": "2"}
    assert ran.json["recorded"][0]["entry"]["layer"] == "colour"
    clear = cli("job", "coat", "J2", "--panel", "door", "--like", "#2", "--layer", "clear", "--json").json
    assert clear["recorded"][0]["entry"]["layer"] == "clear"
    again = cli("job", "coat", "J2", "--panel", "door", "--like", "#1")
    assert "met: air line 2, gun HVLP 1" in again.out


def test_a_suspect_is_warned_of_until_it_is_cleared_with_a_reason(shop: Cli) -> None:
    assert shop("defect", "suspect", "air hose=2", "--why", OIL, "--job", "J1").status == 0
    warned = shop("job", "coat", "J2", "--panel", "boot", "--exposure", "air line=2", "--json").json
    (warning,) = warned["warnings"]
    assert warning.startswith("air line=2 is suspect since ")
    assert warning.endswith(OIL)
    assert OIL in shop("job", "show", "J2").out
    assert len(shop("job", "show", "J2", "--json").json["warnings"]) == 1
    assert shop("job", "show", "J1", "--json").json["warnings"] == []  # its coats are older: they are the evidence
    assert shop("defect", "log", "run", "--job", "J1", "--panel", "x", "--exposure", "airline=2", "--json").json[
        "warnings"
    ]
    (mark,) = shop("defect", "suspects", "--json").json["marks"]
    assert (mark["exposure"], mark["state"], mark["job"]) == ("air line=2", "suspect", "J1")
    assert shop("defect", "trace", "crater", "--json").json["exposures"][0]["suspect"]
    assert "no reason is given" in shop("defect", "clear", "air line=2").error
    assert shop("defect", "clear", "air line=2", "--why", "new filter, clean-panel spray without a crater").status == 0
    assert shop("job", "coat", "J2", "--panel", "boot", "--exposure", "air line=2", "--json").json["warnings"] == []
    assert "nothing is suspect" in shop("defect", "suspects").out
    history = shop("defect", "suspects", "--history", "--json").json["marks"]
    assert [mark["state"] for mark in history] == ["suspect", "cleared"]


def test_without_a_ledger_nothing_is_suspect_and_none_is_made(cli: Cli, home: Path) -> None:
    assert cli("defect", "suspects", "--json").json == {"marks": []}
    assert list(home.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["defect", "trace", "craters", "zzz"], "no kind is called 'zzz'"),
        (["defect", "trace", "--since", "spring"], "'spring' is not a date"),
        (["defect", "trace", "--since", "2026-03-09", "--until", "2026-03-01"], "is after --until"),
        (["defect", "trace", "crater", "--plot", "/no/such/folder/x.png"], "can't be written"),
        (["defect", "trace", "chalking"], "none of the 12 coats has this defect"),
        (["defect", "suspect", "air line", "--why", "x"], "is not KIND=VALUE"),
        (["defect", "suspect", "air line=2"], "no reason is given"),
        (["defect", "clear", "air line=2", "--why", "x"], "is not suspect"),
        (["job", "coat", "J1", "--panel", "roof"], "a coat is recorded for what it met"),
        (["job", "coat", "J1", "--panel", "roof", "--like", "99"], "there is no such coat"),
        (["job", "coat", "J1", "--panel", "roof", "--like", "previous"], "neither a number nor 'last'"),
        (["job", "coat", "J1", "--panel", " ", "--exposure", "gun=1"], "panel"),
        (["job", "coat", "J9", "--panel", "roof", "--exposure", "gun=1"], "J9"),
    ],
)
def test_wrong_input_is_one_line(shop: Cli, arguments: list[str], told: str) -> None:
    before = shop("job", "show", "J1", "--history", "--json").json
    assert told in shop(*arguments).error
    assert shop("job", "show", "J1", "--history", "--json").json == before


def test_a_coat_of_tomorrow_is_refused(shop: Cli) -> None:
    tomorrow = (date.today() + timedelta(days=1)).isoformat()
    ran = shop("job", "coat", "J1", "--panel", "roof", "--exposure", "gun=1", "--sprayed-on", tomorrow)
    assert "is still to come" in ran.error


def test_marking_twice_is_refused(shop: Cli) -> None:
    assert shop("defect", "suspect", "gun=HVLP 1", "--why", "leaks").status == 0
    assert "is suspect already (leaks)" in shop("defect", "suspect", "gun=hvlp 1", "--why", "x").error


def test_panels_sprayed_alike_are_recorded_at_once_or_not_at_all(shop: Cli) -> None:
    ran = shop("job", "coat", "J1", "--panel", "wing left", "--panel", "wing right", "--exposure", "gun=1", "--json")
    assert [view["entry"]["panel"] for view in ran.json["recorded"]] == ["wing left", "wing right"]
    numbers = [view["number"] for view in ran.json["recorded"]]
    wrong = ("--replaces", numbers[0], "--why", "x")
    again = shop("job", "coat", "J1", "--panel", "a", "--panel", "b", "--exposure", "gun=1", *wrong)
    assert "2 entries can't replace one" in again.error
    assert shop("job", "coat", "J1", "--panel", "a", "--panel", " ", "--exposure", "gun=1").status == 2
    entries = shop("job", "show", "J1", "--json").json["entries"]
    assert "a" not in {view["entry"].get("panel") for view in entries}


def test_coats_that_all_met_the_same_can_tell_nothing(cli: Cli) -> None:
    cli("job", "new", "Roof")
    cli("job", "coat", "J1", "--panel", "a", "--panel", "b", "--exposure", "gun=1", "--exposure", "cloth=x")
    cli("defect", "log", "crater", "--job", "J1", "--panel", "a")
    assert "all 2 coats met the same" in cli("defect", "trace").error
    cli("job", "coat", "J1", "--panel", "c", "--exposure", "cloth=x")
    assert "allowing for the one exposure compared" in cli("defect", "trace").out
