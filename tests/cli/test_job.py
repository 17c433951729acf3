"""The job commands: a record is opened, kept and read; wrong input is one line and leaves nothing behind."""

from __future__ import annotations

import shlex
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest

from finishmatch.cli.job import COMMANDS, job_command
from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, Nth, SprayOutEntry, open_ledger
from finishmatch.steps.record import check_job, record_to
from tests.conftest import ROOT
from tests.helpers.door_files import small_bank
from tests.helpers.ledger_samples import DEFECT, RECIPE, SPECTRUM, decision, every_kind

Cli = Callable[..., Any]
SUBCOMMANDS = [
    "new",
    "use",
    "list",
    "show",
    "pour",
    "spray",
    "tin",
    "coat",
    "film",
    "note",
    "strike",
    "check",
    "outcome",
]


@pytest.fixture
def job(cli: Cli) -> str:
    """A job of the bench."""
    opened = cli(
        "job", "new", "Tarnbeck Six, roof", "--vehicle", "Tarnbeck Six", "--colour", "Saltmarsh Blue", "--json"
    )
    return str(opened.json["job"]["ref"])


@pytest.fixture
def batch(tmp_path: Path) -> Path:
    """A batch file in the order poured."""
    path = tmp_path / "batch.csv"
    path.write_text("tint,grams\nwhite,150\nblue,93.75\nblack,6.25\n")
    return path


def _entries(home: Path) -> list[Any]:
    with open_ledger(home) as ledger:
        return [view for job in ledger.jobs() for view in ledger.entries(job)]


def test_a_job_is_opened_listed_and_shown(cli: Cli, home: Path) -> None:
    opened = cli("job", "new", "Roof", "--vehicle", "Tarnbeck Six", "--colour", "Saltmarsh Blue", "--note", "rush")
    assert opened.status == 0
    assert "Opened J1: Roof" in opened.out
    assert str(home / "ledger.db") in opened.out
    again = cli("job", "new", "Bonnet", "--json").json
    assert again["job"]["ref"] == "J2"
    assert set(again["job"]) == {"ref", "title", "vehicle", "colour_name", "note", "made_at"}
    cli("job", "note", "J1", "half dried")
    first, second = cli("job", "list", "--json").json["jobs"]
    assert (first["ref"], first["title"], first["entries"]) == ("J1", "Roof", 1)
    assert (second["entries"], second["last_entry_at"]) == (0, None)
    listed = cli("job", "list").out
    assert "J1   Roof" in listed
    assert "J2   Bonnet" in listed
    shown = cli("job", "show", "roof").out
    assert "J1  Roof" in shown
    assert "Tarnbeck Six; Saltmarsh Blue; opened " in shown
    assert "rush" in shown
    assert "half dried" in shown
    assert "Nothing is open." in shown
    assert "Nothing is recorded yet" in cli("job", "show", "J2").out


def test_listing_says_how_to_begin_and_begins_nothing(cli: Cli, home: Path) -> None:
    listed = cli("job", "list")
    assert (listed.status, listed.err) == (0, "")
    assert 'The ledger holds no job yet. Open the first:  finishmatch job new "TITLE"' in listed.out
    assert cli("job", "list", "--json").json == {"jobs": []}
    for arguments in (["show", "J1"], ["note", "J1", "x"], ["pour", "J1", "b.csv"], ["spray", "J1", "50,0,0"]):
        assert "there is no ledger yet; open the first job" in cli("job", *arguments).error
    assert cli("job", "new", " ").error == "finishmatch: title: is empty; name the job, for example " + (
        "'Tarnbeck Six, Saltmarsh Blue'"
    )
    assert list(home.iterdir()) == []


def test_a_batch_is_recorded_with_its_file_and_the_recipe_it_follows(
    cli: Cli, home: Path, job: str, batch: Path
) -> None:
    with open_ledger(home) as ledger:
        recipe = ledger.record(ledger.find_job(job), RECIPE)
    poured = cli("job", "pour", job, batch, "--json").json
    assert poured["recorded"]["entry"] == {
        "parts": [{"tint": "white", "grams": 150}, {"tint": "blue", "grams": 93.75}, {"tint": "black", "grams": 6.25}],
        "recipe": recipe,
        "continues": None,
        "share": 1,
        "bank": "",
        "tin_l": None,
        "from_lots": [],
        "aside_for": "",
    }
    (source,) = poured["recorded"]["sources"]
    assert source["name"] == "batch.csv"
    with open_ledger(home) as ledger:
        assert ledger.source_bytes(source["sha256"]) == batch.read_bytes()
    batch.write_text("tint,grams\nwhite,10\n")
    said = cli("job", "pour", job, batch).out
    assert "recorded batch #3" in said
    assert "poured 10.0 g: white 10.0 g" in said
    assert "data sheet" in said  # the cautions of the work are shown
    assert cli("job", "pour", job, batch, "--recipe", recipe, "--json").json["recorded"]["entry"]["recipe"] == recipe
    assert "#2: is a batch, not a recipe" in cli("job", "pour", job, batch, "--recipe", 2).error


