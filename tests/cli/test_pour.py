"""`job pour`: held against the recipe before a card is sprayed; slips are refused, an overshoot is answered, stock goes
down, and a part that is set aside is gone on with."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import finishmatch as fm
from finishmatch.cautions import CANCER, TOXIC
from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.job_document import job_document
from finishmatch.ledger import open_ledger
from finishmatch.steps.handover.kept_job import kept_job
from finishmatch.steps.job.on_the_scale import on_the_scale
from tests.conftest import Ran
from tests.helpers.door_files import write
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
RECIPE = {"white": 443.6, "blue": 27.5, "soft black": 24.4, "violet": 2.5, "green": 2.0}
N = 3  # of the recipe in the record


@pytest.fixture
def mixed(bench: Path, home: Path) -> Path:
    """A job with a target and a recipe, mixed from the bank of the bench."""
    put_ledger(home, ["job new Roof", "mix target.csv --bank bank --grams 500 --recipes 1 --job J1"])
    with open_ledger(home) as ledger:
        (recipe,) = ledger.entries(ledger.find_job("J1"), kind="recipe")
    assert recipe.number == N
    return bench


def _typed(**changed: float) -> list[str]:
    parts = {tint: changed.get(tint.replace(" ", "_"), grams) for tint, grams in _recipe().items()}
    return [f"{tint}={grams:g}" for tint, grams in parts.items()]


def _recipe() -> dict[str, float]:
    with open_ledger() as ledger:
        return dict(ledger.entries(ledger.find_job("J1"), kind="recipe")[0].entry.parts)  # type: ignore[attr-defined]


def _entries(cli: Cli, kind: str) -> list[dict[str, Any]]:
    return [view for view in cli("job", "show", "J1", "--json").json["entries"] if view["kind"] == kind]


def _open(cli: Cli) -> list[str]:
    return [item["what"] for item in cli("job", "show", "J1", "--json").json["open"]]


def test_a_recipe_that_was_poured_as_it_is_needs_one_line(cli: Cli, mixed: Path) -> None:
    ran = cli("job", "pour", "J1", *_typed())
    assert ran.status == 0
    assert f"every part is as recipe #{N} has it" in ran.out
    found = cli("job", "pour", "J1", "--as", N, "--json").json
    assert found["recorded"]["entry"]["recipe"] == N
    assert found["stands"]["lines"][0]["planned"] == found["stands"]["lines"][0]["poured"]
    assert not found["stands"]["overshot"]
    assert any("holds the same to the gram" in text for text in found["understood"])


def test_an_overshoot_is_answered_with_what_brings_it_back(cli: Cli, mixed: Path) -> None:
    over = round(_recipe()["blue"] + 6, 1)
    ran = cli("job", "pour", "J1", "--as", N, f"blue={over}", "--json")
    stands = ran.json["stands"]
    assert (ran.status, stands["overshot"], stands["against"]["verdict"]) == (0, True, "outside")
    (blue,) = [line for line in stands["lines"] if line["over"]]
    assert (blue["tint"], blue["over"]) == ("blue", pytest.approx(6))
    # the tin with what is to be added is, as the library sees it, inside of what was meant
    tin = {part["tint"]: part["grams"] for part in ran.json["parts"]}
    for part in stands["way_back"]["additions"]:
        tin[part["tint"]] = tin.get(part["tint"], 0) + part["grams"]
    meant = fm.predict("bank", _recipe()).reflectance
    assert max(fm.compare(meant, fm.predict("bank", tin).reflectance).verdict.lights.values()) <= 0.5
    proportion = stands["in_proportion"]
    assert proportion["grams"] == pytest.approx(500 * over / _recipe()["blue"], rel=0.01)
    assert stands["way_back_cost"] < proportion["cost"]


def test_the_way_back_is_open_until_it_is_poured_and_is_then_held_against(cli: Cli, mixed: Path) -> None:
    over = round(_recipe()["blue"] + 6, 1)
    way = cli("job", "pour", "J1", "--as", N, f"blue={over}", "--json").json["stands"]["way_back"]["additions"]
    (due,) = _entries(cli, "correction")
    assert _open(cli) == [f"correction #{due['number']} is not poured yet"]
    added = cli("job", "pour", "J1", *(f"{part['tint']}={part['grams']}" for part in way), "--json").json
    assert (added["stands"]["plan"]["number"], added["stands"]["added_to"]) == (due["number"], due["number"] - 1)
    assert not added["stands"]["overshot"]
    assert added["recorded"]["entry"]["continues"] == due["number"] - 1
    assert _open(cli) == [f"batch #{added['recorded']['number']} is not sprayed yet"]


def test_what_harms_in_the_tin_or_in_the_way_back_is_named_in_full_the_first_time(cli: Cli, mixed: Path) -> None:
    _change_tints("black", "hazard", "lead; chromate")  # no part of the recipe, and of the way back
    over = f"blue={_recipe()['blue'] + 6:.1f}"
    way = cli("job", "pour", "J1", "--as", N, over).out
    assert "  ! black holds lead, chromate (by tints.csv)" in way
    assert (f"! {TOXIC}" in way, f"! {CANCER}" in way) == (True, True)
    poured = cli("job", "pour", "J1", "--as", _entries(cli, "correction")[0]["number"]).out
    assert "  ! black holds lead, chromate (by tints.csv)" in poured
    assert "! as before: a tint that poisons, chromate or cadmium, solvents" in poured
    cli("job", "new", "Wing")
    typed = ("job", "pour", "J2", "white=200", "black=3", "--bank", "bank")
    assert f"! {CANCER}" in cli(*typed).out  # no recipe told of it
    assert "! as before: a tint that poisons, chromate or cadmium" in cli(*typed).out
    found = cli(*typed, "--json").json
    assert found["hazards"] == [{"tint": "black", "hazards": ["lead", "chromate"], "by": "tints.csv"}]
    assert CANCER in found["cautions"]


def _change_tints(tint: str, column: str, value: str) -> None:
    """Write a value of a tint in the bank's table, in a column of its own where there is none."""
    table = Path("bank/tints.csv")
    lines = [line for line in table.read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    for row in rows:
        row[column] = value if row["tint"] == tint else row.get(column, "")
    with table.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_nothing_is_offered_that_the_stock_does_not_hold(cli: Cli, mixed: Path) -> None:
    white, over = _recipe()["white"], f"blue={_recipe()['blue'] + 6:.1f}"
    _change_tints("white", "stock_g", f"{white + 10:.1f}")
    pour = ("job", "pour", "J1", "--as", N, over)
    told = [cli(*pour, "--check", "--json").json["stands"], cli(*pour, "--json").json["stands"]]
    (batch,) = _entries(cli, "batch")
    told.append(cli(*pour, "--supersedes", batch["number"], "--why", "weighed again", "--json").json["stands"])
    told.append(on_the_scale("J1", N).as_dict()["stands"])  # of what is recorded already
    for stands in told:
        added = {part["tint"]: part["grams"] for part in stands["way_back"]["additions"]}
        assert 0 < added.get("white", 0.0) <= 10
        assert "the stock is in the way: it takes" in stands["way_back"]["why"]
        (lacking,) = stands["in_proportion"]["lacking"]
        assert (lacking["tint"], lacking["left"]) == ("white", pytest.approx(10))
    text = cli(*pour, "--supersedes", batch["number"] + 1, "--why", "weighed again").out
    assert "in all, takes more than there is: " in text
    assert "of white (10 g are there)" in text
    assert "or every part in proportion" not in text
    _change_tints("white", "stock_g", "40")
    half_way = cli("job", "pour", "J1", "--recipe", N, "--to", "new", "violet=1", "--check", "--json").json
    (note,) = (note for note in half_way["warnings"] if "still to go" in note)
    assert note.startswith("the stock is too small for what is still to go: ")
    assert "g of white (40 g are there)" in note


def test_below_what_can_be_seen_an_overshoot_costs_nothing(cli: Cli, mixed: Path) -> None:
    stands = cli("job", "pour", "J1", "--as", N, f"blue={_recipe()['blue'] + 1:g}", "--json").json["stands"]
    assert (stands["overshot"], stands["against"]["verdict"]) == (True, "within")
    assert _entries(cli, "correction") == []
    assert "inside 0.5: nothing to add" in cli("job", "pour", "J1", "--as", N, f"blue={_recipe()['blue'] + 1:g}").out


def test_an_overshoot_too_large_to_come_back_from_is_an_honest_no(cli: Cli, mixed: Path) -> None:
    ran = cli("job", "pour", "J1", "--as", N, "blue=120")
    assert ran.status == 1
    assert "within the growth limit it can't be brought back" in ran.out
    assert "or every part in proportion" in ran.out
    assert len(_entries(cli, "batch")) == 1  # it is in the tin, whatever comes of it
    assert _entries(cli, "correction") == []


def test_half_way_it_says_what_is_to_go_and_records_nothing(cli: Cli, mixed: Path) -> None:
    recipe = _recipe()
    before = len(cli("job", "show", "J1", "--history", "--json").json["entries"])
    empty = cli("job", "pour", "J1", "--check", "--recipe", N, "--json").json["stands"]
    share = empty["plan"]["size"]  # before its first card a part of it is poured
    assert share < 1
    part = {tint: pytest.approx(share * grams, abs=0.051) for tint, grams in recipe.items()}
    assert {line["tint"]: line["to_go"] for line in empty["lines"]} == part
    white = round(recipe["white"] + 36, 1)
    ran = cli("job", "pour", "J1", f"white={white}", "--check", "--json").json
    assert ran["recorded"] is None
    lines = {line["tint"]: line for line in ran["stands"]["lines"]}
    assert lines["white"]["over"] == pytest.approx(36)
    assert lines["blue"]["to_go"] == recipe["blue"]
    assert ran["stands"]["against"]["verdict"] == "outside"
    assert len(cli("job", "show", "J1", "--history", "--json").json["entries"]) == before


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (["whit=443.6"], "the bank has no tint 'whit'; did you mean white?"),
        (["--as", "3", "blue=275"], "blue (recipe #3): 275 g is 10 times what is planned"),
        (["--as", "3", "--running"], "--running: can't stand beside --as"),
        (["--running", "white=443.6", "blue=27.5"], "a running total never falls"),
        (["--as", "2"], "#2: is a target, not a recipe or correction"),
        (["--as", "99"], "#99: there is no such entry in this job"),
        (["--grams", "200"], "nothing is said to be poured"),
        (["white=3", "--grams", "200"], "--grams: is said of a recipe, and none is named"),
        (["--as", "3", "--grams", "nan"], "--grams: 'nan' is not a finite number"),
        (["--as", "3", "--to", "last"], "--to: there is no batch in this job yet"),
        (["--as", "3", "--to", "tin"], "--to: 'tin' is not a batch"),
        (["--set-aside", "half"], "--set-aside: there is no tin to set a part of aside"),
        (["--as", "3", "--tin", "300ml"], "--tin: 500 g of this are 0.34 L, and the tin holds 0.3 L"),
        (["--as", "3", "--scale-step", "0"], "--scale-step"),
        ([], "nothing is said to be poured; give TINT=GRAMS, a file, or --as N"),
    ],
)
def test_a_slip_is_one_line_and_nothing_is_recorded(
    refused: Callable[..., str], cli: Cli, mixed: Path, typed: list[str], told: str
) -> None:
    assert told in refused("job", "pour", "J1", *typed)
    assert _entries(cli, "batch") == []


