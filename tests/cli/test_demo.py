"""The demo: the whole job on the bundled scenario. From an installed wheel it is run in tests/house."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.correct.correct import correct_batch
from finishmatch.evidence.target import colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.readings import read_batch, read_readings
from finishmatch.steps.bank import open_bank
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import snapshot

Cli = Callable[..., Ran]


def test_it_shows_the_whole_job_and_leaves_page_and_ledger(
    cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    ran = cli("demo", "--out", out)
    assert (ran.status, ran.err) == (0, "")
    assert "Decided: " in ran.out
    assert "nothing is decided yet" not in ran.out
    for heading in (
        "1. What survives",
        "3. A recipe",
        "5. Corrected by adding",
        "7. Craters on the roof",
        "Still open",
    ):
        assert heading in ran.out
    assert "An invented car" in ran.out
    assert "isocyanates" in ran.out
    page = (out / "match.html").read_text("utf-8")
    assert page.count("<svg") == 5  # a*b*, spectra, every light, the curves of the recipe's tints and of all
    folded = page[page.index("<details>") : page.index("</details>")]
    assert folded.count('id="FillBetweenPolyCollection_') == 2 * 16  # K and S of every tint, each with its band
    assert page.count('class="chip"') == 5
    assert "on the scale" in page
    assert "every reading on this page was generated" in page
    assert not re.search(
        r"""(src|href)=["']https?:|url\(https?:|<script|<link""", page
    )  # it needs nothing from elsewhere
    monkeypatch.setenv("FINISHMATCH_HOME", str(out))
    kinds = [entry["kind"] for entry in cli("job", "show", "J1", "--json").json["entries"]]
    assert {"reading", "target", "recipe", "batch", "spray-out", "verdict", "correction"} <= set(kinds)
    assert {"film-layer", "defect", "decision"} <= set(kinds)
    assert kinds.count("strength") == kinds.count("spray-out") == 2  # every card shows something of its tins
    assert cli("job", "note", "J1", "the air line is clean").status == 0
    again = cli("demo", "--out", out)
    assert again.status == 0
    assert [job["ref"] for job in cli("job", "list", "--json").json["jobs"]] == ["J1", "J2"]


def test_the_first_card_is_outside_and_the_corrected_one_inside(cli: Cli, tmp_path: Path) -> None:
    found = cli("demo", "--out", tmp_path / "out", "--json").json
    assert max(found["first_card"].values()) > found["tolerance"] >= max(found["second_card"].values())
    assert found["advice"] == "back to primer and paint again"


def test_the_bundled_pours_are_what_is_proposed_today() -> None:
    """Run tools/make_swatches.py when this fails: the scenario has fallen behind the program."""
    swatches = ROOT / "swatches"
    fitted = open_bank(str(swatches / "bank"))
    optics, tints = fitted.fit.optics, fitted.bank.tints
    goal = colour_target(read_readings(swatches / "target.csv")["Saltmarsh Blue"], ("D65", "A", "F11"), 10)
    first = read_batch(swatches / "batch1.csv")
    recipe = propose_recipes(goal, optics, tints, 500.0, RecipeRequest(max_tints=4)).recipes[0]
    assert dict(first) == pytest.approx(dict(recipe.parts), abs=0.11)
    card = read_readings(swatches / "card1.csv")["card 1"]
    added = read_batch(swatches / "batch2.csv")[len(first) :]
    correction = correct_batch(goal, optics, tints, first, card)
    assert dict(added) == pytest.approx(dict(correction.additions), abs=0.11)


def test_results_that_cannot_be_written_are_reported_in_a_line(cli: Cli, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    assert "taken" in cli("demo", "--out", taken).error
    assert taken.read_text("utf-8") == "mine"
    assert "--out: is empty; name a folder" in cli("demo", "--out", "").error


@pytest.mark.parametrize(
    ("name", "make", "message"),
    [
        (
            "bank",
            lambda path: path.write_text("mine"),
            "is a file where the demo's bank should be; name another folder",
        ),
        ("match.html", lambda path: path.mkdir(), "is a folder where the demo's page should be; name another folder"),
        ("ledger.db", lambda path: path.write_text("mine"), "is not a ledger: it isn't a SQLite database"),
    ],
)
def test_what_stands_in_the_way_is_reported_before_anything_is_written(
    cli: Cli, tmp_path: Path, name: str, make: Callable[[Path], object], message: str
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    make(out / name)
    before = snapshot(out)
    assert message in cli("demo", "--out", out).error
    assert snapshot(out) == before
