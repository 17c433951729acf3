"""What no table has is refused at once, however large it is."""

from __future__ import annotations

import io
import os
import shutil
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.readings import read_bank, read_readings
from finishmatch.toml_reader import parse_toml
from tests.conftest import Ran
from tests.helpers.door_files import write

Cli = Callable[..., Ran]


@pytest.mark.parametrize("columns", [4_900, 30_000, 1_000_000])
@pytest.mark.parametrize("name", [lambda i: f"c{i}", lambda _: "c"], ids=["other", "same"])
def test_a_table_of_very_many_columns_is_refused_in_seconds(
    tmp_path: Path, columns: int, name: Callable[[int], str]
) -> None:
    header = "name," + ",".join(name(i) for i in range(columns))
    path = write(tmp_path / "wide.csv", f"{header}\nx{',1' * columns}\n")
    begun = time.monotonic()
    with pytest.raises(InputError, match="line 1"):
        read_readings(path)
    assert time.monotonic() - begun < 10


def test_a_table_of_too_many_columns_says_so(tmp_path: Path) -> None:
    path = write(tmp_path / "wide.csv", "name" + ",x" * 10_000 + "\n")
    with pytest.raises(InputError, match="line 1: has more than 5000 cells"):
        read_readings(path)


CGATS = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
TOO_MUCH = {
    "bytes.csv": ("name,L,a,b\n" + "x" * 20_000_000, "larger than 20 MB"),
    "lines.csv": ("name,L,a,b\n" + "x\n" * 200_000, "more than 100000 lines"),
    "cells.csv": ("name,L,a,b\n" + ("x" + ",1" * 4000 + "\n") * 200, "more than 700000 cells"),
    "samples.csv": ("name,L,a,b\n" + "x,1,1,1\n" * 20_001, "more than 20000 samples"),
    "quotes.txt": (CGATS + "BEGIN_DATA\n" + '"' * 15_000_000, "more than 200000 characters in a line"),
    "keywords.txt": (CGATS + "".join(f"K{i} 1\n" for i in range(2000)), "more than 1000 keywords"),
    "fields.txt": ("CGATS.17\nBEGIN_DATA_FORMAT\n" + "A A A A A A\n" * 2000, "more than 10000 fields"),
    "tables.txt": (CGATS + "BEGIN_DATA\nEND_DATA\n" * 2000, "more than 1000 tables"),
    "values.txt": (CGATS + "BEGIN_DATA\n" + "a 1 1 1\n" * 99_000, "more than 20000 samples|the file ends before"),
    "tags.xml": ("<CxF>" + "<a/>" * 500_000 + "</CxF>", "more than 400000 tags"),
    "deep.xml": ("<CxF>" + "<a>" * 150_000, "damaged XML"),
    "bytes.xml": ("<CxF>" + " " * 8_000_000, "larger than 8 MB"),
}


@pytest.mark.parametrize("name", TOO_MUCH)
def test_what_is_too_much_to_read_is_refused_in_seconds(tmp_path: Path, name: str) -> None:
    text, said = TOO_MUCH[name]
    path = write(tmp_path / name, text)
    begun = time.monotonic()
    with pytest.raises(InputError, match=said):
        read_readings(path)
    assert time.monotonic() - begun < 10


def test_quotes_in_a_row_take_no_memory_each(tmp_path: Path) -> None:
    path = write(tmp_path / "quotes.txt", CGATS + "BEGIN_DATA\n" + '"' * 150_000 + " 1 1 1\nEND_DATA\n")
    assert list(read_readings(path)) == ['"' * 74_999]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a" + ".a" * 20_000 + " = 1\n", "line 1: has a key of more than 32 parts"),
        ("[a" + " . 'b'" * 40 + "]\n", "more than 32 parts"),
        ("x = 1\ny = { a" + ".a" * 40 + " = 1 }\n", "line 2: has a key"),
        ("a = [" + "1," * 300_000 + "]\n", "larger than 500 kB"),
        ("a = " + "[" * 100_000, "recursion"),
    ],
    ids=["dots", "quoted", "inline", "bytes", "brackets"],
)
def test_a_toml_file_is_bounded_in_bytes_and_depth(text: str, said: str) -> None:
    begun = time.monotonic()
    with pytest.raises(InputError, match=said):
        parse_toml(text, "plan.toml")
    assert time.monotonic() - begun < 10


def test_a_sentence_with_many_dots_is_no_deep_key() -> None:
    assert parse_toml('note = "' + "a. b. " * 100 + '"\n', "plan.toml")["note"].startswith("a. b.")


def sheet(body: str, texts: str = "") -> bytes:
    """A spreadsheet written by hand: the rows of its one sheet, and the texts that its cells share."""
    document = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    main = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types"><Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
        f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}.sharedStrings+xml"/>'
        f'<Override PartName="/xl/s.xml" ContentType="{kind}.worksheet+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
        f'Type="{document}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook {main} xmlns:r="{document}"><sheets><sheet name="a" sheetId="1" r:id="r1"/>'
        "</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
        f'Type="{document}/worksheet" Target="s.xml"/></Relationships>',
        "xl/s.xml": f"<worksheet {main}><sheetData>{body}</sheetData></worksheet>",
        "xl/sharedStrings.xml": f"<sst {main}>{texts}</sst>",
    }
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return packed.getvalue()


