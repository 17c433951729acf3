"""Rows are added to a table, changed and taken out; all else in its file stays as somebody wrote it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.readings.table_edit import EditedTable
from finishmatch.readings.table_file import read_table

COLUMNS = ("panel", "tint", "grams")
BY_HAND = '# drawn on Monday\r\npanel,remark,tint,grams\r\n\r\nwhite,"dry, matt",white,100\r\n# the blue is old\r\n'
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12).filter(
    lambda text: not text.startswith(("#", "'"))
)


def _table(tmp_path: Path, text: str) -> EditedTable:
    path = tmp_path / "panels.csv"
    path.write_bytes(text.encode())
    return EditedTable(path, COLUMNS, ("lot",))


def test_a_row_is_put_below_the_last_and_all_else_stays(tmp_path: Path) -> None:
    table = _table(tmp_path, BY_HAND)
    table.add({"panel": "blue 10/90", "tint": "blue", "grams": "10"})
    assert table.text == BY_HAND.replace("# the blue", "blue 10/90,,blue,10\r\n# the blue")


def test_rows_are_changed_and_taken_out_by_what_they_hold(tmp_path: Path) -> None:
    table = _table(tmp_path, BY_HAND)
    table.change(lambda row: row["panel"] == "white", {"grams": "99.5"})
    assert table.text == BY_HAND.replace("white,100", "white,99.5")
    table.drop(lambda row: row["panel"] == "white")
    assert table.text == BY_HAND.replace('white,"dry, matt",white,100\r\n', "")
    assert table.rows == ()


def test_a_column_is_added_where_a_row_needs_it_alone(tmp_path: Path) -> None:
    table = _table(tmp_path, "panel,tint,grams\nwhite,white,100\n")
    table.add({"panel": "a", "tint": "white", "grams": "1", "lot": ""})
    assert table.text == "panel,tint,grams\nwhite,white,100\na,white,1\n"
    table.add({"panel": "b", "tint": "white", "grams": "1", "lot": "7"})
    assert table.text == "panel,tint,grams,lot\nwhite,white,100,\na,white,1,\nb,white,1,7\n"


def test_a_file_is_begun_where_there_is_none(tmp_path: Path) -> None:
    table = EditedTable(tmp_path / "new.csv", COLUMNS, remark="what was weighed")
    table.add({"panel": "=1+1", "tint": "white", "grams": "1"})
    assert table.text == "# what was weighed\npanel,tint,grams\n'=1+1,white,1\n"
    assert table.rows[0]["panel"] == "=1+1"
    assert not (tmp_path / "new.csv").exists()


@pytest.mark.parametrize(
    "text",
    [
        "panel;tint;grams\nwhite;white;100,5\n",
        "Panel,Tint,Gramm\nwhite,white,100\n",
        "a title of two words\npanel,tint,grams\nwhite,white,100\n",
        "panel,tint,grams\nwhite,white\n",
        'panel,tint,grams\n"white,white,100\n',
        "panel,tint,grams,grams\nwhite,white,100,1\n",
        "",
        "# only a remark\n",
    ],
)
def test_what_is_written_otherwise_is_refused_and_stays(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match=r"panels\.csv.*added.*by hand"):
        _table(tmp_path, text)
    assert (tmp_path / "panels.csv").read_bytes() == text.encode()


def test_a_row_that_would_be_a_remark_is_refused(tmp_path: Path) -> None:
    table = _table(tmp_path, "panel,tint,grams\nwhite,white,100\n")
    for row in ({"panel": "#1", "tint": "white", "grams": "5"}, {}):
        with pytest.raises(InputError, match=r"panels\.csv.*would be a remark"):
            table.add(row)
        with pytest.raises(InputError, match=r"panels\.csv.*would be a remark"):
            table.change(lambda cells: True, {"panel": "", "tint": "", "grams": "", **row})
    assert table.text == "panel,tint,grams\nwhite,white,100\n"


def test_a_spreadsheet_or_another_writing_is_refused(tmp_path: Path) -> None:
    for data in (b"PK\x03\x04\x00\xff", "panel,tint,grams\nweiß,white,1\n".encode("latin-1"), "panel".encode("utf-16")):
        (tmp_path / "panels.csv").write_bytes(data)
        with pytest.raises(InputError, match="by hand"):
            EditedTable(tmp_path / "panels.csv", COLUMNS)


@given(st.lists(NAMES, min_size=1, max_size=6, unique=True))
def test_what_is_added_is_what_the_reader_of_tables_finds(
    tmp_path_factory: pytest.TempPathFactory, names: list[str]
) -> None:
    path = tmp_path_factory.mktemp("t") / "panels.csv"
    for name in names:
        table = EditedTable(path, COLUMNS)
        table.add({"panel": name, "tint": "white, matt", "grams": "1.5"})
        path.write_text(table.text, "utf-8", newline="")
    rows = read_table(path, required=COLUMNS).rows
    assert [row.cells["panel"] for row in rows] == names
    assert {row.cells["tint"] for row in rows} == {"white, matt"}