def test_running_totals_are_told_and_taken_when_they_are_said_to_be(
    refused: Callable[..., str], cli: Cli, mixed: Path
) -> None:
    totals, scale = [], 0.0
    for tint, grams in _recipe().items():
        scale = round(scale + grams, 1)
        totals.append(f"{tint}={scale:g}")
    assert "look like the scale's running totals" in refused("job", "pour", "J1", *totals)
    found = cli("job", "pour", "J1", "--running", *totals, "--json").json
    assert {part["tint"]: part["grams"] for part in found["parts"]} == pytest.approx(_recipe())
    # added to the tin that stands on the scale
    more = cli(
        "job", "pour", "J1", "--running", "--to", "last", f"white={scale + 14:g}", f"blue={scale + 15:g}", "--json"
    )
    added = more.json["parts"][-2:]
    assert [(part["tint"], part["grams"]) for part in added] == [
        ("white", pytest.approx(14)),
        ("blue", pytest.approx(1)),
    ]


def test_what_looks_like_a_slip_is_taken_when_that_is_said(cli: Cli, mixed: Path) -> None:
    ran = cli("job", "pour", "J1", "--as", N, "blue=275", "--anyway", "--json")
    assert ran.status == 1
    assert any("taken as it is" in note for note in ran.json["warnings"])