@pytest.mark.parametrize(
    ("body", "texts", "said"),
    [
        ('<row r="1"><c r="A1"><v>1</v></c></row><row r="99999999999"><c><v>1</v></c></row>', "", "100000 rows"),
        ("".join(f'<row r="{i}"><c r="XFD{i}"><v>1</v></c></row>' for i in range(1, 20)), "", "200000 cells"),
        ("", "<si/>" * 100_001, "100000 texts"),
        ("<row/>" * 1_700_000, "", "too large when unpacked"),
    ],
    ids=["rows", "cells", "texts", "bytes"],
)
def test_a_spreadsheet_is_bounded_in_rows_cells_and_texts(tmp_path: Path, body: str, texts: str, said: str) -> None:
    path = write(tmp_path / "a.xlsx", sheet(body, texts))
    begun = time.monotonic()
    with pytest.raises(InputError, match=said):
        read_readings(path)
    assert time.monotonic() - begun < 10


def test_a_link_out_of_the_folder_of_a_bank_is_refused(swatches: Path, tmp_path: Path) -> None:
    bank = tmp_path / "mine"
    shutil.copytree(swatches / "bank", bank)
    (bank / "panels.csv").rename(tmp_path / "panels.csv")
    (bank / "panels.csv").symlink_to(tmp_path / "panels.csv")
    with pytest.raises(InputError, match=r"panels\.csv: is a link out of the bank's folder"):
        read_bank(bank)
    (bank / "panels.csv").unlink()
    (tmp_path / "panels.csv").rename(bank / "weighed.csv")
    (bank / "panels.csv").symlink_to("weighed.csv")
    (tmp_path / "link").symlink_to(bank)
    assert read_bank(tmp_path / "link").panels  # within the folder a link does no harm, nor does one to the folder


def test_a_device_is_no_file_to_read(cli: Cli) -> None:
    for line in (("compare", "/dev/zero", "50,1,1"), ("photo", "read", "/dev/zero"), ("plan", "page", "/dev/zero")):
        assert "/dev/zero: is a device, not a file" in cli(*line).error


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _nowhere(path: Path) -> None:
    path.symlink_to("nowhere")


@pytest.mark.parametrize(
    ("put", "said"),
    [
        (_pipe, "is a pipe, which may never end"),
        (Path.mkdir, "is a folder"),
        (_nowhere, "is a link that leads nowhere"),
    ],
)
def test_what_is_no_file_is_not_passed_over_where_the_shop_keeps_its_own(
    cli: Cli, home: Path, tmp_path: Path, put: Callable[[Path], None], said: str
) -> None:
    assert cli("job", "new", "roof").status == 0
    (home / "shop").mkdir()
    for name, line in (
        ("evidence-kinds.toml", ("evidence", "kinds")),
        ("removal.csv", ("defect", "calibrate")),
        ("shop/panels.toml", ("plan", "quantity", "--panel", "roof")),
    ):
        put(home / name)
        assert f"{name}: {said}" in cli(*line).error
        if (name, said) != ("shop/panels.toml", "is a folder"):  # a folder there is gone through
            assert f"{name}: {said}" in cli("backup", tmp_path / "record.zip").error
        (home / name).rename(tmp_path / f"away {name.replace('/', ' ')}")
    assert cli("backup", tmp_path / "record.zip").status == 0


def test_a_folder_of_the_shops_own_is_a_folder(cli: Cli, home: Path, tmp_path: Path) -> None:
    assert cli("job", "new", "roof").status == 0
    (home / "shop").write_text("")
    law = ("plan", "law", "--kind", "clear", "--rules", "district", "--voc", "400g/l")
    for line in (law, ("backup", tmp_path / "record.zip")):
        assert "shop: is not a folder" in cli(*line).error
    (home / "shop").unlink()
    (home / "shop").mkdir()
    (home / "shop" / "rules").write_text("")
    assert "rules: is not a folder" in cli(*law).error


def test_a_link_that_leads_nowhere_is_no_file_that_a_bank_lacks(swatches: Path) -> None:
    bank = swatches / "bank"
    (bank / "seen.csv").symlink_to("nowhere.csv")
    with pytest.raises(InputError, match=r"seen\.csv: is a link that leads nowhere"):
        read_bank(bank)


def test_nothing_waits_for_a_pipe_in_the_place_of_what_is_kept(cli: Cli, home: Path, tmp_path: Path) -> None:
    assert cli("job", "new", "roof").status == 0
    os.mkfifo(home / "in-use.txt")
    assert "can't be read; put a job in use again" in cli("next").error
    assert "is a pipe that nobody reads" in cli("job", "use", "roof").error
    (home / "in-use.txt").unlink()
    (home / "cards").mkdir()
    os.mkfifo(home / "cards" / "card-0001.json")
    bank = tmp_path / "bank"
    bank.mkdir()
    os.mkfifo(bank / "bank.toml")
    assert "is a pipe" in cli("bank", "fit", bank).error


def test_a_pipe_is_refused_and_not_waited_for(cli: Cli, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for line in (("compare", pipe, "50,1,1"), ("photo", "read", pipe), ("plan", "page", pipe)):
        assert "is a pipe, which may never end" in cli(*line).error


def test_a_bank_is_bounded_in_tints_panels_and_readings(swatches: Path) -> None:
    bank = swatches / "bank"
    tints, panels, readings = (bank / name for name in ("tints.csv", "panels.csv", "readings.csv"))
    for file, line, count, said in (
        (tints, "t{i},tint,,1.2,0.4,20,100", 120, "136 tints, and at most 120 are read"),
        (panels, "p{i},white,90\np{i},black,10", 1200, "parts beside the largest ones, and at most 1200"),
        (readings, "white masstone,,," + ",".join(["0.8"] * 31), 100, r"1\d\d readings of panel 'white masstone'"),
    ):
        text = file.read_text()
        file.write_text(text + "\n".join(line.format(i=i) for i in range(count)) + "\n")
        with pytest.raises(InputError, match=said):
            read_bank(bank)
        file.write_text(text)
