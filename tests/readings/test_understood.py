"""What is meant is understood, and said in one line; what could be two things is asked."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from finishmatch.errors import InputError
from finishmatch.finish.sheen import sheen_called
from finishmatch.readings import read_bank, read_batch, read_readings, typed_lab
from finishmatch.readings.angles_file import resolve_angles
from finishmatch.readings.batch_file import typed_amount
from finishmatch.readings.evidence_file import read_evidence
from finishmatch.readings.film_file import read_film
from finishmatch.readings.plain_number import meant_number, number_hint
from finishmatch.readings.quantities import AREA, VOLUME, quantity, share
from finishmatch.steps.days import day_of
from finishmatch.toml_reader import parse_toml
from finishmatch.understood import listening, understood, what_was_understood
from tests.helpers.door_files import HOUSE_NM, smooth, spectra_csv, write

SPECTRUM = smooth(HOUSE_NM)


@pytest.fixture
def said() -> Callable[[Callable[[], object]], tuple[object, str]]:
    """Run something, and return what it gave and the lines that were said."""

    def run(read: Callable[[], object]) -> tuple[object, str]:
        with listening():
            return read(), "\n".join(what_was_understood())

    return run


Said = Callable[[Callable[[], object]], tuple[object, str]]


# --- numbers ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0,8", 0.8),
        ("444,6", 444.6),
        ("-1,5", -1.5),
        (",5", 0.5),
        ("0,123", 0.123),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1,234,567", 1_234_567),
        ("1 500", 1500),
        ("1'500,5", 1500.5),
        ("−3.5", -3.5),
    ],
)
def test_a_number_is_read_as_it_is_meant(text: str, value: float) -> None:
    meant, how = meant_number(text)
    assert meant == pytest.approx(value)
    assert how


@pytest.mark.parametrize("text", ["1,500", "12,345", "-9,000", "1,2,3", "30%", "nan", "1_0", "½", "1,23,456"])
def test_what_could_be_two_numbers_or_none_is_not_guessed(text: str) -> None:
    with pytest.raises(ValueError, match=re.escape(text)):
        meant_number(text)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("1O.5", "is a letter in it where a 0 or a 1 is meant?"),
        ("l2", "is a letter in it where a 0 or a 1 is meant?"),
        ("0. 5", "take out the blank"),
        ("0..5", "take out a point"),
        ("2026-05-01", "the spreadsheet took it for a date: type it anew, as a number"),
    ],
)
def test_what_is_no_number_is_told_how_it_came_about(text: str, hint: str) -> None:
    assert number_hint(text) == hint


def test_where_the_comma_is_known_to_be_the_decimal_sign_a_point_before_three_digits_is_asked() -> None:
    assert meant_number("12,345", comma=True)[0] == 12.345
    with pytest.raises(ValueError, match=r"1\.500"):
        meant_number("1.500", comma=True)


def test_percent_are_read_where_a_share_is_asked(said: Said) -> None:
    assert meant_number("30 %", share=True) == (0.3, "percent")
    assert share("`solids`", "42,5 %") == pytest.approx(0.425)
    value, line = said(lambda: quantity("`area`", "1,5 m2", AREA))
    assert value == pytest.approx(1.5)
    assert line == "`area`: '1,5' is read as 1.5"
    with pytest.raises(InputError, match=r"is it 1500 or 1\.500"):
        quantity("`volume`", "1,500 l", VOLUME)


# --- tables ----------------------------------------------------------------------------------------------------------


def spectrum_of(path: Path) -> np.ndarray:
    return next(iter(read_readings(path).values())).reflectance


def with_commas(text: str, sign: str) -> str:
    """A CSV as a European spreadsheet exports it."""
    return text.replace(",", sign).replace(".", ",")


PLAIN = spectra_csv([("tin", SPECTRUM), ("door", SPECTRUM[::-1])])


@pytest.mark.parametrize("sign", [";", "\t"])
def test_what_a_european_spreadsheet_exports_is_read(tmp_path: Path, said: Said, sign: str) -> None:
    path = write(tmp_path / "r.csv", with_commas(PLAIN, sign))
    values, line = said(lambda: spectrum_of(path))
    np.testing.assert_allclose(values, SPECTRUM, atol=1e-8)
    assert len(line.splitlines()) == 1
    assert "the cells are separated by " in line
    assert "the comma is the decimal sign" in line


def test_semicolons_with_decimal_points_or_a_named_separator_are_read(tmp_path: Path, said: Said) -> None:
    path = write(tmp_path / "r.csv", "sep=;\n" + PLAIN.replace(",", ";"))
    values, line = said(lambda: spectrum_of(path))
    np.testing.assert_allclose(values, SPECTRUM, atol=1e-8)
    assert "semicolons" in line
    assert "decimal sign" not in line


def test_a_batch_of_semicolons_and_three_decimals_is_asked_where_it_could_be_thousands(tmp_path: Path) -> None:
    path = write(tmp_path / "b.csv", "tint;grams\nwhite;1,500\nblue;2,250\n")
    with pytest.raises(InputError, match=r"line 2, column 'grams': '1,500' is not a number; is it 1500 or 1\.500"):
        read_batch(path)
    assert read_batch(write(path, "tint;grams\nwhite;1,500\nblue;28,3\n")) == (("white", 1.5), ("blue", 28.3))


def test_columns_are_known_by_any_usual_writing(tmp_path: Path, said: Said) -> None:
    path = write(tmp_path / "r.csv", "Name,L*,a*,b*,Illuminant\nwing,50,-3,4,A\n")
    found, line = said(lambda: read_readings(path)["wing"])
    assert (found.light, found.lab.tolist()) == ("A", [50, -3, 4])  # type: ignore[attr-defined]
    assert line == f"{path}: columns are read so: 'Name' as name, 'L*' as L, 'a*' as a, …"
    path = write(tmp_path / "b.csv", "Tint,gram\nwhite,440\n")
    assert said(lambda: read_batch(path)) == (
        (("white", 440.0),),
        f"{path}: columns are read so: 'Tint' as tint, 'gram' as grams",
    )


@pytest.mark.parametrize("band", ["{}nm", "{} nm", "nm{}", "R{}", "R_{}", "SPEC_{}", "SPECTRAL_NM{}", "{}.0", "R({})"])
def test_bands_are_known_by_any_usual_writing(tmp_path: Path, said: Said, band: str) -> None:
    header = "name," + ",".join(band.format(nm) for nm in HOUSE_NM)
    path = write(tmp_path / "r.csv", PLAIN.replace(PLAIN.splitlines()[0], header))
    values, line = said(lambda: spectrum_of(path))
    np.testing.assert_allclose(values, SPECTRUM, atol=1e-8)
    assert bool(line) is (band != "{}.0")  # that is a plain number


def test_a_name_that_is_another_column_already_is_not_taken_for_it(tmp_path: Path) -> None:
    path = write(tmp_path / "r.csv", "name,Name,L,a,b\nx,y,50,0,0\n")
    with pytest.raises(InputError, match="the column 'Name' is not known here"):
        read_readings(path)


@pytest.mark.parametrize("corner", ["wavelength", "nm", "λ", "name", ""])
def test_a_spectrum_that_runs_down_the_page_is_turned_round(tmp_path: Path, said: Said, corner: str) -> None:
    rows = [
        f"{corner},tin,door",
        *(f"{nm},{a:.6f},{b:.6f}" for nm, a, b in zip(HOUSE_NM, SPECTRUM, SPECTRUM[::-1], strict=True)),
    ]
    path = write(tmp_path / "r.csv", "\n".join(rows))
    found, line = said(lambda: read_readings(path))
    assert list(found) == ["tin", "door"]  # type: ignore[call-overload]
    np.testing.assert_allclose(found["tin"].reflectance, SPECTRUM, atol=1e-6)  # type: ignore[index]
    assert "its rows are columns" in line
    write(path, path.read_text("utf-8").replace("550,", "550,x", 1))
    with pytest.raises(InputError, match=r"r\.csv, column 2, row '550'"):
        read_readings(path)


def test_lab_and_batches_that_lie_on_their_side_are_turned_round(tmp_path: Path) -> None:
    lab = write(tmp_path / "r.csv", "name;wing;door\nL;50,5;60\na;-3;1,5\nb;4;2\n")
    assert read_readings(lab)["wing"].lab == pytest.approx([50.5, -3, 4])
    batch = write(tmp_path / "b.csv", "tint,white,blue\ngrams,440,20\n")
    assert read_batch(batch) == (("white", 440.0), ("blue", 20.0))


def test_a_title_above_the_header_is_left_out(tmp_path: Path, said: Said) -> None:
    path = write(tmp_path / "b.csv", "Tin three,\n\nfor the wing,\ntint,grams\nwhite,440\n")
    batch, line = said(lambda: read_batch(path))
    assert batch == (("white", 440.0),)
    assert "the header is line 4" in line


def test_units_in_cells_are_brought_to_that_of_the_column(tmp_path: Path, said: Said) -> None:
    path = write(tmp_path / "b.csv", "tint,grams\nwhite,0.44 kg\nblue,20 g\n")
    batch, line = said(lambda: read_batch(path))
    assert batch == (("white", pytest.approx(440.0)), ("blue", pytest.approx(20.0)))
    assert "'0.44 kg' is read as 440" in line
    film = write(tmp_path / "f.csv", "layer,position,place,build_um\nprimer,1,left,2 mil\n")
    assert read_film(film)[0].builds_um == (pytest.approx(50.8),)
    with pytest.raises(InputError, match="'kg' is of a weight, and this is a film build"):
        read_film(write(film, "layer,position,place,build_um\nprimer,1,left,2 kg\n"))


def test_a_volume_is_weighed_by_the_densities_of_the_bank(tmp_path: Path, said: Said) -> None:
    path = write(tmp_path / "b.csv", "tint,grams\nwhite,2L\nblue,20\n")
    batch, line = said(lambda: read_batch(path, {"white": 1.52, "blue": 1.0}))
    assert batch == (("white", pytest.approx(3040.0)), ("blue", 20.0))
    assert "2L of white is read as 3040 g, at the bank's 1.52 kg/L" in line
    with pytest.raises(InputError, match="2L is a volume, and the density isn't known here; give grams"):
        read_batch(path)
    assert typed_amount("white=0,5 kg") == ("white", pytest.approx(500))


def test_percent_in_the_cells_of_a_bank_are_shares(tmp_path: Path, swatches: Path) -> None:
    tints = swatches / "bank/tints.csv"
    assert ",0.42," in tints.read_text("utf-8")
    write(tints, tints.read_text("utf-8").replace(",0.42,", ",42 %,"))
    assert read_bank(swatches / "bank").tint("white").volume_solids == pytest.approx(0.42)


def test_a_black_in_percent_is_asked_and_its_unit_can_be_said(tmp_path: Path) -> None:
    black = [0.6 + 0.003 * i for i in range(31)]
    path = write(tmp_path / "r.csv", spectra_csv([("black", black)]))
    with pytest.raises(InputError, match=r"from 0\.6 to 0\.69: a light grey in fractions, or a black in percent\? Add"):
        read_readings(path)
    for unit, whole in (("percent", 100), ("%", 100), ("fraction", 1)):
        write(path, spectra_csv([("black", black)]).replace("name,", "name,unit,").replace("black,", f"black,{unit},"))
        np.testing.assert_allclose(spectrum_of(path), np.array(black) / whole)
    write(path, "name," + ",".join(map(str, HOUSE_NM)) + "\nblack," + ",".join(f"{value:.3f} %" for value in black))
    np.testing.assert_allclose(spectrum_of(path), np.array(black) / 100, atol=1e-5)


def test_a_light_paint_is_not_asked_whether_it_is_percent(tmp_path: Path) -> None:
    """A white or a pale grey takes up the violet; a pale colour is not flat."""
    for paint in ([0.42, 0.62, *[0.8] * 29], [0.33 + 0.012 * i for i in range(31)]):
        np.testing.assert_allclose(spectrum_of(write(tmp_path / "r.csv", spectra_csv([("paint", paint)]))), paint)


def test_evidence_and_angles_are_understood_likewise(tmp_path: Path) -> None:
    evidence = write(tmp_path / "e.csv", "Name;Kind;L*;a*;b*;u95\ntin;leftover tin;45,5;-5;-15,2;0,8\n")
    (sample,) = read_evidence(evidence)
    assert (sample.kind, sample.u95) == ("leftover tin", 0.8)
    assert sample.reading.lab == pytest.approx([45.5, -5, -15.2])
    angles = write(tmp_path / "a.csv", "Name;Angle;L*;a*;b*\nflake;15;90,5;0;0\nflake;45;50;0;0\n")
    assert resolve_angles(str(angles), "D65", 10).angles == (15.0, 45.0)


@pytest.mark.parametrize(
    ("line", "value", "shown"),
    [
        ("binder_index = 1,5", 1.5, "'binder_index = 1,5' is read as 1.5"),
        ("build = 25 um  # dry", "25 um", "'build = 25 um  # dry' is read as \"25 um\""),
        ("solids = 42 %", "42 %", "'solids = 42 %' is read as \"42 %\""),
    ],
)
def test_a_decimal_comma_and_missing_quotes_in_toml_are_understood(
    said: Said, line: str, value: object, shown: str
) -> None:
    found, told = said(lambda: parse_toml(f'name = "x"\n{line}\n', "sheet.toml"))
    assert list(found.values()) == ["x", value]  # type: ignore[attr-defined]
    assert told == f"sheet.toml: line 2: {shown}"


@pytest.mark.parametrize("line", ["binder_index = 1,500", "name = Lowmere", 'name = "x', "a = 1,5,2"])
def test_toml_that_could_mean_anything_is_refused(line: str) -> None:
    with pytest.raises(InputError, match="is not valid TOML"):
        parse_toml(f"{line}\n", "sheet.toml")


# --- spreadsheets ----------------------------------------------------------------------------------------------------


def workbook(path: Path, sheets: dict[str, list[list[object]]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def test_a_spreadsheet_is_read(tmp_path: Path, said: Said) -> None:
    rows = [["Tint", "grams"], ["# a remark"], ["white", 440], [], ["blue", 28.3], ["black", "9,8"]]
    path = workbook(tmp_path / "batch.xlsx", {"notes": [["poured on Tuesday"]], "tin": rows})  # type: ignore[arg-type]
    batch, line = said(lambda: read_batch(path))
    assert batch == (("white", 440.0), ("blue", 28.3), ("black", 9.8))
    assert "the sheet 'tin' is read, not 'notes'" in line
    rows = [["name", *HOUSE_NM], ["tin", *SPECTRUM]]
    path = workbook(tmp_path / "r.xlsx", {"Sheet": rows})  # type: ignore[arg-type]
    np.testing.assert_allclose(spectrum_of(path), SPECTRUM)


def test_a_number_that_the_spreadsheet_took_for_a_date_is_told(tmp_path: Path) -> None:
    rows: list[list[object]] = [["tint", "grams"], ["white", datetime.date(2026, 5, 1)]]
    with pytest.raises(InputError, match=r"line 2, column 'grams'.*took it for a date: type it anew"):
        read_batch(workbook(tmp_path / "b.xlsx", {"tin": rows}))


def test_a_spreadsheet_that_cant_serve_is_told(tmp_path: Path) -> None:
    path = workbook(tmp_path / "b.xlsx", {"tin": []})
    with pytest.raises(InputError, match="is empty"):
        read_batch(path)
    good = workbook(path, {"tin": [["tint", "grams"], ["white", 1]]}).read_bytes()
    for at in range(100, len(good), 400):
        broken = bytearray(good)
        broken[at : at + 30] = b"\xff" * 30
        path.write_bytes(broken)
        with suppress(InputError):  # anything else fails the test
            read_batch(path)
    other = io.BytesIO()
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("content.xml", "<x/>")
    path.write_bytes(other.getvalue())
    with pytest.raises(InputError, match="is not a spreadsheet that can be read"):
        read_batch(path)


# --- what is typed ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["52,1;-3,0;4,2", "52.1;-3;4.2", "(52.1, -3, 4.2)", "L*=52.1 a*=-3 b*=4.2", "L 52,1, a -3,0, b 4,2", "52.1,−3,4.2"],
)
def test_a_typed_colour_is_understood_and_said(said: Said, text: str) -> None:
    reading, line = said(lambda: typed_lab(text))
    assert reading.lab == pytest.approx([52.1, -3.0, 4.2])  # type: ignore[attr-defined]
    assert "read as L* 52.1, a* -3, b* 4.2" in line


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("50 20 30", "type it with commas and no blanks, as 50,20,30"),
        ("52,1 -3,0 4,2", "type it with commas and no blanks, as 52.1,-3,4.2"),
        ("52,1,-3,0,4,2", "write L,a,b with decimal points, as 52.1,-3,4.2"),
        ("50", "a colour is three numbers, with commas and no blanks"),
        ("#8090a0", "is a screen's colour, which isn't measured"),
    ],
)
def test_a_colour_typed_wrongly_is_told_how_to_be_typed(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        typed_lab(text)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("24.11.2025", "2025-11-24"),
        ("3.4.2025", "2025-04-03"),
        ("24.11.25", "2025-11-24"),
        ("24/11/2025", "2025-11-24"),
        ("11/24/2025", "2025-11-24"),
        ("2025/11/24", "2025-11-24"),
        ("24 Nov 2025", "2025-11-24"),
        ("24. November 2025", "2025-11-24"),
        ("Nov 24, 2025", "2025-11-24"),
        ("2025-4-3", "2025-04-03"),
    ],
)
def test_a_day_is_understood_and_said(said: Said, text: str, day: str) -> None:
    assert said(lambda: day_of("`since`", text)) == (day, f"`since`: {text!r} is read as {day}")


def test_a_day_that_could_be_two_is_asked() -> None:
    with pytest.raises(InputError, match="could be two days; write 2025-04-03 or 2025-03-04"):
        day_of("`since`", "03/04/2025")
    with pytest.raises(InputError, match="is not a date"):
        day_of("`since`", "31.02.2025")


@pytest.mark.parametrize(
    ("text", "name"), [("semigloss", "semi-gloss"), ("Semi Gloss", "semi-gloss"), ("matte", "flat")]
)
def test_a_sheen_is_known_by_other_writings(said: Said, text: str, name: str) -> None:
    sheen, line = said(lambda: sheen_called(text))
    assert sheen.name == name  # type: ignore[attr-defined]
    assert line == f"`sheen`: {text!r} is read as {name}"


def test_a_tint_with_other_capitals_and_blanks_is_the_one_that_is_meant(said: Said, tmp_path: Path) -> None:
    path = write(tmp_path / "batch.csv", "tint,grams\nyellow  oxide,80\nWEISS,181\nblack,1\n")
    read, lines = said(lambda: read_batch(path, ["Weiß", "yellow oxide", "red oxide", "black"]))
    assert read == (("yellow oxide", 80.0), ("Weiß", 181.0), ("black", 1.0))
    assert "line 2, column 'tint': 'yellow  oxide' is read as 'yellow oxide'" in lines
    assert "line 3, column 'tint': 'WEISS' is read as 'Weiß'" in lines
    with pytest.raises(InputError, match=r"'WEISS'; did you mean"):  # it could be two
        read_batch(path, ["Weiß", "weiss", "yellow oxide"])


def test_of_many_tints_it_is_said_how_many_are_not_named(tmp_path: Path) -> None:
    path = write(tmp_path / "batch.csv", "tint,grams\nzz,80\n")
    with pytest.raises(InputError, match=r"the bank has tint 0, .*tint 7 and 1 more$"):
        read_batch(path, [f"tint {i}" for i in range(9)])


def test_nothing_is_gathered_where_nobody_listens() -> None:
    understood("here", "something")
    assert what_was_understood() == ()
    with listening():
        understood("a file", "'0,8' is read as 0.8", "comma")
        understood("a file", "'0,9' is read as 0.9", "comma")
        understood("a file", "tabs")
        assert what_was_understood() == ("a file: '0,8' is read as 0.8; tabs",)
        assert what_was_understood() == ()


def test_what_a_cell_of_another_unit_came_to_is_said_for_each_unit(tmp_path: Path, said: Said) -> None:
    path = write(tmp_path / "b.csv", "tint;grams\nwhite;440 g\nblue;0,9 kg\nblack;0,1 kg\n")
    batch, line = said(lambda: read_batch(path))
    assert dict(batch)["blue"] == pytest.approx(900.0)
    assert "'440 g' is read as 440" in line
    assert "'0,9 kg' is read as 900" in line
    assert "read as 0.9" not in line