def test_stock_goes_down_by_what_was_poured_and_mix_knows_it(cli: Cli, mixed: Path) -> None:
    recipe = _recipe()
    cli("job", "pour", "J1", *_typed())
    cli("job", "pour", "J1", "--to", "last", "white=10")
    mix = ("mix", "target.csv", "--bank", "bank", "--grams", 500, "--recipes", 1, "--json")
    stock = {item["tint"]: item for item in cli(*mix).json["stock"]}
    assert stock["white"]["poured"] == pytest.approx(recipe["white"] + 10)
    assert stock["white"]["left"] == pytest.approx(4000 - recipe["white"] - 10)
    # poured until it is short: the recipe does without, and says so
    short = (mixed / "bank/tints.csv").read_text("utf-8").replace("PB15:1,1,0.3,58,1000", "PB15:1,1,0.3,58,60")
    write(mixed / "bank/tints.csv", short)
    assert {item["tint"] for item in cli(*mix).json["stock"]} == set(recipe) - {"blue"}  # counted anew
    cli("job", "pour", "J1", *_typed(), "--to", "new")
    found = cli(*mix).json
    assert {item["tint"]: item["left"] for item in found["stock"]}["blue"] == pytest.approx(60 - recipe["blue"])
    cli("job", "pour", "J1", *_typed(), "--to", "new")
    found = cli(*mix).json
    left = 60 - 2 * recipe["blue"]
    assert all(part["grams"] <= left for part in found["recipes"][0]["parts"] if part["tint"] == "blue")
    if any(part["tint"] == "blue" for part in found["recipes"][0]["parts"]):
        assert any("blue runs low" in note for note in found["warnings"])
    over = cli("job", "pour", "J1", *_typed(), "--to", "new", "--json").json
    assert any("of blue were poured since 60 g were counted: count it again" in note for note in over["warnings"])
    assert not any("blue runs low" in note for note in over["warnings"])  # nobody knows what is left