def test_a_spray_out_is_recorded_from_a_typed_colour_or_a_file(
    cli: Cli, home: Path, job: str, batch: Path, tmp_path: Path
) -> None:
    cli("job", "pour", job, batch)
    bench = ["--ground", "grey primer", "--coats", "2", "--build-um", "45", "--surface", "cut and polished"]
    said = cli("job", "spray", job, "38.2,-4.1,-20.3", *bench).out
    assert "sprayed batch #1, over grey primer, 2 coats, 45 µm, cut and polished: L* 38.2 a* -4.1 b* -20.3" in said
    assert "isocyanates" in said
    card = tmp_path / "card.csv"
    bands = ",".join(str(400 + 10 * i) for i in range(31))
    row = ",".join(str(value) for value in SPECTRUM)
    card.write_text(f"name,{bands}\ncard 1,{row}\ncard 1,{row}\n")
    recorded = cli("job", "spray", job, card, "--batch", 1, "--json").json["recorded"]
    assert recorded["sources"][0]["name"] == "card.csv"
    entry = recorded["entry"]
    assert (entry["name"], entry["repeats"], entry["spread_de00"]) == ("card 1", 2, 0.0)
    assert entry["reflectance"] == pytest.approx(SPECTRUM)
    assert "#2: is a spray-out, not a batch" in cli("job", "spray", job, card, "--batch", 2).error
    assert "nan" in cli("job", "spray", job, "50,0,0", "--build-um", "nan").error
    assert len(_entries(home)) == 3


def test_film_builds_are_recorded_layer_on_layer_from_the_metal_up(cli: Cli, home: Path, job: str) -> None:
    film = ["job", "film", job, "--panel", "roof", "--layer"]
    first = cli(*film, "primer", "--build", "62", "--build", "58,60", "--json").json["recorded"]["entry"]
    assert first == {"panel": "roof", "position": 1, "layer": "primer", "builds_um": [62, 58, 60], "places": []}
    colour = cli(
        *film, "colour coat", "--build", "41", "--build", "44", "--place", "left", "--place", "right", "--json"
    )
    assert colour.json["recorded"]["entry"]["position"] == 2
    assert colour.json["recorded"]["entry"]["places"] == ["left", "right"]
    assert cli(*film, "Primer", "--build", "61", "--json").json["recorded"]["entry"]["position"] == 1
    other_panel = cli("job", "film", job, "--panel", "wing", "--layer", "clear", "--build", "50", "--json")
    assert other_panel.json["recorded"]["entry"]["position"] == 1
    taken = cli(*film, "filler", "--position", 2, "--build", "90").error
    assert "layer 2 of the roof is already 'colour coat' (#2)" in taken
    mended = cli(*film, "filler", "--build", "90", "--replaces", 2, "--why", "it is filler", "--json").json["recorded"]
    assert (mended["supersedes"], mended["entry"]["position"]) == (2, 2)
    assert len(_entries(home)) == 5


@pytest.mark.parametrize("build", ["", "thick", "62,,58", "nan", "-3", "0", "1e9", "62;x", ";"])
def test_a_build_that_is_no_build_is_told_and_not_recorded(cli: Cli, home: Path, job: str, build: str) -> None:
    assert "--build" in cli("job", "film", job, "--panel", "roof", "--layer", "primer", "--build", build).error
    assert _entries(home) == []


def test_a_build_may_carry_its_unit(cli: Cli, job: str) -> None:
    line = ("job", "film", job, "--panel", "roof", "--layer", "primer", "--build")
    for typed, builds in (("2.3 mil", [58.42]), ("55um,58 µm", [55, 58]), ("0.06mm", [60])):
        assert cli(*line, typed, "--json").json["recorded"]["entry"]["builds_um"] == pytest.approx(builds)
    assert "some of its builds have a unit" in cli(*line, "2,3 mil").error  # one build or two
    assert "some of its builds have a unit" in cli(*line, "62;2.3 mil").error
    assert "'kg' is of a weight" in cli(*line, "2kg").error


