"""A measurement comes in as it was meant: every CSV form, typed Lab, the house grid, batch and film files, a bank."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np
import pytest

from finishmatch.colour import WAVELENGTHS_NM, de00
from finishmatch.errors import InputError
from finishmatch.readings import read_bank, read_batch, read_readings, resolve_reading, typed_lab
from finishmatch.readings.film_file import read_film
from finishmatch.readings.sprague import sprague, to_house_grid
from tests.helpers.door_files import HOUSE_NM, smooth, spectra_csv, write

SPECTRUM = smooth(HOUSE_NM)


# --- spectra ---------------------------------------------------------------------------------------------------------


def test_a_spectrum_on_the_house_grid_comes_in_as_it_stands(tmp_path: Path) -> None:
    path = write(tmp_path / "tin.csv", spectra_csv([("tin", SPECTRUM)]))
    (reading,) = read_readings(path).values()
    assert (reading.name, reading.source, reading.warnings) == ("tin", path, ())
    assert reading.reflectance == pytest.approx(SPECTRUM, abs=1e-9)
    assert reading.lab is None
    assert reading.spread_de00 is None  # one reading tells nothing of its own spread


def test_percent_is_read_as_percent_and_says_so(tmp_path: Path) -> None:
    path = write(tmp_path / "tin.csv", spectra_csv([("tin", [100 * v for v in SPECTRUM])]))
    reading = read_readings(path)["tin"]
    assert reading.reflectance == pytest.approx(SPECTRUM, abs=1e-9)
    assert reading.warnings == (f"{path}: read as percent, since every value exceeds 1.5",)


def test_a_fluorescent_or_glossy_white_a_little_above_1_is_still_a_fraction(tmp_path: Path) -> None:
    white = [0.6, 0.9, *[1.2] * 29]  # its pigment takes up the violet
    path = write(tmp_path / "white.csv", spectra_csv([("white", white)]))
    assert read_readings(path)["white"].reflectance == pytest.approx(white)
    path = write(tmp_path / "white%.csv", spectra_csv([("white", [120] * 31)]))
    assert read_readings(path)["white"].reflectance == pytest.approx([1.2] * 31)


def test_repeats_are_kept_with_their_spread(tmp_path: Path) -> None:
    higher = [v + 0.01 for v in SPECTRUM]
    path = write(tmp_path / "r.csv", spectra_csv([("tin", SPECTRUM), ("door", higher), ("tin", higher)]))
    readings = read_readings(path)
    assert list(readings) == ["tin", "door"]  # the order of the file
    tin = readings["tin"]
    assert tin.repeats.shape == (2, 31)
    assert tin.reflectance == pytest.approx([v + 0.005 for v in SPECTRUM], abs=1e-9)
    # both lie as far from their mean, to first order, and that distance is the mean ΔE00 from the mean (ASTM E2214)
    each = [float(de00(tin.lab_in("D65", 10), readings["door"].lab_in("D65", 10)))]
    assert tin.spread_de00 == pytest.approx(each[0], rel=0.02)


def test_repeats_of_lab_are_averaged_as_lab(tmp_path: Path) -> None:
    path = write(tmp_path / "r.csv", "name,L,a,b\nwing,50,0,0\nwing,52,1,-1\n")
    wing = read_readings(path)["wing"]
    assert wing.lab == pytest.approx([51, 0.5, -0.5])
    assert (wing.light, wing.observer, wing.reflectance) == ("D65", 10, None)
    assert wing.spread_de00 is not None
    assert wing.spread_de00 > 0


def test_light_and_observer_columns_are_kept_and_default_to_d65_10(tmp_path: Path) -> None:
    text = "name,light,L,a,b,observer\none,a,50,1,2,2\ntwo,,60,1,2,\nthree,led-b3,70,1,2,10\n"
    readings = read_readings(write(tmp_path / "r.csv", text))
    assert [(r.light, r.observer) for r in readings.values()] == [("A", 2), ("D65", 10), ("LED-B3", 10)]
    assert readings["one"].lab_in("A", 2) == pytest.approx([50, 1, 2])
    with pytest.raises(InputError, match=r"one: only its Lab under A, 2° is known; measure a spectrum"):
        readings["one"].lab_in("D65", 10)


@pytest.mark.parametrize(
    ("start", "stop", "step"),
    [(400, 700, 5), (400, 700, 20), (380, 780, 10), (360, 740, 10), (380, 730, 5), (390, 710, 20), (300, 1100, 20)],
)
def test_other_steps_and_wider_ranges_are_brought_onto_the_house_grid(
    tmp_path: Path, start: int, stop: int, step: int
) -> None:
    nm = list(range(start, stop + 1, step))
    path = write(tmp_path / "r.csv", spectra_csv([("tin", smooth(nm))], nm))
    got = read_readings(path)["tin"].reflectance
    # of 20 nm steps every second value is interpolated; else every house wavelength is in the file and is picked
    assert got == pytest.approx(SPECTRUM, abs=2.5e-4 if step == 20 else 1e-8)


def test_columns_may_stand_in_any_place_beside_the_name(tmp_path: Path) -> None:
    text = spectra_csv([("tin", SPECTRUM)])
    moved = "\n".join(",".join([*line.split(",")[1:], line.split(",")[0]]) for line in text.splitlines())
    assert read_readings(write(tmp_path / "r.csv", moved))["tin"].reflectance == pytest.approx(SPECTRUM, abs=1e-9)


def test_interpolation_between_bounds_stays_within_them(tmp_path: Path) -> None:
    """A polynomial swings beyond a jump; a reflectance below 0 is none."""
    nm = list(range(390, 711, 20))
    path = write(tmp_path / "r.csv", spectra_csv([("jump", [0.0] * 8 + [1.2] * 9)], nm))
    got = read_readings(path)["jump"].reflectance
    assert got is not None
    assert 0 <= got.min() <= got.max() <= 1.2


# --- Sprague, CIE 167 ------------------------------------------------------------------------------------------------


def test_sprague_agrees_with_colour_science() -> None:
    """`colour.SpragueInterpolator` (Westland, Ripamonti and Cheung 2012; CIE 167:2005)."""
    rng = np.random.default_rng(7)
    for start, step, n in ((380, 20, 21), (400, 20, 16), (400, 5, 61), (400, 10, 6)):
        nm = start + step * np.arange(n)
        values = rng.random((3, n))
        at = rng.uniform(nm[0], nm[-1], 200)
        for row, got in zip(values, sprague(values, start, step, at), strict=True):
            assert got == pytest.approx(colour.SpragueInterpolator(nm, row)(at), abs=1e-10)


@pytest.mark.parametrize("degree", range(5))
def test_sprague_is_exact_for_polynomials_of_degree_4_and_less_in_the_interior(degree: int) -> None:
    """Closed fact: the first two derivatives at each point are those of the quartic through it and its four neighbours.

    (The quintic joins them; a fifth-degree polynomial is not met exactly, since its derivatives aren't.)
    """
    nm = np.arange(360, 781, 20.0)

    def poly(x: np.ndarray) -> np.ndarray:
        return ((x - 550) / 200) ** degree

    at = np.arange(400, 741, 1.0)
    assert sprague(poly(nm), 360, 20, at) == pytest.approx(poly(at), abs=1e-12)


def test_sprague_passes_through_the_given_points() -> None:
    values = np.random.default_rng(3).random(17)
    nm = 390 + 20.0 * np.arange(17)
    assert sprague(values, 390, 20, nm) == pytest.approx(values, abs=1e-12)


@pytest.mark.parametrize(
    ("nm", "told"),
    [
        (np.arange(410, 701, 10), "cover 410 to 700 nm"),
        (np.arange(400, 691, 10), "cover 400 to 690 nm"),
        (np.arange(400, 701, 1), "go from 400 to 401 nm"),
        (np.arange(400, 701, 15), "go from 400 to 415 nm"),
        (np.arange(700, 399, -10), "go from 700 to 690 nm"),
        (np.array([*range(400, 500, 10), *range(500, 701, 20)]), "go from 500 to 520 nm"),
        (np.array([400, 500, 600, 700]), "only 4 wavelength columns"),
    ],
)
def test_wavelengths_that_dont_serve_are_named(nm: np.ndarray, told: str) -> None:
    with pytest.raises(InputError, match=told):
        to_house_grid(nm.astype(float), np.ones(len(nm)), "r.csv, line 1")


# --- the CSV around them ---------------------------------------------------------------------------------------------


def test_bom_comments_blank_lines_crlf_spaces_and_quoted_names_are_read(tmp_path: Path) -> None:
    text = (
        '﻿# read on the bench\r\n\r\n name , L , a , b \r\n  # a remark\r\n "wing, left", 50.5 , -1 , 2e0\r\n,,,\r\n'
        '"the ""good"" door",60,+1,.5\r\n   \r\n'
    )
    readings = read_readings(write(tmp_path / "r.csv", text))
    assert list(readings) == ["wing, left", 'the "good" door']
    assert readings["wing, left"].lab == pytest.approx([50.5, -1, 2])
    assert readings['the "good" door'].lab == pytest.approx([60, 1, 0.5])


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_bad_cell_is_named_by_the_line_an_editor_shows(tmp_path: Path, end: str) -> None:
    """A form feed or a line separator within a cell is no line of its own, and no part of a name."""
    text = end.join(["# a", "name,L,a,b", "one\x0c,50,0,0", "", "two\u2028and,51,0,0", "three,52,x,0"])
    for sign, told in (
        ("\x0c", r"line 3: has a character that can't be seen \(U\+000C\)"),
        ("\u2028", r"line 5: has a character that can't be seen \(U\+2028\)"),
        ("", "line 6, column 'a': 'x' is not a number"),
    ):
        with pytest.raises(InputError, match=rf"r\.csv, {told}"):
            read_readings(write(tmp_path / "r.csv", text))
        text = text.replace(sign, "")


def test_a_last_line_without_an_end_is_read(tmp_path: Path) -> None:
    assert list(read_readings(write(tmp_path / "r.csv", "name,L,a,b\none,50,0,0"))) == ["one"]


# --- what is typed ---------------------------------------------------------------------------------------------------


def test_a_typed_lab_is_a_reading_under_the_light_asked_for() -> None:
    reading = typed_lab("52.1,-3.0, 4.2", "A", 2)
    assert reading.lab == pytest.approx([52.1, -3.0, 4.2])
    assert (reading.light, reading.observer, reading.source) == ("A", 2, None)
    assert resolve_reading(" 52.1 , -3 , +4.2 ").lab == pytest.approx([52.1, -3.0, 4.2])


@pytest.mark.parametrize(
    "text",
    ["", "52", "52,1", "52,1,2,3", "52;1;", "50 20 30", "#a0b0c0", "a,b,c", "nan,0,0", "50,inf,0", "50,1e999,0",
     "-1,0,0", "121,0,0", "50,201,0", "50,0,-201", "5_0,0,0", "٥٠,0,0", "0x32,0,0", "52,1,-3,0,4,2"],
)  # fmt: skip
def test_what_isnt_lab_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        typed_lab(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("text", ["nan,0,0", "5_0,0,0", "52,1,-3,0,4,2", "52,1;-3,0", "50,x,0", "−5,0", "50,0"])
def test_what_was_meant_as_lab_is_not_told_as_a_missing_file(text: str) -> None:
    with pytest.raises(InputError, match="L,a,b with decimal points"):
        resolve_reading(text)


def test_a_file_named_like_a_colour_is_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "50,0,0", "name,L,a,b\none,10,0,0\n")
    assert resolve_reading("50,0,0").lab == pytest.approx([10, 0, 0])


def test_file_at_name_picks_one(tmp_path: Path) -> None:
    path = write(tmp_path / "cards@bench.csv", "name,L,a,b\ncard 1,10,0,0\ncard@2,20,0,0\n")
    assert resolve_reading(f"{path}@card 1").lab == pytest.approx([10, 0, 0])
    assert resolve_reading(f"{path}@card@2").lab == pytest.approx([20, 0, 0])
    with pytest.raises(InputError, match=r"holds 2 names \(card 1, card@2\); say which, for example '.*@card 1'$"):
        resolve_reading(str(path))
    with pytest.raises(InputError, match=r"bench\.csv: has no reading named 'card 3'; it has card 1, card@2"):
        resolve_reading(f"{path}@card 3")
    with pytest.raises(InputError, match=r"^elsewhere\.csv: there is no such file"):
        resolve_reading("elsewhere.csv@card 1")
    single = write(tmp_path / "one.csv", "name,L,a,b\nwing,10,0,0\n")
    assert resolve_reading(str(single)).name == "wing"


# --- batch, film, bank -----------------------------------------------------------------------------------------------


def test_a_batch_is_kept_in_the_order_poured(tmp_path: Path) -> None:
    path = write(tmp_path / "b.csv", "# tin 3\ngrams,tint\n440,white\n2.5,blue\n0,black\n10,white\n")
    assert read_batch(path) == (("white", 440.0), ("blue", 2.5), ("black", 0.0), ("white", 10.0))
    assert read_batch(path, ["white", "blue", "black"]) == read_batch(path)
    with pytest.raises(InputError, match=r"line 4, column 'tint': the bank has no tint 'blue'; did you mean bleu\?"):
        read_batch(path, ["white", "bleu", "black"])


def test_a_film_is_told_from_the_metal_up(tmp_path: Path) -> None:
    text = "layer,position,place,build_um\ncolour,2,left,58\nsurfacer,1,left,63\ncolour,2,,52.5\n"
    surfacer, coat = read_film(write(tmp_path / "f.csv", text))
    assert (surfacer.layer, surfacer.position, surfacer.builds_um, surfacer.places) == (
        "surfacer",
        1,
        (63.0,),
        ("left",),
    )
    assert (coat.builds_um, coat.places) == ((58.0, 52.5), ("left", ""))


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("clear,2,left,40", "layer 2 is 'colour' already"),
        ("colour,3,left,40", "the layer stands at two positions"),
        ("clear,2.5,left,40", "2.5 is not a whole number"),
        ("clear,0,left,40", "0 is too small"),
        ("clear,3,left,0", "0 is too small"),
        ("clear,3,left,-5", "-5 is too small"),
        ("clear,3,left,30000", "30000 is too large"),
        ("clear,3,left,thick", "'thick' is not a number"),
        (",3,left,40", "is empty"),
    ],
)
def test_a_film_that_cant_be_is_refused(tmp_path: Path, row: str, told: str) -> None:
    path = write(tmp_path / "f.csv", f"layer,position,place,build_um\ncolour,2,left,58\n{row}\n")
    with pytest.raises(InputError, match=r"f\.csv, line 3") as caught:
        read_film(path)
    assert told in str(caught.value)


def test_a_bank_folder_comes_in_whole(swatches: Path) -> None:
    bank = read_bank(swatches / "bank")
    assert (bank.name, bank.geometry, bank.binder_index) == ("Lowmere bench tints", "di8", 1.5)
    white = bank.tint("white")
    assert (white.role, white.colour_index, white.density_kg_l, white.volume_solids) == ("white", "PW6", 1.52, 0.42)
    assert white.dry_ml_per_g == pytest.approx(0.42 / 1.52)
    assert [name for name, _ in bank.grounds] == ["black", "white"]
    thin = next(panel for panel in bank.panels if not panel.hides)
    assert thin.ground in ("black", "white")
    assert thin.build_um is not None
    assert any(len(panel.repeats) == 3 for panel in bank.panels)  # repeats of a panel are kept
    assert all(panel.repeats.shape[1] == len(WAVELENGTHS_NM) for panel in bank.panels)
    assert bank.tint_names[:2] == ["white", "black"]


def test_a_bank_without_grounds_is_read_when_its_panels_hide(swatches: Path) -> None:
    bank = swatches / "bank"
    lines = (bank / "readings.csv").read_text("utf-8").splitlines()
    head = next(i for i, line in enumerate(lines) if line.startswith("panel,"))
    hiding = [line for line in lines[head + 1 :] if line.split(",")[1] == ""]
    mixed = {line.split(",")[0] for line in hiding}
    panels = (bank / "panels.csv").read_text("utf-8").splitlines()
    kept = [line for line in panels if line.startswith(("#", "panel,")) or line.split(",")[0] in mixed]
    write(bank / "panels.csv", "\n".join(kept))
    write(bank / "readings.csv", "\n".join([*lines[: head + 1], *hiding]))
    (bank / "grounds.csv").unlink()
    assert all(panel.hides for panel in read_bank(bank).panels)


def test_every_byte_of_a_bank_counts_in_its_digest(swatches: Path) -> None:
    bank = swatches / "bank"
    digests = {read_bank(bank).digest}
    for name in ("bank.toml", "tints.csv", "panels.csv", "readings.csv", "grounds.csv"):
        with (bank / name).open("a") as file:
            file.write("# one more remark\n")
        digests.add(read_bank(bank).digest)
    assert len(digests) == 6
    write(bank / "notes.txt", "not of the bank")
    assert read_bank(bank).digest in digests
