"""The same samples under a lamp: `photo read --under` and `bank photo --under` read a colour by both photographs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.ledger import open_ledger
from tests.helpers.photo_frames import standard_and_card

Cli = Callable[..., Any]
PLACES = ("--region", "standard=90,45,200,80", "--region", "card=340,45,200,80")
WEIGHED = "panel,tint,grams\nwhite,white,100\nblue 10/90,white,90\nblue 10/90,blue,10\n"


@pytest.fixture
def taken(tmp_path: Path) -> dict[str, Path]:
    """One pair of samples in daylight, under a tungsten lamp and under a tube."""
    lights = enumerate(("D65", "A", "F11"))
    return {light: standard_and_card(tmp_path / f"{light}.jpg", seed, light) for seed, light in lights}


def _colours(found: dict[str, Any]) -> dict[str, tuple[list[float], float]]:
    return {one["name"]: (one["lab"], one["u95"]) for one in found["regions"]}


def test_a_lamp_tells_of_a_colour_in_daylight_and_its_doubt_is_less(cli: Cli, taken: dict[str, Path]) -> None:
    day, lamp = taken["D65"], f"A={taken['A']}"
    alone, both = (cli("photo", "read", day, *PLACES, *more, "--json").json for more in ((), ("--under", lamp)))
    before, after = _colours(alone), _colours(both)
    assert list(before) == list(after)
    for name, (lab, u95) in after.items():
        assert u95 < before[name][1]
        assert lab != before[name][0]
        assert lab == pytest.approx(before[name][0], abs=3)
    assert alone["under"] == []
    assert both["under"] == [{"light": "A", "file": str(taken["A"]), "used": True}]
    assert len(both["photographs"]) == 1
    assert "A.jpg, under A, is read with it" in cli("photo", "read", day, *PLACES, "--under", lamp).out


def test_one_that_cant_tell_is_left_out_and_why_is_said(cli: Cli, taken: dict[str, Path]) -> None:
    day, tube = taken["D65"], f"F11={taken['F11']}"
    alone = cli("photo", "read", day, *PLACES, "--json").json
    both = cli("photo", "read", day, *PLACES, "--under", tube, "--json").json
    assert _colours(both) == _colours(alone)
    assert both["under"] == [{"light": "F11", "file": str(taken["F11"]), "used": False}]
    assert any(said.startswith("F11.jpg is left out: its light comes in lines") for said in both["warnings"])


def test_one_that_shows_none_of_the_samples_is_not_said_to_be_read_with_them(
    cli: Cli, taken: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    lamp = ("--under", f"A={taken['A']}")
    apart = ("--region", "D65.jpg:tin=90,45,200,80", "--region", "A.jpg:door=90,45,200,80")
    found = cli("photo", "read", taken["D65"], *apart, *lamp, "--json").json
    assert [one["used"] for one in found["under"]] == [False]
    assert "A.jpg shows none of these samples (found there: door): mark them in it" in found["warnings"]
    assert "is read with it" not in cli("photo", "read", taken["D65"], *apart, *lamp).out
    monkeypatch.setattr("finishmatch.photo.looks.WORKED_ON", 0.0)
    worked = cli("photo", "read", taken["D65"], *PLACES, *lamp, "--json").json
    assert [one["used"] for one in worked["under"]] == [False]


def test_other_samples_under_the_lamp_are_told(cli: Cli, taken: dict[str, Path]) -> None:
    exchanged = ("--region", "A.jpg:card=90,140,60,60", "--region", "A.jpg:standard=90,45,200,80")
    told = cli("photo", "read", taken["D65"], *PLACES, *exchanged, "--under", f"A={taken['A']}", "--json").json
    alone = _colours(cli("photo", "read", taken["D65"], *PLACES, "--json").json)
    assert any(
        "no paint that looks so in D65 looks so in A; do the photographs show" in one for one in told["warnings"]
    )
    assert _colours(told)["card"] == alone["card"]
    assert _colours(told)["standard"] != alone["standard"]


def test_wrong_lamps_are_refused_and_nothing_is_written(cli: Cli, taken: dict[str, Path], tmp_path: Path) -> None:
    for said, part in (
        ("lamp.jpg", "is not LIGHT=PHOTO"),
        (f"D65={taken['A']}", "is in D65, for which the colours are given"),
        (f"A={taken['D65']}", "one photograph is named twice"),
        (f"candle={taken['A']}", "candle"),
        (f"A={tmp_path / 'none.jpg'}", "none.jpg"),
    ):
        ran = cli("photo", "read", taken["D65"], *PLACES, "--under", said, "--save", tmp_path / "c.csv")
        assert ran.status == 2, said
        assert part in ran.err
        assert len(ran.err.strip().splitlines()) == 1
        assert not (tmp_path / "c.csv").exists()


def test_a_target_that_is_saved_and_recorded_has_what_both_tell(
    cli: Cli, taken: dict[str, Path], tmp_path: Path
) -> None:
    cli("job", "new", "Roof")
    lamp = ("--under", f"A={taken['A']}")
    read = cli(
        "photo", "read", taken["D65"], *PLACES, *lamp, "--save", tmp_path / "c.csv", "--job", "J1", "--json"
    ).json
    saved = (tmp_path / "c.csv").read_text("utf-8")
    assert all(f"{region['u95']:.2f}" in saved for region in read["regions"])
    with open_ledger() as ledger:
        views = ledger.entries(ledger.find_job("J1"), kind="reading")
    assert [view.entry.u95 for view in views] == pytest.approx([region["u95"] for region in read["regions"]])  # type: ignore[attr-defined]
    assert {source[0] for view in views for source in view.sources} == {"D65.jpg", "A.jpg"}


def test_panels_of_a_bank_are_known_nearer(cli: Cli, taken: dict[str, Path], tmp_path: Path) -> None:
    bank = tmp_path / "shop"
    bank.mkdir()
    (bank / "bank.toml").write_text('name = "by phone"\ngeometry = "45/0"\nbinder_index = 1.5\n', "utf-8")
    (bank / "panels.csv").write_text(WEIGHED, "utf-8")
    places = ("--region", "white=90,45,200,80", "--region", "blue 10/90=340,45,200,80")
    alone, both = (
        cli("bank", "photo", bank, taken["D65"], *places, *more, "--json").json["panels"]
        for more in ((), ("--under", f"A={taken['A']}"))
    )
    for one, lit in zip(alone, both, strict=True):
        assert (one["panel"], one["picture"]) == (lit["panel"], lit["picture"])
        assert lit["u95"] < one["u95"]
        assert lit["u95_shared"] < one["u95_shared"]
        assert lit["lab"] != one["lab"]
    rows = [line for line in (bank / "seen.csv").read_text("utf-8").splitlines() if line.startswith(("white,", "blue"))]
    assert len(rows) == 2
    assert all(",D65.jpg" in row for row in rows)
    refused = cli("bank", "photo", bank, taken["D65"], *places, "--under", f"D65={taken['A']}")
    assert refused.status == 2
    assert "is in D65, for which the colours are given" in refused.err
