"""Names are text: no name, wherever it comes from, steers the terminal or turns its direction."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.cli.page_width import folded_to_terminal
from finishmatch.errors import InputError
from finishmatch.ledger import NoteEntry, PlanEntry, book, open_ledger
from finishmatch.photo.find.regions import typed_region
from finishmatch.readings import read_readings
from finishmatch.readings.guarded_cells import guarded, unguarded
from finishmatch.readings.table_file import read_table
from finishmatch.readings.target_file import TargetFacts, target_text
from finishmatch.signs import shown
from finishmatch.toml_reader import parse_toml
from tests.conftest import Ran
from tests.helpers.door_files import write

Cli = Callable[..., Ran]
HOSTILE = ("\x1b[31mred", "\x1b]0;title\x07", "\u202eright", "\u2066x", "\x9b31m", "a\u2028b", "\U000e0041")
HALF = "\ud800"  # of a pair


class Terminal(io.StringIO):
    """A stream that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


def _toml(text: str) -> str:
    return '"' + "".join(f"\\U{ord(sign):08x}" for sign in text) + '"'


@pytest.mark.parametrize("sign", HOSTILE)
def test_no_sign_that_steers_enters_by_an_argument_a_table_or_toml(cli: Cli, tmp_path: Path, sign: str) -> None:
    told = "has a character that can't be seen (U+"
    for wrong in (sign, HALF):
        assert told in cli("job", "new", f"roof{wrong}").error
    with pytest.raises(InputError, match=r"r\.csv, line 3: has a character that can't be seen"):
        read_readings(write(tmp_path / "r.csv", f"name,L,a,b\nx,50,0,0\ny{sign},50,0,0\n"))
    with pytest.raises(InputError, match=r"plan\.toml, step name: has a character that can't be seen"):
        parse_toml(f"[step]\nname = {_toml(sign)}\n", "plan.toml")


@pytest.mark.parametrize("name", ["left\nwing", "left\twing", "left\rwing"])
def test_a_name_is_one_line(cli: Cli, name: str) -> None:
    cli("job", "new", "roof")
    assert "left wing, layer 1" in cli("job", "film", "J1", "--panel", name, "--layer", "a", "--build", 9).out
    with pytest.raises(InputError, match="has a tab or a line end in it"):
        typed_region(f"{name}=1,1,50,50")
    assert cli("job", "note", "J1", "two\nlines").status == 0


@pytest.mark.parametrize("sign", HOSTILE)
def test_what_stands_in_an_old_ledger_is_shown_as_signs(cli: Cli, monkeypatch: pytest.MonkeyPatch, sign: str) -> None:
    with monkeypatch.context() as before:  # when less was refused
        before.setattr(book, "new_line", lambda _, text: text)
        with open_ledger() as ledger:
            ledger.new_job("roof", vehicle=f"six{sign}")
    ran = cli("job", "show", "J1")
    assert ran.status == 0
    assert shown(ran.out + ran.err) == ran.out + ran.err
    assert cli("job", "show", "J1", "--json").json["job"]["vehicle"] == f"six{sign}"


def test_a_terminal_gets_the_programs_own_styles_and_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr("sys.stdout", terminal)
    with folded_to_terminal():
        print("\x1b[1mroof\x1b[0m \x1b[48;2;1;2;3m    \x1b[0m \x1b[31m\x1b[2Jgone\r\u202e")
    assert terminal.getvalue() == (
        "\x1b[1mroof\x1b[0m \x1b[48;2;1;2;3m    \x1b[0m \\u001b[31m\\u001b[2Jgone\\u000d\\u202e\n"
    )


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", "'=x", "''-x", " =x", "plain", "'quoted'"])
def test_a_cell_that_would_be_computed_is_guarded_and_read_back(tmp_path: Path, name: str) -> None:
    assert not guarded(name).lstrip().startswith(("=", "+", "-", "@"))
    assert unguarded(guarded(name)) == name
    row = target_text(name, [50, 0, 0], None, TargetFacts(None, None, None), ("D65", 10), "")
    (read,) = read_readings(write(tmp_path / "t.csv", row))
    assert read == name.strip()


def test_a_file_that_is_no_table_is_not_quoted(tmp_path: Path) -> None:
    secret = write(tmp_path / "secret", "root:x:0:0:root:/root:/bin/sh\n")
    with pytest.raises(InputError, match="there is no column 'name'; is it the file that is meant") as told:
        read_table(secret, required=("name",))
    assert "root:" not in str(told.value).replace(str(secret), "")


def test_a_note_may_have_lines_and_a_name_not() -> None:
    NoteEntry("two\nlines").check_new()
    with pytest.raises(InputError, match="has a tab or a line end in it"):
        PlanEntry("law", "yes", "two\nlines", {}).check_new()
    with pytest.raises(InputError, match="can't be seen"):
        NoteEntry("\u202e").check_new()
