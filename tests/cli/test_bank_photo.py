"""Drawdowns in a photograph become panels of a bank, each with its doubt; a shop needs no instrument for it."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from booth.card_scenes import bundled_print, drawn_card
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo.card.layout import sheet_layout
from finishmatch.readings import read_bank
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import small_bank, write
from tests.helpers.photo_frames import PAINTS, drawn_sheet, sheet_photo

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PHOTO = ROOT / "swatches/photo.jpg"
BOTH = ("--region", "blue 20/80=117,75,90,60", "--region", "blue 5/95=303,75,90,60")


@pytest.fixture(scope="session")
def kept_bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bank with the panels that the photographs show and few others, which is fitted quickly."""
    return small_bank(ROOT / "swatches/bank", tmp_path_factory.mktemp("few") / "bank", ("white", "black", "blue"))


def rows(bench: Path) -> list[dict[str, str]]:
    """The rows of the bank's seen.csv."""
    lines = [line for line in (bench / "bank/seen.csv").read_text("utf-8").splitlines() if line[:1] != "#"]
    return list(csv.DictReader(lines))


def another(path: Path, seed: int) -> Path:
    """Another picture of what the photograph shows: with other noise, and encoded anew."""
    with Image.open(PHOTO) as picture:
        pixels = np.asarray(picture.convert("RGB"), dtype=float)
        rest = {name: picture.info[name] for name in ("exif", "icc_profile") if name in picture.info}
    noise = np.random.default_rng(seed).normal(0, 1.5, pixels.shape)
    Image.fromarray((pixels + noise).round().clip(0, 255).astype(np.uint8)).save(path, quality=95, **rest)
    return path


def without_spectra(bench: Path, *panels: str) -> None:
    """Leave some panels of the bank unread."""
    path = bench / "bank/readings.csv"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join(line for line in lines if line.split(",")[0] not in panels), "utf-8")


def test_a_copy_of_a_photograph_is_no_second_picture(cli: Cli, bench: Path, refused: Callable[..., str]) -> None:
    copy = Path(shutil.copy(PHOTO, bench / "copy.jpg"))
    assert "one photograph is named twice, once as a copy of it: it is photo.jpg; name each once" in (
        refused("bank", "photo", "bank", PHOTO, copy, *BOTH)
    )
    assert "photo.jpg: one photograph is named twice: it is" in refused("bank", "photo", "bank", PHOTO, PHOTO, *BOTH)
    cli("bank", "photo", "bank", PHOTO, *BOTH)
    before = (bench / "bank/seen.csv").read_bytes()
    for named in (BOTH, BOTH[:2]):
        said = refused("bank", "photo", "bank", copy, *named)
        assert "copy.jpg: is photo.jpg under another name: blue 20/80 reads the same to the last digit" in said
    assert (bench / "bank/seen.csv").read_bytes() == before
    assert cli("bank", "photo", "bank", another(bench / "other.jpg", 3), *BOTH).status == 0
    assert cli("bank", "photo", "bank", PHOTO, *BOTH).status == 0  # again under its own name
    assert len(rows(bench)) == 4


def test_what_is_written_is_what_the_photograph_reads_with_its_doubt_in_two_parts(cli: Cli, bench: Path) -> None:
    found = cli("bank", "photo", "bank", PHOTO, *BOTH, "--json").json
    read = cli("photo", "read", PHOTO, *BOTH, "--json").json["regions"]
    assert [panel["panel"] for panel in found["panels"]] == ["blue 20/80", "blue 5/95"]
    for panel, region, row in zip(found["panels"], read, rows(bench), strict=True):
        assert panel["lab"] == pytest.approx(region["lab"], abs=1e-6)
        assert [float(row[name]) for name in ("L", "a", "b")] == pytest.approx(region["lab"], abs=1e-3)
        assert (panel["u95"] ** 2 + panel["u95_shared"] ** 2) ** 0.5 == pytest.approx(region["u95"], abs=1e-6)
        assert 0 < panel["u95"] <= region["u95"]
        assert (row["picture"], row["panel"]) == ("photo.jpg", panel["panel"])
    assert found["unread"] == []


def test_what_was_typed_of_the_ground_of_a_panel_stays_when_its_photograph_is_read_again(cli: Cli, bench: Path) -> None:
    cli("bank", "photo", "bank", PHOTO, *BOTH)
    path = bench / "bank/seen.csv"
    lines = path.read_text("utf-8").splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("blue 5/95,"))
    lines[at] = lines[at].replace(",,,", ",black,35,", 1)
    path.write_text("\n".join(lines) + "\n", "utf-8")
    assert cli("bank", "photo", "bank", PHOTO, *BOTH, "--replace").status == 0
    lies = {row["panel"]: (row["ground"], row["build_um"]) for row in rows(bench)}
    assert lies == {"blue 20/80": ("", ""), "blue 5/95": ("black", "35")}


