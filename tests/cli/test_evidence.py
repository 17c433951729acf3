"""`evidence`: the target others rely on, two colours, what is written, drawn and recorded, and wrong input."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest

from finishmatch.colour import de00
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
TWO = (
    "name,kind,year,L,a,b\nscuttle,sheltered paint,1934,45.2,-5,-15\ndoor post,sheltered paint,1934,45.5,-5.1,-15.2\n"
    "boot,sheltered paint,1951,40,2,-22\nroof,sheltered paint,1951,40.2,2.2,-22.2\n"
)


@pytest.fixture
def survivors(bench: Path) -> Path:
    for name in ("survivors.csv", "evidence.csv"):
        shutil.copy(ROOT / "swatches" / name, bench)
    return bench / "survivors.csv"


def test_the_scenario_is_weighed_as_others_rely_on(cli: Cli, survivors: Path) -> None:
    ran = cli("evidence", "weigh", survivors, "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert set(found) >= {"target", "between_samples_de00", "tolerance", "samples", "warnings"}
    assert found["target"]["lab"] == pytest.approx([45.3, -5.0, -15.4], abs=0.3)
    assert 0.5 < found["target"]["u95"] < 1.5
    assert found["tolerance"] <= 1.0
    samples = {sample["name"]: sample for sample in found["samples"]}
    assert {name for name, sample in samples.items() if sample["outlier"]} == {"second drophead"}
    assert samples["second drophead"]["de00_to_target"] > 6
    assert samples["second drophead"]["weight"] == 0
    assert sum(sample["weight"] for sample in found["samples"]) == pytest.approx(1)
    assert max(found["samples"], key=lambda sample: sample["weight"])["name"] == "tin"
    assert len(found["target"]["reflectance"]) == 31
    assert found["picked"] == 1


def test_it_is_told_in_a_painters_words(cli: Cli, survivors: Path) -> None:
    ran = cli("evidence", "weigh", survivors, "--ageing", "--name", "Saltmarsh Blue")
    assert (ran.status, ran.err) == (0, "")
    for text in (
        "Saltmarsh Blue: L* 45.",
        "the colour as it was lies within ΔE00",
        "set aside",
        "tolerance ΔE00",
        "what age did, by the pairs",
        "from 1 pair: door",
        "one more sample, well kept and read three times, would bring",
        "note: second drophead is set aside",
    ):
        assert text in ran.out, text


def test_two_colours_are_told_and_one_is_picked(cli: Cli, bench: Path) -> None:
    file = write(bench / "two.csv", TWO)
    ran = cli("evidence", "weigh", file, "--save", "t.csv")
    assert ran.status == 1
    assert "colour 1 (scuttle, door post)" in ran.out
    assert "colour 2 (boot, roof)" in ran.out
    assert "Which of them is it? Say --colour N" in ran.out
    assert "they differ in year: colour 1 1934, colour 2 1951" in ran.out
    assert "nothing was saved or recorded" in ran.out
    assert not (bench / "t.csv").exists()
    found = cli("evidence", "weigh", file, "--json").json
    assert found["picked"] is None
    assert [colour["samples"] for colour in found["colours"]] == [["scuttle", "door post"], ["boot", "roof"]]
    ran = cli("evidence", "weigh", file, "--colour", 2, "--save", "t.csv", "--json")
    assert (ran.status, ran.json["picked"]) == (0, 2)
    assert ran.json["target"]["lab"][0] == pytest.approx(40.2, abs=0.2)
    assert (bench / "t.csv").exists()


def test_mix_compare_and_correct_take_the_saved_tolerance(cli: Cli, survivors: Path, bench: Path) -> None:
    found = cli("evidence", "weigh", survivors, "--save", "weighed.csv", "--json").json
    note = f"the tolerance of {found['tolerance']:.2f} is the target's own, from weighed.csv"
    mixed = cli("mix", "weighed.csv", "--bank", "bank", "--grams", 500, "--json").json
    assert note in mixed["warnings"]
    compared = cli("compare", "weighed.csv", "card1.csv", "--json").json
    assert compared["tolerance"] == found["tolerance"]
    assert note in compared["warnings"]
    correct = ("correct", "weighed.csv", "--bank", "bank", "--batch", "batch1.csv", "--sprayed", "card1.csv")
    assert note in cli(*correct, "--json").json["warnings"]
    # what is typed counts for more
    assert cli("compare", "weighed.csv", "card1.csv", "--tolerance", 0.3, "--json").json["tolerance"] == 0.3


def test_what_was_weighed_is_recorded_once(cli: Cli, survivors: Path, bench: Path) -> None:
    cli("job", "new", "Roof")
    ran = cli("evidence", "weigh", survivors, "--save", "weighed.csv", "--job", "J1")
    assert "recorded in J1 as #1, #2" in ran.out
    entries = cli("job", "show", "J1", "--json").json["entries"]
    kinds = [entry["kind"] for entry in entries]
    assert kinds == ["reading"] * 7 + ["target"]
    assert entries[0]["entry"]["role"] == "evidence: leftover tin, stirred yes, strained yes, dried days 14"
    assert {source["name"] for source in entries[0]["sources"]} == {"survivors.csv", "evidence.csv"}
    target = entries[-1]["entry"]
    assert target["evidence"][0] == "tin"
    assert target["u95"] > 0.5
    cli("evidence", "weigh", survivors, "--job", "J1")
    cli("mix", "weighed.csv", "--bank", "bank", "--grams", 500, "--recipes", 1, "--job", "J1")
    later = cli("job", "show", "J1", "--json").json["entries"]
    assert [entry["kind"] for entry in later] == [*kinds, "reading", "recipe"]


def test_the_picture_is_drawn(cli: Cli, survivors: Path, bench: Path) -> None:
    for file, name in ((survivors, "one.png"), (write(bench / "two.csv", TWO), "two.png")):
        cli("evidence", "weigh", file, "--plot", name)
        picture = cv2.imdecode(np.frombuffer((bench / name).read_bytes(), np.uint8), cv2.IMREAD_COLOR)
        assert picture.shape[0] > 400
        assert picture.std() > 10


def test_the_shops_own_kinds_are_used_from_home_or_by_name(cli: Cli, survivors: Path, bench: Path, home: Path) -> None:
    usual = cli("evidence", "weigh", survivors, "--json").json
    wide = '[[kind]]\nname = "leftover tin"\nspread = 3.0\n'
    by_name = cli("evidence", "weigh", survivors, "--kinds", write(bench / "own.toml", wide), "--json").json
    assert by_name["samples"][0]["weight"] < usual["samples"][0]["weight"] / 3
    write(home / "evidence-kinds.toml", wide)
    assert cli("evidence", "weigh", survivors, "--json").json == by_name
    shown = cli("evidence", "kinds", "--json").json
    assert shown["shop_file"].endswith("evidence-kinds.toml")
    assert next(kind for kind in shown["kinds"] if kind["name"] == "leftover tin")["spread"] == 3.0
    assert shown["shops_own"] == ["kind leftover tin"]
    said = cli("evidence", "kinds").out
    assert "with the shop's own figures of" in said
    assert "the shop's own: kind leftover tin" in said


def test_the_kinds_are_shown(cli: Cli) -> None:
    ran = cli("evidence", "kinds")
    assert ran.status == 0
    assert "«common practice»" in ran.out
    assert "dried_days below 7: not-dried" in ran.out


def test_a_sample_may_be_left_out_by_hand(cli: Cli, survivors: Path) -> None:
    found = cli("evidence", "weigh", survivors, "--without", "second drophead", "--without", "wing", "--json").json
    assert len(found["samples"]) == 6


def test_what_a_sample_moves_the_target_by_is_what_leaving_it_out_does(cli: Cli, survivors: Path) -> None:
    whole = cli("evidence", "weigh", survivors, "--json").json
    for sample in whole["samples"]:
        if sample["outlier"]:
            assert sample["pull"] is None
            continue
        rest = cli("evidence", "weigh", survivors, "--without", sample["name"], "--json").json
        moved = float(de00(np.array(rest["target"]["lab"]), np.array(whole["target"]["lab"])))
        assert sample["pull"] == pytest.approx(moved, abs=0.05), sample["name"]  # the reading noise is pooled anew


def test_a_strong_pull_is_asked_about_and_named_by_its_direction(cli: Cli, bench: Path) -> None:
    rows = "tin a,leftover tin,40,0,0\ntin b,leftover tin,40.2,0,0\ntin c,leftover tin,42,0,0\n"
    write(bench / "odd.csv", f"name,kind,L,a,b\n{rows}")
    found = cli("evidence", "weigh", "odd.csv", "--json").json
    pulls = {sample["name"]: sample["pull"] for sample in found["samples"]}
    assert pulls["tin c"] > pulls["tin a"] > pulls["tin b"]
    (asked,) = [note for note in found["warnings"] if note.startswith("tin c alone moves the target by ΔE00")]
    assert "(lighter)" in asked
    assert "leave it out (--without) and say why" in asked


def test_why_a_sample_was_left_out_is_kept_with_the_target(
    cli: Cli, refused: Callable[..., str], survivors: Path, bench: Path
) -> None:
    weigh = ("evidence", "weigh", "survivors.csv", "--without", "brochure")
    cli("job", "new", "Roof")
    said = refused(*weigh, "--job", "J1")
    assert "--without: brochure is left out, and no reason is given; say why with --why" in said
    assert "no reason is given" in refused(*weigh, "--save", "weighed.csv")
    assert not (bench / "weighed.csv").exists()
    two = (*weigh, "--without", "wing", "--why", "printed ink", "--why", "faded")
    found = cli(*two, "--job", "J1", "--save", "weighed.csv", "--json").json
    assert found["left_out"] == [{"sample": "brochure", "why": "printed ink"}, {"sample": "wing", "why": "faded"}]
    (target,) = [view for view in cli("job", "show", "J1", "--json").json["entries"] if view["kind"] == "target"]
    assert target["entry"]["left_out"] == found["left_out"]
    assert "# left out: wing: faded" in (bench / "weighed.csv").read_text("utf-8")
    assert "left out: brochure (printed ink)" in cli(*two).out
    alike = cli(*weigh, "--without", "wing", "--why", "not paint of this car", "--json").json
    assert [item["why"] for item in alike["left_out"]] == ["not paint of this car"] * 2
    assert "3 reasons are given for 2 samples" in refused(*two, "--why", "third")
    lone = refused("evidence", "weigh", "survivors.csv", "--why", "x")
    assert "--why: a reason is given, but no sample is left out" in lone


def test_wrong_input_is_refused_in_one_line(refused: Callable[..., str], survivors: Path, bench: Path) -> None:
    weigh = ("evidence", "weigh", "survivors.csv")
    assert "--use: 'roof' is not known; use one of: whole-vehicle" in refused(*weigh, "--use", "roof")
    assert "survivors.csv has no sample named 'x'" in refused(*weigh, "--without", "x")
    assert "--colour: there is no colour 2; the evidence holds 1: give 1" in refused(*weigh, "--colour", 2)
    assert "there is no such file" in refused("evidence", "weigh", "no.csv")
    assert "there is no such file" in refused(*weigh, "--kinds", "no.toml")
    assert "card1.csv: is there already and is not a target" in refused(*weigh, "--save", "card1.csv")
    assert "can't be written" in refused(*weigh, "--plot", "no/where.png")
    assert "can't be written" in refused(*weigh, "--save", "no/where.csv")
    assert "light 'D66'" in refused(*weigh, "--light", "D66")
    assert "no ledger" in refused(*weigh, "--job", "J1")
    write(bench / "odd.csv", "name,kind,L,a,b\nx,moonstone,50,0,0\n")
    assert "odd.csv, line 2, column 'kind': no kind of evidence is called 'moonstone'" in refused(
        "evidence", "weigh", "odd.csv"
    )
    for name in ("x", "y"):
        write(bench / "odd.csv", f"name,kind,L,a,b\n{name},tin,50,0,0\n")
    assert "--without: leaves no sample" in refused("evidence", "weigh", "odd.csv", "--without", "y")
    assert "--ageing: no two samples are a pair" in refused("evidence", "weigh", "odd.csv", "--ageing")


def test_a_photograph_in_place_of_the_samples_is_told(cli: Cli, bench: Path) -> None:
    (bench / "door.jpg").write_bytes(b"\xff\xd8\xff\xe0\x00\x10JFIF")
    told = cli("evidence", "weigh", "door.jpg").error
    assert told == "finishmatch: door.jpg: is a photograph, and no table; save its colours as a table: photo read"