def test_a_part_that_is_only_set_aside_leaves_nothing_to_check(
    cli: Cli, mixed: Path, refused: Callable[..., str]
) -> None:
    cli("job", "pour", "J1", "batch1.csv")
    said = refused("job", "pour", "J1", "--set-aside", "half", "--check")
    assert "--check: there is nothing to be checked; leave it out: only a part is set aside" in said


def test_a_part_set_aside_leaves_the_rest_and_a_correction_is_for_that(cli: Cli, mixed: Path) -> None:
    cli("job", "pour", "J1", "batch1.csv")
    cli("job", "spray", "J1", "card1.csv")
    cli("compare", "target.csv", "card1.csv", "--job", "J1", "--tolerance", 0.2)
    whole = cli("correct", "target.csv", "--bank", "bank", "--batch", "batch1.csv", "--sprayed", "card1.csv",
                "--job", "J1", "--json").json  # fmt: skip
    (batch,) = _entries(cli, "batch")
    (due,) = _entries(cli, "correction")
    aside = cli("job", "pour", "J1", "--set-aside", "half", "--json").json
    entry = aside["recorded"]["entry"]
    assert (entry["continues"], entry["share"]) == (batch["number"], 0.5)
    assert sum(part["grams"] for part in aside["parts"]) == pytest.approx(499.9 / 2)
    assert aside["understood"][0].startswith(f"of correction #{due['number']} this part takes ")
    assert _open(cli) == [f"correction #{due['number']} is not poured yet"]  # nothing new is to be sprayed
    poured = {item["tint"]: item["poured"] for item in aside["stock"]}
    assert poured["white"] == pytest.approx(444.2)
    added = cli("job", "pour", "J1", "--as", due["number"], "--json").json
    halves = {part["tint"]: part["grams"] / 2 for part in whole["additions"]}
    assert {part["tint"]: part["grams"] for part in added["parts"][-len(halves) :]} == pytest.approx(halves)
    assert added["stands"]["plan"]["size"] == 0.5
    assert added["recorded"]["entry"]["continues"] == aside["recorded"]["number"]