def test_the_bank_is_fitted_with_them(cli: Cli, bench: Path) -> None:
    ran = cli("bank", "photo", "bank", PHOTO, *BOTH)
    assert "every panel is read: finishmatch bank fit bank" in ran.out
    seen = [panel for panel in read_bank(bench / "bank").panels if panel.seen is not None]
    assert [panel.name for panel in seen] == ["blue 20/80", "blue 5/95"]
    assert cli("bank", "fit", "bank", "--json").json["seen"] == 0  # both were read as well
    without_spectra(bench, "blue 20/80", "blue 5/95")
    assert cli("bank", "fit", "bank", "--json").json["seen"] == 2


def test_a_panel_that_two_photographs_show_is_one_panel(cli: Cli, bench: Path) -> None:
    before = cli("bank", "fit", "bank", "--json").json["tints"]
    for seed in (1, 2):
        cli("bank", "photo", "bank", another(bench / f"{seed}.jpg", seed), *BOTH)
    assert len(rows(bench)) == 4
    found = cli("bank", "fit", "bank", "--json").json
    assert found["seen"] == 0
    assert {name: one["panels"] for name, one in found["tints"].items()} == {
        n: one["panels"] for n, one in before.items()
    }
    said = cli("bank", "fit", "bank").out
    assert f"{len({one['panel'] for one in found['panels']})} panels of" in said
    furthest = said.split("furthest from the fit: ")[1].splitlines()[0]
    assert furthest.count("blue 20/80") <= 1
    assert furthest.count("blue 5/95") <= 1
    without_spectra(bench, "blue 5/95")
    assert cli("bank", "fit", "bank", "--json").json["seen"] == 1  # which two photographs show


def test_a_panel_that_fits_in_neither_of_two_photographs_is_doubted_once(cli: Cli, bench: Path) -> None:
    told = "".join(f"blue 5/95,{L},-10,20,0.5,{L}.jpg,0.5\n" for L in (70, 72.5))
    write(bench / "bank/seen.csv", f"panel,L,a,b,u95,picture,u95_shared\n{told}")
    found = cli("bank", "fit", "bank", "--json").json
    (doubted,) = (line for line in found["warnings"] if "does not fit" in line)
    assert doubted.startswith("panel blue 5/95 does not fit")
    assert "reads like" not in doubted  # its other photograph is no other panel
    (off,) = (one["residual_de00"] for one in found["panels"] if one["panel"] == "blue 5/95")
    assert f"(ΔE00 {off:.2f})" in doubted
    assert cli("bank", "show", "bank", "--plot", "bank.html").status == 0
    page = (bench / "bank.html").read_text("utf-8")
    assert "spoil the others: blue 5/95. Most often" in page
    assert page.split("Furthest from the fit")[1].split("</table>")[0].count("blue 5/95") == 1


def test_a_photograph_read_again_takes_its_own_place_and_leaves_the_others(cli: Cli, bench: Path) -> None:
    cli("bank", "photo", "bank", PHOTO, *BOTH)
    again = another(bench / "again.jpg", 1)
    cli("bank", "photo", "bank", again, *BOTH)
    assert len(rows(bench)) == 4
    before = rows(bench)
    said = cli("bank", "photo", "bank", again, "--region", "blue 5/95=117,75,90,60").out
    assert "again.jpg: what stood there as blue 20/80 is blue 5/95 now, and its row is gone" in " ".join(said.split())
    after = rows(bench)
    assert [row["panel"] for row in after if row["picture"] == "again.jpg"] == ["blue 5/95"]
    assert [row for row in after if row["picture"] == "photo.jpg"] == [r for r in before if r["picture"] == "photo.jpg"]
    changed = next(row for row in after if (row["panel"], row["picture"]) == ("blue 5/95", "again.jpg"))
    assert changed["L"] == next(r["L"] for r in before if (r["panel"], r["picture"]) == ("blue 20/80", "again.jpg"))