@pytest.mark.parametrize(
    ("typed", "builds"),
    [
        ("62;58;60", [62, 58, 60]),
        ("62 58; 60", [62, 58, 60]),
        ("62, 58, 60", [62, 58, 60]),
        ("62,5; 58", [62.5, 58]),
        ("62,5", [62.5]),
        ("62,58", [62, 58]),
        ("62.5,60", [62.5, 60]),
        ("6,7,8", [6, 7, 8]),
        ("2.3 mil; 2.1 mil", [58.42, 53.34]),
    ],
)
def test_builds_are_typed_as_on_the_bench_page(cli: Cli, job: str, typed: str, builds: list[float]) -> None:
    ran = cli("job", "film", job, "--panel", "roof", "--layer", "primer", "--build", typed, "--json")
    assert ran.json["recorded"]["entry"]["builds_um"] == pytest.approx(builds)


@pytest.mark.parametrize("typed", ["62,5,60", "62,5,58,5"])
def test_a_comma_that_may_stand_within_a_build_or_between_two_is_asked(cli: Cli, job: str, typed: str) -> None:
    error = cli("job", "film", job, "--panel", "roof", "--layer", "primer", "--build", typed).error
    assert f"'{typed}' may be read in two ways; write 62.5 for one reading" in error


def test_what_is_replaced_is_left_out_but_kept_in_the_history(cli: Cli, job: str) -> None:
    cli("job", "note", job, "half dried")
    said = cli("job", "note", job, "dried through", "--replaces", 1, "--why", "looked again").out
    assert "recorded note #2 in place of #1" in said
    shown, history = cli("job", "show", job).out, cli("job", "show", job, "--history").out
    assert "half dried" not in shown
    assert "[replaces #1: looked again]" in shown
    assert (
        history.index("half dried") < history.index("[replaced by #2: looked again]") < history.index("dried through")
    )
    assert [entry["number"] for entry in cli("job", "show", job, "--json").json["entries"]] == [2]
    old, new = cli("job", "show", job, "--history", "--json").json["entries"]
    assert (old["superseded_by"], new["supersedes"], new["reason"]) == (2, 1, "looked again")
    assert (
        "already been replaced by #2; replace #2 instead"
        in cli("job", "note", job, "x", "--replaces", 1, "--why", "y").error
    )
    assert "no reason is given" in cli("job", "note", job, "x", "--replaces", 2).error
    assert "no entry to replace" in cli("job", "note", job, "x", "--why", "y").error
    assert "there is no such entry" in cli("job", "note", job, "x", "--replaces", 10**30, "--why", "y").error


def test_the_outcome_of_a_decision_closes_it(cli: Cli, home: Path, job: str) -> None:
    assert "no decision waits" in cli("job", "outcome", job, "fine").error
    with open_ledger(home) as ledger:
        found = ledger.find_job(job)
        ledger.record_all(found, [DEFECT, decision(Nth(0)), DEFECT, decision(Nth(2))])
    assert "2 decisions wait for an outcome (#2, #4)" in cli("job", "outcome", job, "fine").error
    assert (
        "is not a standing decision of J1; those that stand: #2, #4"
        in cli("job", "outcome", job, "fine", "--decision", 3).error
    )
    assert "outcome: is empty" in cli("job", "outcome", job, " ", "--decision", 2).error
    assert "outcome: no crater came back" in cli("job", "outcome", job, "no crater came back", "--decision", 2).out
    recorded = cli("job", "outcome", job, "one came back", "--json").json["recorded"]
    assert (recorded["supersedes"], recorded["reason"]) == (4, "the outcome is known")
    assert cli("job", "show", job, "--json").json["open"] == []


def test_show_tells_the_story_in_order_with_what_is_open_and_its_cautions(cli: Cli, home: Path, job: str) -> None:
    with open_ledger(home) as ledger:
        ledger.record_all(ledger.find_job(job), every_kind())
    document = cli("job", "show", job, "--json").json
    assert set(document) == {"job", "entries", "open", "set_aside", "warnings"}
    assert [entry["kind"] for entry in document["entries"]] == [entry.KIND for entry in every_kind()]
    assert [item["number"] for item in document["open"]] == [7, 12]  # the ruling 13 is of no paint that was decided on
    assert set(document["open"][0]) == {"number", "kind", "what", "next"}
    out = cli("job", "show", job, "--history").out
    places = [out.index(f"#{number} ") for number in range(1, 14)]
    assert places == sorted(places)
    assert "correction #7 is not poured yet" in out
    assert "decision #12 (back to primer) has no outcome yet" in out
    assert out.count("never dry-sand it") == out.count("product's data sheet") == 1
    assert out.rstrip().splitlines()[-1].startswith("  ! The product's data sheet")
    short = cli("job", "show", job).out.rstrip().splitlines()[-1]  # they stood in full when those were recorded
    assert short.startswith("  ! as before: ")
    assert short.endswith("; the data sheet comes first")


