"""`bank plan`: what to draw of the tints there are, in a folder of tints.csv alone or with panels."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import ROOT, Ran

SWATCHES = ROOT / "swatches"
Cli = Callable[..., Ran]


@pytest.fixture
def begun(tmp_path: Path) -> Path:
    """A bank folder of a head and six tins."""
    folder = tmp_path / "begun"
    folder.mkdir()
    shutil.copy(SWATCHES / "bank/bank.toml", folder)
    lines = (SWATCHES / "bank/tints.csv").read_text("utf-8").splitlines()
    (folder / "tints.csv").write_text("\n".join(lines[:8]) + "\n", encoding="utf-8")
    return folder


def test_tints_alone_are_enough_to_begin_with(cli: Cli, begun: Path) -> None:
    ran = cli("bank", "plan", str(begun), "--panels", "3")
    assert ran.status == 0, ran.out
    assert "the most telling first, to be read by a phone beside a chart" in ran.out
    assert "are taken for what their Colour Index names usually are" in ran.out
    assert len([line for line in ran.out.splitlines() if " g " in line]) == 3
    assert sorted(path.name for path in begun.iterdir()) == ["bank.toml", "tints.csv"]


def test_the_json_says_what_to_weigh_and_what_is_gained(cli: Cli, begun: Path) -> None:
    found = json.loads(cli("bank", "plan", str(begun), "--panels", "4", "--json").out)
    doubts = [found["doubt_de00"], *(panel["doubt_de00"] for panel in found["panels"])]
    assert doubts == sorted(doubts, reverse=True)
    assert len(found["panels"]) == 4
    assert found["fitted"] == []
    assert found["kinds"]["red oxide"] == "red oxide"
    assert found["by_instrument"] is False
    assert found["worth_drawing"] is True


def test_panels_that_are_weighed_but_not_read_yet_are_left_out(cli: Cli, begun: Path) -> None:
    before = cli("bank", "plan", str(begun), "--panels", "2").out
    (begun / "panels.csv").write_text("panel,tint,grams\nochre 10/90,ochre,10\nochre 10/90,white,90\n", "utf-8")
    assert cli("bank", "plan", str(begun), "--panels", "2").out == before
    seen = "panel,L,a,b\nochre 10/90,76,10,33\n"
    (begun / "seen.csv").write_text(seen, "utf-8")
    after = json.loads(cli("bank", "plan", str(begun), "--panels", "2", "--json").out)
    assert after["fitted"] == ["white", "ochre"]
    assert after["doubt_de00"] < json.loads(cli("bank", "plan", str(begun), "--json").out)["doubt_de00"] * 1.001


def test_of_a_bank_that_tells_all_no_panel_is_asked_for(cli: Cli) -> None:
    ran = cli("bank", "plan", SWATCHES / "bank", "--panels", "3")
    assert "no further panel tells anything that would be seen" in ran.out
    assert " g " not in ran.out
    assert json.loads(cli("bank", "plan", SWATCHES / "bank", "--panels", "3", "--json").out)["worth_drawing"] is False


@pytest.mark.parametrize("panels", ["0", "61", "-3"])
def test_a_number_of_panels_nobody_draws_is_refused(cli: Cli, begun: Path, panels: str) -> None:
    ran = cli("bank", "plan", str(begun), "--panels", panels)
    assert ran.status == 2
    assert "--panels" in ran.err
    assert "1 to 60" in ran.err


def test_a_folder_without_tints_is_refused(cli: Cli, tmp_path: Path) -> None:
    shutil.copy(SWATCHES / "bank/bank.toml", tmp_path)
    ran = cli("bank", "plan", str(tmp_path))
    assert ran.status == 2
    assert "tints.csv" in ran.err


def test_a_bank_that_is_only_begun_is_told_what_comes_next(cli: Cli, begun: Path) -> None:
    unfitted = cli("bank", "fit", begun)
    assert unfitted.status == 2
    assert f"draw the panels that finishmatch bank plan {begun} names" in unfitted.err
    (begun / "panels.csv").write_text("panel,tint,grams\nwhite,white,100\n", encoding="utf-8")
    assert f"photograph them: finishmatch bank photo {begun} PHOTO" in cli("bank", "show", begun).err


def test_what_a_new_bank_lacks_is_said_with_what_to_write(cli: Cli, begun: Path) -> None:
    head, tins = begun / "bank.toml", begun / "tints.csv"
    kept, lines = head.read_text("utf-8"), _without_notes(tins)
    head.unlink()
    error = cli("bank", "plan", begun).error
    assert 'of a new bank write it, a line each: name = "…"; geometry = "45/0" where only a phone sees' in error
    head.write_text('name = "mine"\n', "utf-8")
    assert "there is no 'geometry'; add geometry = \"45/0\" where only a phone sees" in cli("bank", "plan", begun).error
    head.write_text(kept, "utf-8")
    for column, mend in (("price_per_kg", "write 0 where it doesn't matter"), ("stock_g", "weigh the tin")):
        at = lines[0].split(",").index(column)
        cells = [cell if i != at else "" for i, cell in enumerate(lines[2].split(","))]
        tins.write_text("\n".join([lines[0], lines[1], ",".join(cells), *lines[3:]]) + "\n", "utf-8")
        error = cli("bank", "plan", begun).error
        assert f"line 3, column '{column}': is empty; " in error
        assert mend in error


def test_a_role_in_capitals_is_understood(cli: Cli, begun: Path) -> None:
    tins = begun / "tints.csv"
    tins.write_text(tins.read_text("utf-8").replace("white,white", "white,White"), "utf-8")
    ran = cli("bank", "plan", begun, "--panels", 1)
    assert ran.status == 0, ran.err
    assert "the role 'White' is read as white" in ran.err


def test_what_comes_next_is_said_and_no_name_is_said_to_be_taken_where_none_is_known(cli: Cli, begun: Path) -> None:
    said = " ".join(cli("bank", "plan", begun, "--panels", 3).out.split())
    assert f"write what was weighed into {begun}/panels.csv, a line for each tint: panel,tint,grams" in said
    assert "finishmatch photo card --panels 3 --out sheet.pdf" in said
    assert f"finishmatch bank photo {begun} PHOTO --panel 1=" in said
    tins = begun / "tints.csv"
    head, *rows = _without_notes(tins)
    at = head.split(",").index("colour_index")
    bare = [",".join("" if i == at else cell for i, cell in enumerate(row.split(","))) for row in rows]
    tins.write_text("\n".join([head, *bare]) + "\n", "utf-8")
    said = " ".join(cli("bank", "plan", begun, "--panels", 2).out.split())
    assert "are taken for what their Colour Index names usually are" not in said
    assert "write their Colour Index names, such as PB15:3, into tints.csv where the tins tell them" in said


def _without_notes(table: Path) -> list[str]:
    return [line for line in table.read_text("utf-8").splitlines() if not line.startswith("#")]