def test_two_pictures_that_are_called_alike_are_two(cli: Cli, bench: Path) -> None:
    for day in ("mon", "tue", "wed"):
        (bench / day).mkdir()
    phone = [another(bench / day / "IMG_1.jpg", seed) for seed, day in enumerate(("mon", "tue"))]
    together = cli("bank", "photo", "bank", *phone, *BOTH, "--json").json
    assert [one["picture"] for one in together["panels"]] == ["IMG_1.jpg"] * 2 + ["tue/IMG_1.jpg"] * 2
    first = rows(bench)
    (bench / "bank/seen.csv").unlink()
    cli("bank", "photo", "bank", phone[0], *BOTH)
    said = " ".join(cli("bank", "photo", "bank", phone[1], *BOTH).out.split())
    assert "seen.csv has another picture called IMG_1.jpg; this one is tue/IMG_1.jpg there" in said
    assert rows(bench) == first
    cli("bank", "photo", "bank", phone[0], *BOTH)  # each takes its own place again
    cli("bank", "photo", "bank", phone[1], *BOTH)
    assert rows(bench) == first
    cli("bank", "photo", "bank", phone[1].rename(bench / "wed/IMG_1.jpg"), *BOTH)  # nor does it matter where it lies
    assert rows(bench) == first
    cli("bank", "photo", "bank", another(bench / "tue/IMG_1.jpg", 7), *BOTH)
    names = {row["picture"] for row in rows(bench)} - {"IMG_1.jpg", "tue/IMG_1.jpg"}
    assert len(rows(bench)) == 6
    assert all(name.startswith("IMG_1.jpg (") for name in names)


def test_rows_of_which_no_picture_is_kept_are_taken_for_the_one_called_so(cli: Cli, bench: Path) -> None:
    write(bench / "bank/seen.csv", "panel,L,a,b,picture\nblue 5/95,60,-10,-20,photo.jpg\n")
    said = " ".join(cli("bank", "photo", "bank", PHOTO, *BOTH, "--replace").out.split())
    assert "photo.jpg: it wasn't kept which picture its rows of seen.csv are of: this one is taken for it" in said
    assert len(rows(bench)) == 2


def test_panels_that_nothing_tells_of_are_named(cli: Cli, bench: Path) -> None:
    (bench / "bank/readings.csv").unlink()
    ran = cli("bank", "photo", "bank", PHOTO, *BOTH)
    assert "no colour is known yet of: white masstone" in ran.out


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ((), "--region: is missing; say where each panel lies"),
        (
            ("--region", "blue 5/59=1,1,50,50"),
            "--region blue 5/59: is no panel of panels.csv; did you mean 'blue 5/95'?",
        ),
        (("--region", "blue 5/95=1,1,50,50", "--region", "blue 5/95=9,9,50,50"), "is named twice"),
        (("--region", "blue 5/95=1,1,50000,50"), "--region blue 5/95"),
    ],
)
def test_what_is_wrong_is_one_line_and_nothing_is_written(
    refused: Callable[..., str], options: tuple[str, ...], told: str
) -> None:
    assert told in refused("bank", "photo", "bank", PHOTO, *options)


def test_a_table_of_ones_own_is_not_written_over(refused: Callable[..., str], cli: Cli, bench: Path) -> None:
    write(bench / "bank/seen.csv", "panel,L,a,b\nblue 5/95,60,-10,-20\n")
    assert "was not written by finishmatch" in refused("bank", "photo", "bank", PHOTO, *BOTH)
    assert cli("bank", "photo", "bank", PHOTO, *BOTH, "--replace").status == 0
    assert [row["picture"] for row in rows(bench)] == ["", "photo.jpg", "photo.jpg"]


SHOWN = {1: PAINTS["green"], 2: PAINTS["blue"], 3: PAINTS["blue again"]}
NAMED = ("--panel", "3=blue 5/95", "--panel", " 02 = blue 20/80 ")


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sheet_photo(drawn_sheet(5, SHOWN), tmp_path_factory.mktemp("rendered") / "sheet.jpg")


@pytest.fixture
def sheet(bench: Path, rendered: Path) -> Path:
    """A photograph of a sheet of five windows, panels in the first three."""
    return Path(shutil.copy(rendered, bench))


def test_windows_of_the_sheet_become_panels_by_their_numbers(cli: Cli, bench: Path, sheet: Path) -> None:
    found = cli("bank", "photo", "bank", sheet, *NAMED, "--json").json
    assert [(one["panel"], one["window"]) for one in found["panels"]] == [("blue 20/80", 2), ("blue 5/95", 3)]
    for one, window in zip(found["panels"], (2, 3), strict=True):
        within = (one["u95"] ** 2 + one["u95_shared"] ** 2) ** 0.5
        assert de00(reflectance_to_lab(SHOWN[window]), one["lab"]) <= within
        assert one["u95_shared"] > one["u95"] > 0  # most of it the camera does to others too
    assert "sheet.jpg: window 1 holds what no panel is named for: name it with --panel" in found["warnings"]
    assert "sheet.jpg: windows 4, 5 are empty" in found["warnings"]
    assert [row["panel"] for row in rows(bench)] == ["blue 20/80", "blue 5/95"]