def test_what_stands_aside_is_told_wherever_a_job_is_looked_at(cli: Cli, mixed: Path) -> None:
    first = cli("job", "pour", "J1", "--as", N, "--json").json["recorded"]["number"]
    assert "aside" not in cli("job", "show", "J1").out
    second = cli("job", "pour", "J1", "--set-aside", "30%", "blue=1", "--json").json["recorded"]["number"]
    told = {"batch": first, "share": 0.3, "grams": 150.0, "recipe": N, "meant_for": ""}
    assert cli("job", "show", "J1", "--json").json["set_aside"] == [told]
    assert cli("next", "J1", "--json").json["jobs"][0]["set_aside"] == [told]
    said = f"150.0 g stand aside: 30 % of batch #{first} as it was, poured by recipe #{N}"
    assert said in " ".join(cli("next", "J1").out.split())
    shown = " ".join(cli("job", "show", "J1").out.split())
    assert said in shown
    assert f"finishmatch job pour J1 TINT=GRAMS --to {first} --set-aside 70%" in shown
    assert said in document_html(job_document(kept_job("J1")))
    # gone on with in its turn, it leaves the first part standing aside
    cli("job", "pour", "J1", "violet=0.5", "--to", first, "--set-aside", "70%")
    assert cli("job", "show", "J1", "--json").json["set_aside"] == [
        {"batch": second, "share": 1.0, "grams": 351.0, "recipe": N, "meant_for": ""}
    ]
    cli("job", "pour", "J1", "white=400", "blue=20", "--to", "new")  # another tin says nothing of these
    assert cli("job", "show", "J1", "--json").json["set_aside"] == []


def test_what_a_part_is_meant_for_is_kept_with_it(cli: Cli, mixed: Path) -> None:
    first = cli("job", "pour", "J1", "--as", N, "--json").json["recorded"]["number"]
    lid = ("--set-aside", "30%", "--aside-for", "the  boot lid")
    kept = cli("job", "pour", "J1", "blue=1", *lid, "--json").json
    assert kept["set_aside"]["entry"]["aside_for"] == "the boot lid"
    assert kept["recorded"]["entry"]["aside_for"] == ""
    said = f"30 % of batch #{first} as it was, poured by recipe #{N}; meant for the boot lid"
    for shown in (cli("job", "show", "J1").out, cli("next", "J1").out):
        assert said in " ".join(shown.split())
    assert said in document_html(job_document(kept_job("J1")))
    assert "is set aside for the boot lid" in " ".join(cli("job", "show", "J1").out.split())
    cli("job", "pour", "J1", "violet=0.5", "--to", first, "--set-aside", "70%", "--aside-for", "the doors")
    (part,) = cli("job", "show", "J1", "--json").json["set_aside"]
    assert (part["batch"], part["meant_for"]) == (kept["recorded"]["number"], "the doors")


