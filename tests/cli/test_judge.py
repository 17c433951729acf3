"""With a job in use nothing is said twice: what isn't given is the job's, and what is given comes first."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import ROOT
from tests.helpers.kept_ledger import put_ledger

Cli = Callable[..., Any]
SWATCHES = ROOT / "swatches"
BANK, TARGET = SWATCHES / "bank", SWATCHES / "target.csv"


@pytest.fixture
def job(home: Path) -> str:
    """A job in use, whose colour is mixed and poured."""
    mixed = f"mix '{TARGET}' --bank '{BANK}' --grams 500 --max-tints 3 --recipes 2"
    lines = ["job new 'Tarnbeck Six'", "job use J1", mixed, f"job pour '{SWATCHES / 'batch1.csv'}'"]
    put_ledger(home, lines)
    return "J1"


def _entries(cli: Cli) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = cli("job", "show", "--json").json["entries"]
    return found


def _last(cli: Cli, kind: str) -> int:
    return int([entry["number"] for entry in _entries(cli) if entry["kind"] == kind][-1])


def _kinds(cli: Cli) -> list[str]:
    return [entry["kind"] for entry in _entries(cli)]


def _next(cli: Cli) -> str:
    return str(cli("next", "--json").json["next"])


def test_judge_does_spray_compare_and_correct_in_one(cli: Cli, job: str) -> None:
    before, batch = len(_entries(cli)), _last(cli, "batch")
    ran = cli("judge", SWATCHES / "card1.csv")
    assert ran.status == 1
    said = f"from J1 Tarnbeck Six: target #2 (Saltmarsh Blue), bank Lowmere bench tints, batch #{batch}"
    assert said in " ".join(ran.out.split())
    assert "the card is outside the tolerance of 0.5" in ran.out
    assert "add\n" in ran.out
    assert _kinds(cli)[before:] == ["spray-out", "verdict", "correction", "strength"]
    card, verdict, correction, _ = _entries(cli)[before:]
    assert verdict["entry"]["spray_out"] == correction["entry"]["spray_out"] == card["number"]
    assert card["entry"]["batch"] == correction["entry"]["batch"] == batch


def test_judged_in_one_is_as_judged_step_by_step(cli: Cli, job: str) -> None:
    judged = cli("judge", SWATCHES / "card1.csv", "--json").json
    tin = ("--batch", SWATCHES / "batch1.csv", "--sprayed", SWATCHES / "card1.csv")
    by_hand = cli("correct", TARGET, "--bank", BANK, *tin, "--job", "none", "--json").json
    assert judged["correction"]["additions"] == by_hand["additions"]
    assert judged["correction"]["before"] == by_hand["before"] == judged["difference"]


def test_how_a_card_was_sprayed_is_kept_with_it(cli: Cli, job: str) -> None:
    card = SWATCHES / "card1.csv"
    cli("judge", card, "--ground", "grey primer", "--coats", 2, "--surface", "cut and polished")
    kept = next(entry["entry"] for entry in _entries(cli) if entry["kind"] == "spray-out")
    assert (kept["ground"], kept["coats"], kept["surface"]) == ("grey primer", 2, "cut and polished")


def test_the_same_reading_judged_again_is_the_same_card(cli: Cli, job: str) -> None:
    first = cli("judge", SWATCHES / "card1.csv", "--surface", "cut and polished", "--json").json
    cli("judge", f"{SWATCHES / 'target.csv'}", "--anyway")  # another card between them
    again = cli("judge", SWATCHES / "card1.csv", "--json").json
    cards = [entry for entry in _entries(cli) if entry["kind"] == "spray-out"]
    assert [card["entry"]["surface"] for card in cards] == ["cut and polished", "as sprayed"]
    assert set(again["recorded"]).isdisjoint(first["recorded"])
    verdicts = [entry["entry"]["spray_out"] for entry in _entries(cli) if entry["kind"] == "verdict"]
    assert verdicts == [cards[0]["number"], cards[1]["number"], cards[0]["number"]]
    cli("judge", SWATCHES / "card1.csv", "--coats", 3)  # sprayed otherwise than was said
    assert _kinds(cli).count("spray-out") == 3


def test_a_card_inside_is_said_to_be_and_nothing_is_open(cli: Cli, job: str) -> None:
    cli("job", "pour", SWATCHES / "batch2.csv")
    ran = cli("judge", SWATCHES / "card2.csv", "--tolerance", 0.6)
    assert ran.status == 0
    assert "the card is inside the tolerance of 0.6" in ran.out
    assert "nothing is open" in cli("next").out


def test_how_more_of_a_paint_that_is_right_is_poured_is_said_and_of_one_that_isnt_not(cli: Cli, job: str) -> None:
    assert "more of this paint" not in cli("judge", SWATCHES / "card1.csv").out
    cli("job", "pour", SWATCHES / "batch2.csv")
    said = cli("judge", SWATCHES / "card2.csv", "--tolerance", 0.6).out
    (command,) = re.findall(r"more of this paint: finishmatch (.+) G$", said, flags=re.MULTILINE)
    ran = cli(*command.split(), "300", "--check")
    assert ran.status == 0
    assert "expect as much of this" in " ".join(ran.out.split())


def test_a_card_like_its_target_is_told_in_the_words_of_the_record(cli: Cli, job: str) -> None:
    same = "no difference the eye would name"
    assert same in " ".join(cli("judge", "45.17,-5.0,-15.2").out.split())
    assert same in " ".join(cli("job", "show").out.split())


def test_a_card_of_the_tin_before_an_addition_is_not_corrected_again(cli: Cli, job: str) -> None:
    batch = _last(cli, "batch")
    cli("judge", SWATCHES / "card1.csv")
    cli("job", "pour", SWATCHES / "batch2.csv")
    entries = _entries(cli)
    said = f"is of batch #{batch}, and batch #{_last(cli, 'batch')} is in the tin now"
    assert said in cli("correct").error
    assert said in cli("judge").error
    assert _entries(cli) == entries


def test_a_target_taken_from_the_job_is_not_recorded_again(cli: Cli, job: str) -> None:
    recipe = _last(cli, "recipe")
    ran = cli("mix", "--max-tints", 2, "--recipes", 1, "--json")
    assert ran.json["from_job"] == {
        "job": "J1", "target": 2, "recipe": recipe, "batch": None, "card": None, "bank": str(BANK)
    }  # fmt: skip
    assert ran.json["recipes"][0]["grams"] == pytest.approx(500, abs=0.1)
    assert (_kinds(cli).count("target"), _kinds(cli).count("reading")) == (1, 1)


def test_what_is_given_comes_before_what_the_job_has(cli: Cli, job: str) -> None:
    ran = cli("mix", "--grams", 120, "--max-tints", 2, "--recipes", 1, "--json")
    assert ran.json["recipes"][0]["grams"] == pytest.approx(120, abs=0.1)
    assert ran.json["from_job"]["recipe"] is None
    ran = cli("predict", "white=300", "blue=20", "--json")
    assert (ran.json["grams"], ran.json["from_job"]["batch"]) == (320, None)
    assert cli("predict", "--json").json["from_job"]["batch"] == _last(cli, "batch")


def test_a_plan_of_hiding_takes_bank_and_tin_from_the_job(cli: Cli, job: str) -> None:
    ran = cli("plan", "hiding")
    assert f"note: from J1: bank Lowmere bench tints, batch #{_last(cli, 'batch')}" in ran.out
    asked = ("plan", "hiding", "--bank", BANK, "--batch", SWATCHES / "batch1.csv", "--job", "none", "--json")
    assert cli("plan", "hiding", "--json").json["build_um"] == cli(*asked).json["build_um"]


def test_what_a_job_lacks_is_named_with_the_mend(cli: Cli, tmp_path: Path) -> None:
    cli("job", "new", "Wing")
    cli("job", "use", "J1")
    card = SWATCHES / "card1.csv"
    recorded = "record it first: finishmatch mix TARGET, or finishmatch evidence weigh EVIDENCE.csv"
    assert f"job J1: has no target yet; {recorded}" in cli("judge", card).error
    assert f"job J1: has no target yet; give it as TARGET, or {recorded}" in cli("mix").error
    assert (
        "job J1: isn't known to be mixed from any bank; name it once, it is remembered: --bank"
        in cli("mix", TARGET, "--grams", 500).error
    )
    assert (
        "has no recipe yet whose weight could be taken; say how much: --grams"
        in cli("mix", TARGET, "--bank", BANK).error
    )
    cli("mix", TARGET, "--bank", BANK, "--grams", 500, "--max-tints", 2)
    assert "has no batch yet; record what was poured: finishmatch job pour" in cli("judge", card).error
    assert "--job" not in cli("judge", card, "--job", "none").out


def test_judge_which_takes_no_bank_says_how_the_job_is_told_where_it_lies(cli: Cli, swatches: Path) -> None:
    cli("job", "new", "Wing")
    cli("job", "use", "J1")
    cli("mix", TARGET, "--bank", swatches / "bank", "--grams", 500, "--max-tints", 2)
    (swatches / "bank").rename(swatches / "tints")
    refused = cli("judge", SWATCHES / "card1.csv")
    assert refused.status == 2
    assert "say where it lies now: finishmatch job use J1 --bank FOLDER" in refused.error


def test_a_bank_that_is_not_where_it_was_is_asked_for(cli: Cli, swatches: Path) -> None:
    cli("job", "new", "Wing")
    cli("job", "use", "J1", "--bank", swatches / "bank")
    (swatches / "bank").rename(swatches / "tints")
    error = cli("mix", TARGET, "--grams", 500).error
    assert "which isn't there; say where it lies now: --bank" in error


def test_next_leads_from_an_empty_record_to_a_corrected_tin(cli: Cli) -> None:
    assert _next(cli) == 'finishmatch job new "TITLE"'
    cli("job", "new", "Tarnbeck Six")
    assert _next(cli) == "finishmatch evidence weigh EVIDENCE.csv --job J1"
    cli("job", "use", "J1")
    assert _next(cli) == "finishmatch evidence weigh EVIDENCE.csv"
    cli("evidence", "weigh", SWATCHES / "survivors.csv", "--colour", 1)
    assert _next(cli) == "finishmatch mix --bank BANK --grams G"
    cli("mix", TARGET, "--bank", BANK, "--grams", 500, "--max-tints", 3)
    best = next(e["number"] for e in _entries(cli) if e["kind"] == "recipe" and e["entry"]["rank"] == 1)
    assert _next(cli) == f"finishmatch job pour --as {best} --grams 250"
    assert cli("job", "pour", "--as", best, "--grams", 250).status == 0
    assert _next(cli) == "finishmatch judge CARD"
    cli("judge", SWATCHES / "card1.csv", "--anyway")
    shown = cli("next").out
    assert "card outside 0.91" in shown  # the tolerance that the evidence can defend
    correction = next(e["number"] for e in _entries(cli) if e["kind"] == "correction")
    assert _next(cli) == f"finishmatch job pour --as {correction}"
    assert cli("job", "pour", "--as", correction).status == 0
    assert "card outside" not in cli("next").out
    assert _next(cli) == "finishmatch judge CARD"


def test_next_asks_a_painter_without_an_instrument_for_a_photograph_of_card_and_standard(
    cli: Cli, tmp_path: Path
) -> None:
    piece, meter = tmp_path / "piece.csv", tmp_path / "meter.csv"
    cli("photo", "read", SWATCHES / "photo.jpg", "--region", "tin=96,92,174,131", "--save", piece)
    meter.write_text("name,geometry,L,a,b,u95\npiece,de8,38.3,-5.8,-18.5,0.8\n", encoding="utf-8")
    for target, asked in ((meter, "CARD"), (piece, "PHOTO.jpg")):
        job = cli("job", "new", target.stem, "--json").json["job"]["ref"]
        cli("job", "use", job)
        cli("mix", target, "--bank", BANK, "--grams", 300, "--max-tints", 2, "--recipes", 1)
        cli("job", "pour", "--as", next(entry["number"] for entry in _entries(cli) if entry["kind"] == "recipe"))
        assert _next(cli) == f"finishmatch judge {asked}"
    assert cli("judge", SWATCHES / "card1.csv", "--anyway").status == 1  # an instrument is at hand after all
    assert cli("job", "pour", "--as", _last(cli, "correction")).status == 0
    assert _next(cli) == "finishmatch judge CARD"


def test_a_paint_that_may_not_be_sprayed_comes_first_until_it_is_judged_again_or_struck(cli: Cli, job: str) -> None:
    sheets = SWATCHES / "plan"
    coats = (sheets / "basecoat.toml", sheets / "clear.toml")
    assert cli("plan", "law", *coats, "--rules", "district").status == 1
    number = _entries(cli)[-1]["number"]
    assert "may not be sprayed" not in cli("next").out  # it was only asked
    cli("plan", "quantity", "--product", coats[0], "--area", "2m2")  # and now it's what is sprayed
    shown = cli("next").out
    assert f"may not be sprayed (plan #{number})" in shown
    assert f"finishmatch job strike J1 {number} --why TEXT" in shown
    assert _next(cli).startswith("finishmatch plan law PRODUCT")
    cli("plan", "law", sheets / "surfacer.toml", "--rules", "district")  # another paint doesn't answer for it
    assert _next(cli).startswith("finishmatch plan law PRODUCT")
    cli("job", "strike", number, "--why", "single-stage instead")
    assert "may not be sprayed" not in cli("next").out


def test_what_was_only_asked_of_the_law_doesnt_wait(cli: Cli, job: str) -> None:
    typed = ("plan", "law", "--kind", "single-stage", "--voc", "420g/l", "--rules", "district")
    assert cli(*typed).status == 1
    cli("plan", "quantity", "--product", SWATCHES / "plan" / "single-stage.toml", "--area", "2m2")
    assert "may not be sprayed" not in cli("next").out
    assert "may not be" in cli("job", "show").out  # the ruling is kept


def test_next_says_what_is_open_across_jobs_with_the_one_in_use_first(cli: Cli, job: str) -> None:
    cli("job", "new", "Wing")
    cli("job", "pour", "J2", SWATCHES / "batch1.csv")
    cli("job", "new", "Door")
    cli("job", "note", "J3", "dry")
    shown = cli("next", "--json").json
    assert [(one["job"]["ref"], one["in_use"]) for one in shown["jobs"]] == [("J1", True), ("J2", False)]
    assert (shown["job"], shown["next"]) == ("J1", shown["jobs"][0]["open"][0]["next"])
    assert shown["jobs"][1]["open"][0]["next"] == "finishmatch job spray J2 READINGS.csv"
    assert cli("next", "Door").out.strip().endswith("nothing is open")
    assert "there is no such job" in cli("next", "J9").error


def test_at_fifty_columns_no_line_of_next_is_cut(cli: Cli, job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "50")
    sheets = SWATCHES / "plan"
    cli("plan", "law", sheets / "basecoat.toml", sheets / "clear.toml", "--rules", "district")
    assert max(map(len, cli("next").out.splitlines())) <= 50
    ran = cli("job", "strike", 5, "--why", "poured into another tin")
    assert max(map(len, ran.out.splitlines())) <= 50


def test_a_card_too_thin_to_hide_is_said_to_show_its_ground(cli: Cli, job: str) -> None:
    thin = cli("judge", SWATCHES / "card1.csv", "--ground", "black", "--build-um", 8)
    said = " ".join(thin.out.split())
    assert "the card is 8 µm thick, and this paint hides from 1" in said
    assert "no tint mends that" in said
    again = " ".join(cli("judge").out.split())  # as it was sprayed is kept with it
    assert "the card is 8 µm thick" in again


def test_a_card_that_hides_is_not(cli: Cli, job: str) -> None:
    thick = cli("judge", SWATCHES / "card1.csv", "--ground", "black", "--build-um", 60)
    assert "add\n" in thick.out
    assert "shows through" not in thick.out


def test_a_typed_reading_that_another_batch_has_too_is_asked_about_and_says_how_to_go_on(cli: Cli, job: str) -> None:
    assert cli("judge", "45.2,-5.1,-15.3").status in (0, 1)
    assert cli("job", "pour", SWATCHES / "batch2.csv", "--to", "new").status == 0
    before = len(_entries(cli))
    refused = cli("judge", "45.2,-5.1,-15.3")
    assert (refused.status, len(_entries(cli))) == (2, before)
    assert "is recorded as the card of batch #" in refused.err
    assert "one that happens to read the same figures is taken with --anyway" in " ".join(refused.err.split())
    taken = cli("judge", "45.2,-5.1,-15.3", "--anyway", "--json").json["correction"]
    assert any("is recorded as the card of batch #" in one for one in taken["warnings"])
    assert _kinds(cli).count("spray-out") == 2


def test_the_reading_of_the_target_itself_is_no_card(cli: Cli, job: str) -> None:
    before = _kinds(cli)
    for given in (("judge", TARGET), ("correct", "--sprayed", TARGET), ("job", "spray", TARGET)):
        refused = cli(*given)
        assert (refused.status, _kinds(cli)) == (2, before)
        said = "the spray-out (Saltmarsh Blue): is the reading of the target itself, Saltmarsh Blue (#2); read the card"
        assert said in " ".join(refused.err.split())
    taken = cli("judge", TARGET, "--anyway", "--json").json["correction"]
    assert any("is the reading of the target itself" in one for one in taken["warnings"])
    assert cli("judge").status == 0  # asked once
    assert _kinds(cli).count("spray-out") == 1


def test_the_reading_of_a_sample_that_the_target_was_found_from_is_no_card(cli: Cli, job: str) -> None:
    cli("job", "new", "Wing")
    cli("evidence", "weigh", SWATCHES / "survivors.csv", "--job", "J2")
    reading = next(entry for entry in cli("job", "show", "J2", "--json").json["entries"] if entry["kind"] == "reading")
    cli("mix", "--bank", BANK, "--grams", 500, "--max-tints", 3, "--recipes", 1, "--job", "J2")
    cli("job", "pour", "J2", SWATCHES / "batch1.csv")
    refused = cli("judge", f"{SWATCHES / 'evidence.csv'}@{reading['entry']['name']}", "--job", "J2")
    from_it = f"{reading['entry']['name']} (#{reading['number']})"
    said = f"is the reading of a sample that the target was found from, {from_it}"
    assert (refused.status, said in " ".join(refused.err.split())) == (2, True), refused.err


def test_without_a_job_the_target_given_as_the_card_is_said(cli: Cli, home: Path) -> None:
    tin = ("--bank", BANK, "--batch", SWATCHES / "batch1.csv", "--sprayed", TARGET)
    said = " ".join(cli("correct", TARGET, *tin).out.split())
    assert "note: the spray-out (Saltmarsh Blue) is the reading of the target itself: read the card" in said