def test_a_panel_that_two_pictures_tell_as_two_colours_is_asked_about_and_not_fitted(
    cli: Cli, bench: Path, sheet: Path, refused: Callable[..., str]
) -> None:
    cli("bank", "photo", "bank", sheet, *NAMED)
    again = sheet_photo(drawn_sheet(5, SHOWN), bench / "again.jpg", seed=8)
    wrong = cli("bank", "photo", "bank", again, "--panel", "1=blue 20/80", "--json").json["warnings"]
    (said,) = (line for line in wrong if "is it the panel" in line)
    apart = float(de00(*reflectance_to_lab(np.stack([SHOWN[1], SHOWN[2]]))))
    assert said.startswith("again.jpg: blue 20/80 reads ΔE00 ")
    assert abs(float(said.split("ΔE00 ")[1].split()[0]) - apart) < 5
    assert "from sheet.jpg: is it the panel that lies in window 1?" in said
    told = refused("bank", "fit", "bank")
    assert "seen.csv, panel 'blue 20/80': again.jpg and sheet.jpg tell it" in told or (
        "seen.csv, panel 'blue 20/80': sheet.jpg and again.jpg tell it" in told
    )
    mended = cli("bank", "photo", "bank", again, *NAMED, "--json").json["warnings"]
    assert not any("is it the panel" in line for line in mended)
    assert cli("bank", "fit", "bank").status == 0


def test_a_panel_that_is_burnt_out_is_named_once(cli: Cli, bench: Path) -> None:
    photo = sheet_photo(drawn_sheet(5, {**SHOWN, 2: np.full(31, 4.0)}), bench / "glare.jpg")
    told = cli("bank", "photo", "bank", photo, *NAMED, "--json").json["warnings"]
    burnt = [line for line in told if "burnt out" in line]
    assert len(burnt) == 1
    assert burnt[0].startswith("glare.jpg: window 2 (blue 20/80) is not read: it is burnt out")


def test_windows_that_are_named_and_empty_leave_nothing_to_read(cli: Cli, bench: Path, sheet: Path) -> None:
    ran = cli("bank", "photo", "bank", sheet, "--panel", "5=blue 5/95")
    assert ran.status == 1
    assert "nothing is read in the windows that are named; windows 4, 5 are empty" in ran.out
    assert not (bench / "bank/seen.csv").exists()
    ran = cli("bank", "photo", "bank", PHOTO, "--panel", "5=blue 5/95")
    assert ran.status == 1
    assert "no sheet with numbered windows was found" in ran.out


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--panel", "6=blue 5/95"), "--panel 6: is no window of the sheet in sheet.jpg; it has 5"),
        (("--panel", "1=blue 5/59"), "is no panel of panels.csv; did you mean 'blue 5/95'?"),
        (("--panel", "blue 5/95=1"), "is not N=PANEL; write the number of the window"),
        (("--panel", "1=blue 5/95", "--panel", "2=blue 5/95"), "names a window or a panel twice"),
        (("--panel", "1=blue 5/95", *BOTH), "--region: is given with --panel"),
    ],
)
def test_wrong_windows_are_told_in_one_line(
    refused: Callable[..., str], sheet: Path, options: tuple[str, ...], told: str
) -> None:
    assert told in refused("bank", "photo", "bank", sheet, *options)


def test_the_card_is_not_taken_for_the_sheet(refused: Callable[..., str], bench: Path) -> None:
    drawn = drawn_card(bundled_print(), {"standard": PAINTS["blue"]}, "one", "D65", chart=True)
    card = sheet_photo(drawn, bench / "card.jpg")
    told = refused("bank", "photo", "bank", card, "--panel", "1=blue 5/95")
    assert "card.jpg: shows the shop's card, and no sheet with numbered windows; photograph the sheet" in told


def _changed(sheet: Path, change: Callable[[NDArray[np.uint8]], NDArray[np.uint8]]) -> Path:
    """The photograph of the sheet with its values changed."""
    with Image.open(sheet) as picture:
        values, profile = np.asarray(picture), picture.info.get("icc_profile")
    path = sheet.with_name("changed.png")
    Image.fromarray(np.ascontiguousarray(change(values)).astype(np.uint8)).save(path, icc_profile=profile)
    return path