def test_a_job_that_isnt_there_is_told_with_the_nearest(cli: Cli, job: str) -> None:
    assert "did you mean J1 'Tarnbeck Six, roof'?" in cli("job", "show", "Tarnbeck Six rof").error
    assert "job 'J9': there is no such job" in cli("job", "show", "J9").error
    assert "there is no such job" in cli("job", "note", "[31m\udcff\n", "x").error
    assert "has a character that can't be seen (U+001B)" in cli("job", "note", "\x1b[31m\udcff\n", "x").error
    cli("job", "new", "tarnbeck six, ROOF", "--another")
    assert "2 jobs have this title (J1, J2)" in cli("job", "show", "Tarnbeck Six, roof").error


def test_a_ledger_that_cant_be_used_is_one_line(cli: Cli, home: Path) -> None:
    (home / "ledger.db").write_text("not a database\n" * 20)
    for arguments in (["new", "Roof"], ["list"], ["show", "J1"], ["note", "J1", "x"], ["outcome", "J1", "x"]):
        assert "isn't a SQLite database" in cli("job", *arguments).error
    assert (home / "ledger.db").read_text() == "not a database\n" * 20


def test_a_batch_file_that_isnt_there_or_is_wrong_records_nothing(cli: Cli, home: Path, job: str, batch: Path) -> None:
    assert "missing.csv" in cli("job", "pour", job, "missing.csv").error
    batch.write_text("tint,grams\nwhite,lots\n")
    assert "batch.csv" in cli("job", "pour", job, batch).error
    assert _entries(home) == []


def test_a_job_is_checked_before_anything_is_computed_for_it(home: Path, job: str) -> None:
    assert check_job(None) is None
    found = check_job("tarnbeck six, ROOF")
    assert found is not None
    assert found.ref == job
    with pytest.raises(InputError, match="there is no such job"):
        check_job("J7")
    assert record_to(None, every_kind()) == []
    assert _entries(home) == []


def test_a_fact_that_stands_in_the_job_is_not_recorded_twice(home: Path, job: str, cli: Cli, batch: Path) -> None:
    cli("job", "pour", job, batch)
    cli("job", "spray", job, "38.2,-4.1,-20.3", "--ground", "grey primer", "--coats", "2")
    parts = (("white", 150.0), ("blue", 93.75), ("black", 6.25))
    card = SprayOutEntry(Nth(0), (38.2, -4.1, -20.3))
    judged = every_kind()[5]
    assert record_to(job, [BatchEntry(parts), card, judged]) == [1, 2, 3]
    assert record_to(job, [BatchEntry(parts), card, judged]) == [1, 2, 4]  # a judgement is made anew each time
    more = BatchEntry((*parts, ("blue", 2.0)))
    assert record_to(job, [more, card]) == [5, 6]  # another tin, so another card, though it reads the same
    assert record_to(job, [BatchEntry(parts)]) == [7]  # poured again after another tin
    assert [view.kind for view in _entries(home)] == [
        "batch",
        "spray-out",
        "verdict",
        "verdict",
        "batch",
        "spray-out",
        "batch",
    ]


@pytest.mark.parametrize("name", SUBCOMMANDS)
def test_every_command_has_help_with_an_example(cli: Cli, name: str) -> None:
    helped = cli("job", name, "--help")
    assert helped.status == 0
    assert f"finishmatch job {name}" in helped.out.split("Example:")[1]


def test_the_examples_run_as_they_stand(cli: Cli, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert list(COMMANDS) == SUBCOMMANDS
    (tmp_path / "swatches").mkdir()
    small_bank(ROOT / "swatches/bank", tmp_path / "swatches/bank", ("white", "black", "blue"))
    for name in SUBCOMMANDS:
        if name == "outcome":
            with open_ledger(home) as ledger:
                ledger.record(ledger.find_job("J1"), decision())
        command = job_command.get_command(click.Context(job_command), name)
        assert command is not None
        lines = [line.strip() for line in (command.epilog or "").splitlines()]
        for line in lines:
            if line.startswith("printf "):
                subprocess.run(line, shell=True, check=True, cwd=tmp_path)
            elif line.startswith("finishmatch "):
                ran = cli(*shlex.split(line)[1:])
                assert ran.status == 0, (line, ran.err)


def test_two_survivors_held_against_each_other_are_no_card(cli: Cli, home: Path, job: str, tmp_path: Path) -> None:
    cli("compare", "45,-7,5", "49,-4,9", "--job", job)
    assert not cli("job", "show", job, "--json").json["open"]
    assert "card outside" not in cli("next").out
    cli("dossier", job, "--out", tmp_path / "handed")
    assert "The cards" not in (tmp_path / "handed" / "dossier.html").read_text("utf-8")
    cli("job", "pour", job, "white=100", "blue=3")
    cli("compare", "45,-7,5", "49,-4,9", "--job", job)
    assert "card outside" in cli("next").out
