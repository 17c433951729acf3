"""What replaces an entry keeps what isn't said anew; what was missing of a defect is added when advice is asked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Cli = Callable[..., Any]


@pytest.fixture
def job(cli: Cli) -> str:
    """A job in use."""
    cli("job", "new", "Roof")
    cli("job", "use", "J1")
    return "J1"


def _recorded(cli: Cli, *line: object) -> dict[str, Any]:
    ran = cli(*line, "--json")
    assert ran.status == 0, ran.err
    recorded = ran.json["recorded"]
    found: dict[str, Any] = recorded[0] if isinstance(recorded, list) else recorded
    return found


def test_a_defect_logged_anew_keeps_what_is_not_typed_again(cli: Cli, job: str) -> None:
    line = ("defect", "log", "crater", "--panel", "roof", "--count", 12, "--size-mm", 1.5, "--depth-um", 35)
    met = ("--exposure", "air line=2@2024-05-01", "--exposure", "gun=HVLP 1")
    first = _recorded(cli, *line, *met, "--place", "left", "--seen", "rim", "--seen-on", "2024-05-02")
    anew = ("--replaces", first["number"], "--why", "looked again")
    second = _recorded(cli, "defect", "log", "crater", "--exposure", "gun=HVLP 2", "--count", 9, *anew)
    expected = {**first["entry"], "count": 9}
    expected["exposures"] = [{"kind": "gun", "value": "HVLP 2"}, {"kind": "air line", "value": "2"}]
    expected["met_on"] = ["", "2024-05-01"]
    assert second["entry"] == expected
    third = _recorded(
        cli, "defect", "log", "crater", "--reached", "primer", "--replaces", second["number"], "--why", "cut it open"
    )
    assert (third["entry"]["depth_um"], third["entry"]["layer_reached"]) == (None, "primer")


def test_a_spray_out_recorded_anew_keeps_its_batch_and_how_it_was_sprayed(cli: Cli, job: str, tmp_path: Path) -> None:
    for weight in (300, 310):
        (tmp_path / "batch.csv").write_text(f"tint,grams\nwhite,{weight}\n", "utf-8")
        _recorded(cli, "job", "pour", tmp_path / "batch.csv")
    how = ("--ground", "grey primer", "--coats", 2, "--build-um", 45, "--surface", "cut and polished")
    first = _recorded(cli, "job", "spray", "70,-8,-20", *how, "--batch", 1)
    second = _recorded(
        cli, "job", "spray", "70.1,-8,-20", "--coats", 3, "--replaces", first["number"], "--why", "a slip"
    )
    kept = ("batch", "ground", "build_um", "surface")
    assert [second["entry"][name] for name in kept] == [first["entry"][name] for name in kept]
    assert second["entry"]["coats"] == 3


def test_a_coat_and_a_film_recorded_anew_keep_what_is_not_said(cli: Cli, job: str) -> None:
    met = ("--exposure", "air line=2", "--exposure", "gun=1")
    coat = _recorded(cli, "job", "coat", "--panel", "roof", "--layer", "colour", *met, "--sprayed-on", "2024-05-01")
    why = ("--why", "a slip")
    anew = _recorded(cli, "job", "coat", "--panel", "roof", "--exposure", "gun=2", "--replaces", coat["number"], *why)
    assert (anew["entry"]["layer"], anew["entry"]["sprayed_on"]) == ("colour", "2024-05-01")
    assert {met["kind"]: met["value"] for met in anew["entry"]["exposures"]} == {"gun": "2", "air line": "2"}
    same = _recorded(cli, "job", "coat", "--panel", "wing", "--replaces", anew["number"], *why)
    assert same["entry"]["exposures"] == anew["entry"]["exposures"]
    read = ("--panel", "roof", "--layer", "primer")
    film = _recorded(cli, "job", "film", *read, "--build", "62,58", "--place", "1/2", "--place", "3/4")
    again = _recorded(cli, "job", "film", *read, "--build", "62,57", "--replaces", film["number"], *why)
    assert again["entry"]["places"] == ["1/2", "3/4"]


def test_of_an_entry_that_is_replaced_nothing_must_be_typed_again(cli: Cli, job: str) -> None:
    def anew(number: int, *line: object) -> dict[str, Any]:
        return _recorded(cli, *line, "--replaces", number, "--why", "a slip")

    read = ("--panel", "roof", "--layer", "ground coat", "--position", 2, "--build", "62,58", "--place", "a")
    film = _recorded(cli, "job", "film", *read, "--place", "b")
    assert anew(film["number"], "job", "film", "--layer", "primer")["entry"] == {**film["entry"], "layer": "primer"}
    coat = _recorded(cli, "job", "coat", "--panel", "roof", "--layer", "color", "--exposure", "gun=1")
    assert anew(coat["number"], "job", "coat", "--layer", "clear")["entry"] == {**coat["entry"], "layer": "clear"}
    seen = _recorded(cli, "defect", "log", "crater", "--panel", "roof", "--count", 12, "--rating", "3(S4)")
    assert anew(seen["number"], "defect", "log", "--count", 4)["entry"] == {**seen["entry"], "count": 4}
    card = _recorded(cli, "job", "spray", "38.2,-4.1,-20.3", "--coats", 2)
    again = anew(card["number"], "job", "spray", "J1", "--coats", 3)
    assert again["entry"] == {**card["entry"], "coats": 3}
    assert anew(again["number"], "job", "spray")["entry"] == again["entry"]


def test_a_card_recorded_anew_keeps_its_spectrum_and_spread(cli: Cli, job: str, tmp_path: Path) -> None:
    rows = [f"card,{','.join(['0.2'] * 15 + [value] * 16)}" for value in ("0.60", "0.61")]
    head = ",".join(["name", *map(str, range(400, 701, 10))])
    (tmp_path / "card.csv").write_text("\n".join([head, *rows, ""]), "utf-8")
    card = _recorded(cli, "job", "spray", tmp_path / "card.csv", "--coats", 2)
    anew = _recorded(cli, "job", "spray", "--coats", 3, "--replaces", card["number"], "--why", "a slip")
    assert anew["entry"] == {**card["entry"], "coats": 3}
    assert card["entry"]["repeats"] == 2


@pytest.mark.parametrize(
    ("line", "missing"),
    [
        (("job", "film"), "Missing option '--panel'"),
        (("job", "film", "--panel", "roof", "--layer", "primer"), "Missing option '--build'"),
        (("job", "coat"), "Missing option '--panel'"),
        (("job", "spray", "J1"), "Missing argument 'READINGS'"),
        (("defect", "log"), "Missing argument 'KIND'"),
    ],
)
def test_what_replaces_nothing_is_typed_in_full(cli: Cli, job: str, line: tuple[str, ...], missing: str) -> None:
    assert missing in cli(*line).error
    cli("job", "note", "a note")
    assert "can't be replaced by a" in cli(*line, "--replaces", 1, "--why", "a slip").error


def test_advice_takes_the_depth_that_was_missing_and_adds_it_to_the_entry(cli: Cli, job: str) -> None:
    for layer, builds in (("primer", "62,58,60"), ("colour", "98,104,101")):
        cli("job", "film", "--panel", "roof", "--layer", layer, "--build", builds)
    logged = _recorded(cli, "defect", "log", "crater", "--panel", "roof", "--exposure", "air line=2")
    assert "how deep" in cli("defect", "advise").error
    advised = cli("defect", "advise", "--depth-um", 35, "--count", 4, "--json").json
    assert advised["defect"] != logged["number"]
    shown = cli("job", "show", "--json").json["entries"]
    entry = next(one for one in shown if one["number"] == advised["defect"])
    assert entry["entry"] == {**logged["entry"], "depth_um": 35, "count": 4}
    assert entry["supersedes"] == logged["number"]
    assert entry["reason"] == "found since: depth, µm: 35.0; how many: 4"
    typed = ("--layer", "primer=62,58,60", "--layer", "colour=98,104,101", "--depth-um", 35, "--count", 4)
    by_hand = cli("defect", "advise", "crater", *typed, "--json").json  # a defect that is typed is not the job's
    assert by_hand["breakthrough"] == advised["breakthrough"]
    assert cli("defect", "advise", "--depth-um", 35, "--json").json["defect"] == advised["defect"]


def test_advice_takes_a_film_that_was_not_read_and_records_it(cli: Cli, job: str) -> None:
    _recorded(cli, "defect", "log", "crater", "--panel", "roof")
    film = ("--layer", "primer=62@10/20,58@30/40", "--layer", "colour=98,104,101")
    cli("defect", "advise", *film, "--reached", "primer")
    kinds = [entry["kind"] for entry in cli("job", "show", "--json").json["entries"]]
    assert kinds.count("film-layer") == 2
    assert cli("defect", "advise").status in (0, 1)  # now nothing is missing


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--depth-um", 40), "--depth-um: stands in the job already as 35"),
        (("--reached", "primer"), "--reached: how deep it goes stands in the job already: 35 µm deep"),
        (("--layer", "primer=60"), "--layer: the film of the roof stands in the job already"),
    ],
)
def test_what_stands_as_something_else_is_refused(cli: Cli, job: str, given: tuple[object, ...], said: str) -> None:
    for layer, builds in (("primer", "62,58,60"), ("colour", "98,104,101")):
        cli("job", "film", "--panel", "roof", "--layer", layer, "--build", builds)
    _recorded(cli, "defect", "log", "crater", "--panel", "roof", "--depth-um", 35)
    before = cli("job", "show", "--json").json["entries"]
    assert said in cli("defect", "advise", *given).error
    assert cli("job", "show", "--json").json["entries"] == before
