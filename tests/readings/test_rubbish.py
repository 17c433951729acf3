"""Rubbish at the door: whatever a file or an argument holds, it is read rightly or refused in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.optics import Bank, fit_bank
from finishmatch.optics.camera_look import CameraLook
from finishmatch.readings import (
    Reading,
    load_fit,
    read_bank,
    read_batch,
    read_readings,
    resolve_reading,
    store_fit,
    typed_lab,
)
from finishmatch.readings.bank_folder import FILES
from finishmatch.readings.film_file import read_film
from finishmatch.readings.looks_file import picture_of_looks
from tests.conftest import ROOT
from tests.helpers.door_files import HOUSE_NM, small_bank, smooth, spectra_csv

many = settings(max_examples=100, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
fewer = settings(many, max_examples=40)

ODD = (
    *("1e999", "-1e999", "nan", "Infinity", "−5", "0x10", "1_000", "٣٫٥", "٣", "½", "𝟏", "1e-320", "1e-9", "-0", "+.5"),
    *("5.", ".", "e5", "1e5e5", "", " ", "''", '"', '"1,5"', "1,5", "1;5", "1\x0b2", "\u2028", "# 4", "@", "True"),
    *("0", "1.2", "1.21", "100", "1e6", "9" * 400),
)
SPECTRA = spectra_csv([("tin", smooth(HOUSE_NM)), ("tin", smooth(HOUSE_NM)), ("door, left", smooth(HOUSE_NM))])
LABS = "name,L,a,b,light,observer\nwing,50,-3,4,A,2\nwing,51,-3,4,A,2\ndoor,60.5,1e0,+2,,\n"
BATCH = "tint,grams\nwhite,444.6\nblue,28.3\n# more\nwhite,2\n"
FILM = "layer,position,place,build_um\nsurfacer,1,left,63\ncolour,2,left,58\ncolour,2,right,52\n"


@st.composite
def mangled(draw: st.DrawFn, texts: tuple[str, ...]) -> bytes:
    """A file nearly right: cells swapped or replaced, characters put in or taken out, lines doubled or lost."""
    lines = draw(st.sampled_from(texts)).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        cells = lines[at].split(",")
        one, two = (draw(st.integers(0, len(cells) - 1)) for _ in range(2))
        match draw(st.sampled_from(["swap", "odd", "odd", "odd", "insert", "cut", "double", "lose", "add"])):
            case "swap":
                cells[one], cells[two] = cells[two], cells[one]
                lines[at] = ",".join(cells)
            case "odd":
                cells[one] = draw(st.sampled_from(ODD) | st.text(max_size=5))
                lines[at] = ",".join(cells)
            case "insert":
                where = draw(st.integers(0, len(lines[at])))
                lines[at] = lines[at][:where] + draw(st.characters(codec="utf-8")) + lines[at][where:]
            case "cut":
                lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
            case "double":
                lines.insert(at, lines[at])
            case "lose" if len(lines) > 1:
                del lines[at]
            case "add":
                lines.insert(at, draw(st.text(max_size=20)))
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    return draw(st.sampled_from([b"", b"\xef\xbb\xbf"])) + end.join(lines).encode()


def read_or_refused(read: Callable[..., Any], *arguments: object) -> Any:
    """What is read, or None when it is refused as it should be."""
    try:
        return read(*arguments)
    except InputError as error:
        told = str(error)
        assert told.strip()
        assert len(told.splitlines()) == 1, told
        assert len(told) < 1000, told
        return None


def from_file(read: Callable[..., Any], data: bytes, *arguments: object) -> Any:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "file.csv"
        path.write_bytes(data)
        return read_or_refused(read, path, *arguments)


def check_reading(reading: Reading) -> None:
    assert np.isfinite(reading.repeats).all()
    assert reading.name
    if reading.is_spectral:
        assert reading.repeats.shape[1] == 31
        assert 0 <= reading.repeats.min() <= reading.repeats.max() <= 1.2
    else:
        assert 0 <= reading.repeats[:, 0].min() <= reading.repeats[:, 0].max() <= 120
        assert np.abs(reading.repeats[:, 1:]).max() <= 200
        assert reading.observer in (2, 10)
    assert np.isfinite(reading.lab_in(reading.light, reading.observer)).all()
    assert reading.spread_de00 is None or np.isfinite(reading.spread_de00)


def check_readings(readings: dict[str, Reading] | None) -> None:
    if readings is not None:
        assert readings
        for name, reading in readings.items():
            assert name == reading.name
            check_reading(reading)


def check_batch(batch: tuple[tuple[str, float], ...] | None) -> None:
    if batch is not None:
        assert all(tint and 0 <= grams <= 1e6 for tint, grams in batch)
        assert sum(grams for _, grams in batch) > 0


def check_film(film: Any) -> None:
    if film is not None:
        assert [layer.position for layer in film] == sorted({layer.position for layer in film})
        assert all(layer.builds_um and all(0 < build <= 20_000 for build in layer.builds_um) for layer in film)


@many
@given(st.binary(max_size=300))
def test_bytes_of_any_kind(data: bytes) -> None:
    check_readings(from_file(read_readings, data))
    check_batch(from_file(read_batch, data))
    check_film(from_file(read_film, data))


@many
@given(st.text(max_size=300))
def test_text_of_any_kind(text: str) -> None:
    data = text.encode("utf-8", "surrogatepass")
    check_readings(from_file(read_readings, b"name,L,a,b\n" + data))
    check_batch(from_file(read_batch, b"tint,grams\n" + data))
    check_film(from_file(read_film, b"layer,position,place,build_um\n" + data))


@pytest.mark.slow
@settings(many, max_examples=250)
@given(mangled((SPECTRA, LABS)))
def test_a_readings_file_nearly_right(data: bytes) -> None:
    check_readings(from_file(read_readings, data))


@many
@given(mangled((BATCH,)))
def test_a_batch_file_nearly_right(data: bytes) -> None:
    check_batch(from_file(read_batch, data))
    check_batch(from_file(read_batch, data, ["white", "blue"]))


@many
@given(mangled((FILM,)))
def test_a_film_file_nearly_right(data: bytes) -> None:
    check_film(from_file(read_film, data))


@many
@given(st.lists(st.sampled_from(range(300, 900, 5)), min_size=1, max_size=40, unique=True), st.booleans())
def test_wavelengths_of_any_kind(nm: list[int], in_order: bool) -> None:
    nm = sorted(nm) if in_order else nm
    check_readings(from_file(read_readings, spectra_csv([("tin", smooth(nm))], nm).encode()))


@many
@given(st.integers(300, 400), st.integers(700, 900), st.sampled_from([5, 10, 20, 7]), st.randoms(use_true_random=False))
def test_spectra_of_any_kind_stay_within_their_bounds(start: int, stop: int, step: int, random: Any) -> None:
    nm = range(start, stop + 1, step)
    values = [random.choice([0.0, 1.2, 0.5, 1e-320, random.random()]) for _ in nm]
    check_readings(from_file(read_readings, spectra_csv([("tin", values)], nm).encode()))


# --- what is typed ---------------------------------------------------------------------------------------------------

typed = st.text(max_size=30) | st.lists(st.sampled_from(ODD) | st.floats().map(str), min_size=1, max_size=4).map(
    ",".join
)


@settings(many, max_examples=250)
@given(typed)
def test_typed_colours_of_any_kind(text: str) -> None:
    for read in (typed_lab, resolve_reading):
        reading = read_or_refused(read, text)
        if reading is not None:
            check_reading(reading)


@many
@given(st.text(max_size=12), st.sampled_from(["", "@", "@tin", "@@"]))
def test_file_at_name_of_any_kind(name: str, at: str) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "r@d.csv"
        path.write_text(SPECTRA)
        for text in (f"{path}{at}{name}", f"{path}@{name}{at}", f"{name}{at}{path}", name):
            reading = read_or_refused(resolve_reading, text)
            if reading is not None:
                check_reading(reading)


# --- a bank ----------------------------------------------------------------------------------------------------------

LAB = np.array([40.0, -8.0, -30.0])
LOOK = CameraLook("D65", np.full((31, 3), 0.03), np.array([0.1, 0.2, 0.3]), 40 * np.eye(3), LAB, 0.01)
LOOKED_AT = picture_of_looks({"let": (LAB.tolist(), [LOOK])})
BANK_FILES = {
    "bank.toml": 'name = "bench"\ngeometry = "di8"\nbinder_index = 1.5\n',
    "tints.csv": "tint,role,colour_index,density_kg_l,volume_solids,price_per_kg,stock_g\n"
    "white,white,PW6,1.5,0.4,22,4000\nblue,tint,PB15:1,1,0.3,58,1000\n",
    "panels.csv": "panel,tint,grams\nmass,white,100\nlet,white,90\nlet,blue,10\n",
    "readings.csv": spectra_csv([("mass,,", smooth(HOUSE_NM)), ("let,black,30", smooth(HOUSE_NM))]).replace(
        "name,", "panel,ground,build_um,"
    ),
    "grounds.csv": spectra_csv([("black", [0.04] * 31)]).replace("name,", "ground,"),
    "seen.csv": "panel,L,a,b,u95,picture,u95_shared\nlet,40,-8,-30,2,monday,1\n",
    "looks.json": json.dumps({"form": 1, "pictures": {"monday": LOOKED_AT}}),
}
TOML_ODD = (
    "[" * 3000,
    "nan",
    "inf",
    "1_0",
    "'''",
    "1979-05-27",
    "{}",
    '"\\u0000"',
    "0x1",
    "[1, 2]",
    "true",
    "9" * 5000,
)


def read_bank_with(name: str, data: bytes) -> None:
    with TemporaryDirectory() as folder:
        for file, text in BANK_FILES.items():
            (Path(folder) / file).write_bytes(data if file == name else text.encode())
        bank = read_or_refused(read_bank, Path(folder))
        if bank is None:
            return
        assert len(bank.digest) == 64
        assert 1.3 <= bank.binder_index <= 1.8
        for tint in bank.tints:
            numbers = [tint.density_kg_l, tint.volume_solids, tint.price_per_kg, tint.stock_g, tint.dry_ml_per_g]
            assert np.isfinite(numbers).all()
            assert min(numbers) >= 0
            assert tint.dry_ml_per_g > 0
        for panel in bank.panels:
            assert np.isfinite(panel.repeats).all()
            assert 0 <= panel.repeats.min() <= panel.repeats.max() <= 1.2
            assert sum(grams for _, grams in panel.grams) > 0
            assert {tint for tint, _ in panel.grams} <= set(bank.tint_names)
            assert (panel.ground is None) == (panel.build_um is None)


def test_the_bank_these_tests_mangle_is_right_as_it_stands() -> None:
    with TemporaryDirectory() as folder:
        for file, text in BANK_FILES.items():
            (Path(folder) / file).write_text(text)
        assert [panel.hides for panel in read_bank(Path(folder)).panels] == [True, False, True]


@many
@given(st.sampled_from(FILES), st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_a_bank_with_a_file_of_any_kind(name: str, data: bytes) -> None:
    read_bank_with(name, data)


@pytest.mark.slow
@settings(many, max_examples=250)
@given(st.data(), st.sampled_from(FILES))
def test_a_bank_with_a_file_nearly_right(data: st.DataObject, name: str) -> None:
    read_bank_with(name, data.draw(mangled((BANK_FILES[name],))))


@many
@given(st.sampled_from(["name", "geometry", "binder_index"]), st.sampled_from(TOML_ODD) | st.text(max_size=8))
def test_a_bank_with_an_odd_head(key: str, value: str) -> None:
    lines = [f"{key} = {value}" if line.startswith(key) else line for line in BANK_FILES["bank.toml"].splitlines()]
    read_bank_with("bank.toml", "\n".join(lines).encode("utf-8", "surrogatepass"))


@fewer
@given(st.data())
def test_a_stored_fit_that_is_damaged_is_no_fit(data: st.DataObject) -> None:
    """Whatever was done to the file, it is made anew and never believed."""
    bank, text = stored_fit()
    at = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.characters(codec="ascii", exclude_categories=["Zs", "Cc"]).filter(lambda x: x != text[at]))
    changed = text[:at] + other + text[at + 1 :]
    with TemporaryDirectory() as folder:
        file = Path(folder) / "fit.json"
        file.write_text(text)
        assert load_fit(Path(folder), bank) is not None
        for odd in (text[:at], other, "[]", "{}", "null", "[" * 9000):
            file.write_text(odd)
            assert load_fit(Path(folder), bank) is None
        file.write_text(changed)
        if (got := load_fit(Path(folder), bank)) is not None:  # a last digit that changes nothing
            assert json.loads(changed) == json.loads(text)
            assert got.usable == ("white", "black", "blue")


@cache
def stored_fit() -> tuple[Bank, str]:
    """A small bank, and its fit as it is kept."""
    with TemporaryDirectory() as folder:
        bank = read_bank(small_bank(ROOT / "swatches/bank", Path(folder) / "bank", ("white", "black", "blue")))
        return bank, store_fit(Path(folder), bank, fit_bank(bank)).read_text()