def test_a_sheet_in_the_dark_is_told_so(cli: Cli, bench: Path, sheet: Path) -> None:
    said = " ".join(cli("bank", "photo", "bank", _changed(sheet, lambda values: values // 9), *NAMED).out.split())
    assert "the photograph is too dark to see a chart in (bare paper reads 1 % of full scale): expose" in said
    assert "lay one in" not in said


def test_a_mirrored_sheet_is_told_so_and_no_sample_that_nobody_named(cli: Cli, bench: Path, sheet: Path) -> None:
    found = cli("bank", "photo", "bank", _changed(sheet, lambda values: values[:, ::-1]), *NAMED, "--json").json
    assert "is mirrored, left to right, and no mark of a sheet can be read so: turn it back" in found["why"]
    assert not any("sample" in said.split(":")[1] for said in found["warnings"])


def test_a_sheet_under_a_tungsten_lamp_has_no_dirty_patch(cli: Cli, bench: Path) -> None:
    drawn = drawn_card(bundled_print(), {"window 1": PAINTS["blue"]}, "one", "A", chart=True, layout=sheet_layout(5))
    photo = sheet_photo(drawn, bench / "lamp.jpg")
    said = " ".join(cli("bank", "photo", "bank", photo, "--panel", "1=blue 5/95").out.split())
    assert "as the light may have it: photograph in daylight, and see whether it is still" in said
    assert "clean it" not in said


def _looks(bench: Path) -> dict[str, list[str]]:
    return {
        f"{panel.seen.picture} {panel.name}": [look.light for look in panel.seen.looks]
        for panel in read_bank(bench / "bank").panels
        if panel.seen is not None
    }


def test_what_the_camera_saw_is_kept_beside_the_colours_for_as_long_as_they_stand(cli: Cli, bench: Path) -> None:
    cli("bank", "photo", "bank", PHOTO, *BOTH)
    cli("bank", "photo", "bank", another(bench / "other.jpg", 3), *BOTH[:2])
    both = {"photo.jpg blue 20/80": ["D65"], "photo.jpg blue 5/95": ["D65"]}
    assert _looks(bench) == {**both, "other.jpg blue 20/80": ["D65"]}
    path = bench / "bank/seen.csv"
    lines = path.read_text("utf-8").splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("blue 5/95,"))
    cells = lines[at].split(",")
    cells[1] = f"{float(cells[1]) + 1:.3f}"  # somebody knows better
    path.write_text("\n".join([*lines[:at], ",".join(cells), *lines[at + 1 :]]) + "\n", "utf-8")
    assert _looks(bench)["photo.jpg blue 5/95"] == []
    path.write_text("\n".join(line for line in lines if "other.jpg" not in line) + "\n", "utf-8")
    cli("bank", "photo", "bank", PHOTO, *BOTH[:2], "--replace")
    assert set(json.loads((bench / "bank/looks.json").read_text())["pictures"]) == {"photo.jpg"}
    assert _looks(bench) == both


def test_what_it_saw_under_a_lamp_stands_with_the_picture_in_daylight(cli: Cli, bench: Path) -> None:
    photos = [
        sheet_photo(drawn_sheet(5, SHOWN, light=light), bench / f"{light}.jpg", seed=i)
        for i, light in enumerate(("D65", "A"))
    ]
    cli("bank", "photo", "bank", photos[0], *NAMED, "--under", f"A={photos[1]}")
    assert _looks(bench) == {"D65.jpg blue 20/80": ["D65", "A"], "D65.jpg blue 5/95": ["D65", "A"]}
    by_looks = cli("bank", "fit", "bank", "--json").json["tints"]["blue"]
    (bench / "bank/looks.json").write_text("{}")
    ran = cli("bank", "fit", "bank")
    assert "looks.json isn't as it was written, and is left out: read the photographs into the bank again" in ran.out
    assert cli("bank", "fit", "bank", "--json").json["tints"]["blue"] != by_looks


def test_of_a_photograph_that_the_camera_has_worked_on_only_colours_are_kept(
    cli: Cli, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("finishmatch.photo.looks.WORKED_ON", 0.0)
    ran = cli("bank", "photo", "bank", PHOTO, *BOTH)
    assert "photo.jpg: its colours are kept, and not what the camera saw besides: the camera has worked on" in ran.out
    assert not (bench / "bank/looks.json").exists()
    assert _looks(bench) == {"photo.jpg blue 20/80": [], "photo.jpg blue 5/95": []}
