"""`photo read`: colours, differences and trouble in words and in JSON; what it saves serves the other commands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from booth.photo_booth import Shot, photograph, profile_bytes
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.ledger import open_ledger
from finishmatch.readings import read_readings
from tests.conftest import ROOT, Ran
from tests.helpers.photo_frames import PAINTS, SMALL, frame, samples, write_jpeg

Cli = Callable[..., Ran]


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    return write_jpeg(frame(), tmp_path / "photo.jpg")


def region_options(names: tuple[str, ...] = ("blue", "blue again")) -> list[str]:
    return [f"--region={name}={','.join(str(v) for v in frame().regions[name])}" for name in names]


def test_the_json_that_others_rely_on(cli: Cli, photo: Path) -> None:
    ran = cli("photo", "read", photo, *region_options(), "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert found["chart"]["found"] is True
    assert found["chart"]["patches_used"] == 24
    assert 0 < found["chart"]["fit_de00_median"] < 2
    assert 0 < found["chart"]["leave_one_out"]["median"] <= found["chart"]["leave_one_out"]["p90"] < 5
    blue, again = found["regions"]
    assert (blue["name"], blue["light"], blue["observer"]) == ("blue", "D65", 10)
    assert de00(reflectance_to_lab(PAINTS["blue"]), np.array(blue["lab"])) <= blue["u95"] < 5
    (pair,) = found["differences"]
    assert (pair["standard"], pair["trial"]) == ("blue", "blue again")
    assert pair["de00"] == pytest.approx(float(de00(np.array(blue["lab"]), np.array(again["lab"]))), abs=1e-5)
    assert isinstance(found["warnings"], list)


def test_another_light_and_observer(cli: Cli, photo: Path) -> None:
    (blue,) = cli("photo", "read", photo, *region_options(("blue",)), "--light", "a", "--observer", 2, "--json").json[
        "regions"
    ]
    assert (blue["light"], blue["observer"]) == ("A", 2)
    assert de00(reflectance_to_lab(PAINTS["blue"], "A", 2), np.array(blue["lab"])) <= blue["u95"]


def test_the_table_says_that_samples_under_one_light_are_compared_more_surely(cli: Cli, photo: Path) -> None:
    ran = cli("photo", "read", photo, *region_options())
    assert ran.status == 0
    assert "blue again against blue" in ran.out
    assert "far more reliably" in ran.out


def test_what_is_saved_is_read_by_compare(cli: Cli, photo: Path, tmp_path: Path) -> None:
    saved = tmp_path / "found.csv"
    found = cli("photo", "read", photo, *region_options(), "--save", saved, "--json").json
    compared = cli("compare", f"{saved}@blue", f"{saved}@blue again", "--json").json
    assert not any("45/0" in warning for warning in compared["warnings"])
    with_gloss = tmp_path / "di8.csv"
    with_gloss.write_text("name,L,a,b,geometry\nblue,40,0,-20,di8\n", encoding="utf-8")
    unlike = cli("compare", with_gloss, f"{saved}@blue", "--json").json
    assert any("45/0" in warning for warning in unlike["warnings"])
    assert compared["de00"] == pytest.approx(found["differences"][0]["de00"], abs=0.01)


def test_several_photographs_are_repeats_and_tell_how_many_are_needed(cli: Cli, tmp_path: Path) -> None:
    photos = [write_jpeg(frame(seed=seed), tmp_path / f"{seed}.jpg") for seed in (1, 2, 3)]
    saved = tmp_path / "found.csv"
    found = cli("photo", "read", *photos, *region_options(), "--within", 0.1, "--save", saved, "--json").json
    assert [one["used"] for one in found["photographs"]] == [True] * 3
    assert found["regions"][0]["photographs"] == 3
    assert found["regions"][0]["photographs_needed"] >= 1
    blue = read_readings(saved)["blue"]
    assert len(blue.repeats) == 3
    assert blue.target is not None
    assert blue.target.pictures == ("1.jpg", "2.jpg", "3.jpg")
    assert blue.target.u95_own == pytest.approx(found["regions"][0]["u95_own"], abs=0.005)
    assert "needed" in cli("photo", "read", *photos, *region_options()).out


def test_photographs_in_which_a_number_means_another_sample_are_asked_about(cli: Cli, tmp_path: Path) -> None:
    whole = write_jpeg(frame(), tmp_path / "whole.jpg")
    again = write_jpeg(frame(seed=4), tmp_path / "again.jpg")
    fewer = write_jpeg(photograph(samples()[2:], Shot(**SMALL, seed=5)), tmp_path / "fewer.jpg")  # type: ignore[arg-type]
    said = [one for one in cli("photo", "read", whole, fewer, "--json").json["warnings"] if "do they all show" in one]
    assert [one.partition(":")[0] for one in said] == ["sample 1", "sample 2"]
    assert "the photographs tell it ΔE00 " in said[0]
    assert "say where each lies with --region PHOTO:NAME=x,y,w,h" in " ".join(
        cli("photo", "read", whole, fewer).out.split()
    )
    alike = cli("photo", "read", whole, again, "--json").json["warnings"]
    assert not any("do they all show" in one for one in alike)


def test_one_that_cannot_serve_is_left_out_of_several_and_told(cli: Cli, photo: Path, tmp_path: Path) -> None:
    blank = tmp_path / "blank.png"
    Image.new("RGB", (300, 200), (120, 120, 120)).save(blank)
    found = cli("photo", "read", photo, blank, "--json").json
    assert [one["used"] for one in found["photographs"]] == [True, False]
    assert any("blank.png: not used: no 24-patch chart" in warning for warning in found["warnings"])


def test_one_that_strays_is_named_where_another_before_it_cannot_serve(cli: Cli, tmp_path: Path) -> None:
    Image.new("RGB", (640, 480), (120, 120, 120)).save(tmp_path / "blank.png")
    photos = [write_jpeg(frame(seed=seed), tmp_path / f"{seed}.jpg") for seed in (1, 2, 3)]
    other = [replace(one, reflectance=PAINTS["green"]) if one.name == "blue" else one for one in samples()]
    stray = write_jpeg(photograph(other, Shot(**SMALL, seed=4)), tmp_path / "stray.jpg")  # type: ignore[arg-type]
    saved = tmp_path / "found.csv"
    given, options = (tmp_path / "blank.png", *photos, stray), region_options(("blue", "green"))
    found = cli("photo", "read", *given, *options, "--save", saved, "--json").json
    aside = [text for text in found["warnings"] if "set aside for" in text]
    assert aside == ["stray.jpg: set aside for blue: read too far from the other photographs"]
    blue, green = (read_readings(saved)[name].target for name in ("blue", "green"))
    assert blue is not None
    assert green is not None
    assert blue.pictures == ("1.jpg", "2.jpg", "3.jpg")
    assert green.pictures == (*blue.pictures, "stray.jpg")


def test_without_a_chart_it_says_what_to_change_and_exits_1(cli: Cli, tmp_path: Path) -> None:
    blank = tmp_path / "blank.png"
    Image.new("RGB", (300, 200), (120, 120, 120)).save(blank)
    ran = cli("photo", "read", blank, "--save", tmp_path / "none.csv")
    assert ran.status == 1
    assert "can't serve: no 24-patch chart was found: lay it beside" in ran.out
    assert not (tmp_path / "none.csv").exists()
    found = cli("photo", "read", blank, "--json")
    assert found.status == 1
    assert found.json["chart"]["found"] is False


@pytest.fixture
def to_take_again(photo: Path, tmp_path: Path) -> dict[str, Path]:
    """Photographs that must be taken again, by what is said of each."""
    with Image.open(photo) as picture:
        whole = np.asarray(picture.convert("RGB"))
    left = int(np.quantile(frame().chart_corners[:, 0], 0.5))
    shown = {
        "the chart is cut by the edge of the frame": whole[:, left:],
        "two charts are in the picture": np.hstack([whole, whole]),
        "no 24-patch chart was found": np.full_like(whole, 120),
    }
    paths = {}
    for said, pixels in shown.items():
        paths[said] = tmp_path / f"{said[:8]}.png"
        Image.fromarray(pixels).save(paths[said])
    return paths


def test_a_photograph_to_take_again_is_the_answer_no_where_the_photograph_is_what_is_asked_about(
    cli: Cli, swatches: Path, to_take_again: dict[str, Path]
) -> None:
    place = ("--region", "blue 5/95=10,10,40,40")
    for said, path in to_take_again.items():
        for asked in (("photo", "read", path), ("bank", "photo", swatches / "bank", path, *place)):
            ran = cli(*asked)
            assert (ran.status, ran.err) == (1, ""), asked
            assert f"serve: {said}" in " ".join(ran.out.split())
            found = cli(*asked, "--json")
            assert found.status == 1
            assert found.json["why"].startswith(said)
    assert not (swatches / "bank/seen.csv").exists()


def test_a_photograph_to_take_again_is_wrong_input_where_a_card_is_judged_by_it(
    cli: Cli, to_take_again: dict[str, Path]
) -> None:
    tin = ("--bank", ROOT / "swatches/bank", "--batch", ROOT / "swatches/batch1.csv")
    places = ("--region", "standard=10,10,40,40", "--region", "spray-out=60,10,40,40")
    for said, path in to_take_again.items():
        ran = cli("correct", ROOT / "swatches/target.csv", *tin, "--seen", path, *places)
        assert (ran.status, ran.out) == (2, "")
        assert f"{path.name}: can't serve; {said}" in " ".join(ran.err.split())


def test_one_that_is_cut_is_left_out_of_several_too(cli: Cli, photo: Path, to_take_again: dict[str, Path]) -> None:
    cut = to_take_again["the chart is cut by the edge of the frame"]
    found = cli("photo", "read", photo, cut, "--json").json
    assert [one["used"] for one in found["photographs"]] == [True, False]
    assert any(f"{cut.name}: not used: the chart is cut" in warning for warning in found["warnings"])


def test_the_overlay_is_a_picture_of_what_was_found(cli: Cli, photo: Path, tmp_path: Path) -> None:
    assert cli("photo", "read", photo, "--overlay", tmp_path / "seen.png").status == 0
    with Image.open(tmp_path / "seen.png") as seen, Image.open(photo) as plain:
        assert seen.size == plain.size
        assert np.abs(np.asarray(seen).astype(int) - np.asarray(plain.convert("RGB"))).max() > 100


def test_what_was_found_is_recorded_with_its_photograph(cli: Cli, photo: Path) -> None:
    cli("job", "new", "Tarnbeck Six")
    ran = cli("photo", "read", photo, *region_options(), "--job", "J1", "--json")
    entries = cli("job", "show", "J1", "--json").json["entries"]
    assert [entry["entry"]["name"] for entry in entries] == ["blue", "blue again"]
    assert entries[0]["sources"][0]["name"] == "photo.jpg"
    assert [entry["entry"]["u95"] for entry in entries] == pytest.approx([one["u95"] for one in ran.json["regions"]])
    assert {entry["entry"]["geometry"] for entry in entries} == {"45/0"}
    assert f"known to ±{ran.json['regions'][0]['u95']:.2f}" in " ".join(cli("job", "show", "J1").out.split())
    assert "recorded in J1 as #1, #2" in cli("photo", "read", photo, *region_options(), "--job", "J1").out


@pytest.mark.parametrize("options", [[], ["--keep-place"]])
def test_where_a_photograph_was_taken_is_kept_only_when_that_is_wished(
    cli: Cli, photo: Path, home: Path, options: list[str]
) -> None:
    said = b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta xmlns:x='adobe:ns:meta/'>51,28.63N</x:xmpmeta>"
    data = photo.read_bytes()
    photo.write_bytes(data[:2] + b"\xff\xe1" + (len(said) + 2).to_bytes(2, "big") + said + data[2:])
    cli("job", "new", "Tarnbeck Six")
    assert cli("photo", "read", photo, *region_options(), "--job", "J1", *options).status == 0
    with open_ledger(home) as ledger:
        sha256 = ledger.entries(ledger.find_job("J1"))[0].sources[0][1]
        assert (b"51,28.63N" in ledger.source_bytes(sha256)) is bool(options)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--region", "tin"], "names no region"),
        (["--region", "tin=600,0,100,100"], "outside the picture"),
        (["--region", "tin=1,1,9,9", "--region", "tin=1,1,9,9"], "named twice"),
        (["--skip-patch", "0"], "not a patch of the chart"),
        (["--light", "D66"], "not a light known here"),
        (["--light", "D65,A"], "names 2 lights"),
        (["--within", "0"], "not a difference"),
        (["--overlay", "seen.txt"], "not a picture"),
        (["--overlay", "nowhere/seen.png"], "no folder"),
        (["--save", "nowhere/a.csv"], "no folder"),
        (["--chart", "none.csv"], "no such file"),
        (["--job", "J1"], "no ledger"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_wrong_input_is_told_in_one_line_and_nothing_is_written(
    cli: Cli, photo: Path, options: list[str], said: str
) -> None:
    before = sorted(path.name for path in photo.parent.iterdir())
    assert said in cli("photo", "read", photo, *options).error
    assert sorted(path.name for path in photo.parent.iterdir()) == before


def test_a_photograph_is_never_written_over(cli: Cli, photo: Path) -> None:
    assert "is a photograph that is to be read" in cli("photo", "read", photo, "--overlay", photo).error
    assert "is a photograph that is to be read" in cli("photo", "read", photo, "--save", photo).error


def spoiled(path: Path, *names: str) -> Path:
    """The photograph with some samples burnt out, the green one in the dark."""
    values = frame().uint8().copy()
    for name in names:
        x, y, w, h = frame().regions[name]
        values[y : y + h, x : x + w] = 0 if name == "green" else 255
    Image.fromarray(values).save(path, quality=92, icc_profile=profile_bytes("sRGB"))
    return path


def test_samples_that_are_lost_are_told_and_the_others_read(cli: Cli, tmp_path: Path) -> None:
    photo, saved = spoiled(tmp_path / "spoiled.jpg", "blue again", "green"), tmp_path / "found.csv"
    options = region_options(("blue", "blue again", "green", "cream"))
    ran = cli("photo", "read", photo, *options, "--save", saved, "--json")
    assert ran.status == 0
    assert [one["name"] for one in ran.json["regions"]] == ["blue", "cream"]
    assert [(one["standard"], one["trial"]) for one in ran.json["differences"]] == [("blue", "cream")]
    again, green = ran.json["lost"]
    assert (again["name"], green["name"]) == ("blue again", "green")
    assert "burnt out" in again["why"]
    assert "expose less" in again["why"]
    assert "expose more" in green["why"]
    assert ran.json["photographs"][0]["lost"] == ["blue again", "green"]
    assert any(told.startswith("green is not read: it is lost in the dark") for told in ran.json["warnings"])
    assert set(read_readings(saved)) == {"blue", "cream"}
    told = cli("photo", "read", photo, *options).out
    assert "lost" in next(line for line in told.splitlines() if "green" in line)
    alone = cli(
        "photo", "read", write_jpeg(frame(), tmp_path / "whole.jpg"), *region_options(("blue", "cream")), "--json"
    )
    assert [one["lab"] for one in ran.json["regions"]] == [
        pytest.approx(one["lab"], abs=0.5) for one in alone.json["regions"]
    ]


def test_a_photograph_in_which_every_sample_is_lost_cannot_serve(cli: Cli, tmp_path: Path) -> None:
    photo = spoiled(tmp_path / "spoiled.jpg", "blue", "blue again")
    ran = cli("photo", "read", photo, *region_options(), "--json")
    assert ran.status == 1
    assert (ran.json["regions"], ran.json["photographs"][0]["used"]) == ([], False)
    assert "expose less" in ran.json["why"]


def test_a_sample_lost_in_one_photograph_is_read_from_the_others(cli: Cli, tmp_path: Path) -> None:
    photos = [write_jpeg(frame(), tmp_path / "whole.jpg"), spoiled(tmp_path / "spoiled.jpg", "blue again")]
    found = cli("photo", "read", *photos, *region_options(), "--json").json
    assert [one["photographs"] for one in found["regions"]] == [2, 1]
    assert (found["lost"], [one["lost"] for one in found["photographs"]]) == ([], [[], ["blue again"]])
    assert any(told.startswith("spoiled.jpg: blue again is not read") for told in found["warnings"])


def test_a_link_to_itself_among_photographs_is_told(cli: Cli, swatches: Path) -> None:
    (swatches / "loop").symlink_to(swatches / "loop")
    line = cli("photo", "read", swatches / "photo.jpg", swatches / "loop", "--overlay", swatches / "o.png").error
    assert "loop: can't be read" in line


def test_a_photograph_beside_itself_or_a_copy_is_one(cli: Cli, photo: Path) -> None:
    copy = photo.with_name("copy.jpg")
    data = photo.read_bytes()
    said = f"one photograph is named twice, once as a copy of it: it is {photo.name}; name each once"
    for written in (data, data[:2] + b"\xff\xfe\0\x07noted" + data[2:]):  # also with a remark put into it
        copy.write_bytes(written)
        assert said in cli("photo", "read", photo, copy, *region_options()).error
    assert "one photograph is named twice: it is" in cli("photo", "read", photo, photo, *region_options()).error