def test_what_a_part_is_meant_for_is_refused_where_none_is_set_aside(cli: Cli, mixed: Path) -> None:
    ran = cli("job", "pour", "J1", "--as", N, "--aside-for", "the boot lid")
    assert ran.status == 2
    assert "--aside-for: says what a part is meant for, and none is set aside; say how much with" in ran.error


def test_setting_aside_and_pouring_in_one_breath_is_two_entries(cli: Cli, mixed: Path) -> None:
    cli("job", "pour", "J1", "--as", N)
    found = cli("job", "pour", "J1", "--set-aside", "30%", "blue=1", "--json").json
    assert found["set_aside"]["entry"]["share"] == 0.7
    assert found["recorded"]["entry"]["continues"] == found["set_aside"]["number"]
    assert sum(part["grams"] for part in found["parts"]) == pytest.approx(351)
    with open_ledger() as ledger:
        latest = ledger.latest(ledger.find_job("J1"), "batch")
        assert latest is not None
        assert latest.number == found["recorded"]["number"]


def test_a_pour_that_is_struck_is_back_on_the_shelf(cli: Cli, mixed: Path) -> None:
    cli("job", "pour", "J1", "--as", N)
    added = cli("job", "pour", "J1", "white=10", "--json").json["recorded"]["number"]
    again = cli("job", "pour", "J1", "--as", N, "--json").json["recorded"]["number"]
    for number in (again, added):
        assert cli("job", "strike", "J1", number, "--why", "entered twice").status == 0
    mix = ("mix", "target.csv", "--bank", "bank", "--grams", 500, "--recipes", 1, "--json")
    stock = {item["tint"]: item["poured"] for item in cli(*mix).json["stock"]}
    assert stock == pytest.approx(_recipe())


def test_a_correction_of_the_whole_tin_in_a_file_counts_once(cli: Cli, mixed: Path) -> None:
    cli("job", "pour", "J1", "batch1.csv")
    write(mixed / "batch1.csv", (mixed / "batch1.csv").read_text("utf-8") + "white,20\n")
    found = cli("job", "pour", "J1", "batch1.csv", "--json").json
    assert "with what was added" in found["understood"][0]
    assert {item["tint"]: item["poured"] for item in found["stock"]}["white"] == pytest.approx(464.2)


def test_without_a_bank_a_tint_of_the_job_that_is_misspelt_is_still_told(
    refused: Callable[..., str], cli: Cli, mixed: Path
) -> None:
    (mixed / "bank").rename(mixed / "moved")
    assert "'whit': is in no recipe of this job; did you mean white?" in refused("job", "pour", "J1", "whit=443.6")
    ran = cli("job", "pour", "J1", "--as", N, "blue=60", "--json")
    stands = ran.json["stands"]
    assert (ran.status, stands["against"]) == (0, None)
    assert stands["in_proportion"]["grams"] == pytest.approx(500 * 60 / _recipe()["blue"], rel=0.01)
    assert any("the bank of the job can't be used" in note for note in ran.json["warnings"])


def test_a_pour_that_is_mended_goes_into_the_same_tin(cli: Cli, mixed: Path) -> None:
    first = cli("job", "pour", "J1", "--as", N, "--json").json["recorded"]["number"]
    second = cli("job", "pour", "J1", "white=10", "--json").json["recorded"]
    assert second["entry"]["continues"] == first
    mended = cli("job", "pour", "J1", "white=11", "--replaces", second["number"], "--why", "misread", "--json").json
    assert mended["recorded"]["entry"]["continues"] == first
    assert sum(part["grams"] for part in mended["parts"]) == pytest.approx(511)
