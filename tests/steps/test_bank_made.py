"""A bank is begun, its tins and panels are put in and taken out; what can't be is refused and nothing is written."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.readings import read_bank
from finishmatch.steps.bank_made.as_it_stands import BankInHand, bank_as_it_stands, banks_in_hand
from finishmatch.steps.bank_made.begin import begin_bank
from finishmatch.steps.bank_made.panels import take_panel_out, weigh_panel
from finishmatch.steps.bank_made.tins import Tin, put_tin, take_tin_out
from finishmatch.steps.known_banks import known_banks
from finishmatch.steps.photo.bank_photo import PanelsRequest, photograph_bank
from tests.conftest import ROOT, Ran

WHITE, BLUE = Tin("white", "white", "PW6", stock_g=1000), Tin("blue", colour_index="PB15:1", stock_g=500)


def _again(bank: BankInHand) -> BankInHand:
    return bank_as_it_stands(bank.folder)


def _files(bank: BankInHand) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in bank.folder.iterdir()}


@pytest.fixture
def bank(home: Path) -> BankInHand:
    """A bank with a white and a blue."""
    found = begin_bank("Shed tins")
    for tin in (WHITE, BLUE):
        put_tin(found, tin)
    return _again(found)


@pytest.fixture
def read(bank: BankInHand) -> BankInHand:
    """That bank, with three panels that a photograph read."""
    parts = {"white masstone": (("white", 100.0),), "blue 20/80": (("white", 80.0), ("blue", 20.0))}
    parts["blue 5/95"] = (("white", 95.0), ("blue", 5.0))
    for name, weighed in parts.items():
        weigh_panel(_again(bank), weighed, name)
    windows = ["1=white masstone", "3=blue 20/80", "4=blue 5/95"]
    photograph_bank(bank.folder, [ROOT / "swatches/panels.jpg"], PanelsRequest(panel=windows))
    return _again(bank)


def test_a_bank_that_was_begun_lies_beside_the_ledger_and_can_be_mixed_from_once_it_is_read(
    read: BankInHand, home: Path
) -> None:
    assert read.folder == home / "banks/shed-tins"
    assert read.own
    assert not read.bundled
    assert read.white == "white"
    assert [(panel.name, panel.read) for panel in read.panels] == [
        ("white masstone", True),
        ("blue 20/80", True),
        ("blue 5/95", True),
    ]
    assert read.panels[1].seen[0].picture == "panels.jpg"
    assert 2 < read.panels[1].seen[0].u95 < 8
    assert [one.name for one in known_banks()] == ["Shed tins", "Lowmere bench tints"]
    assert [one.name for one in banks_in_hand()] == ["Shed tins", "Lowmere bench tints"]
    assert read_bank(read.folder).geometry == "45/0"


def test_one_that_is_only_begun_is_in_hand_and_not_to_be_mixed_from(bank: BankInHand) -> None:
    assert [one.name for one in banks_in_hand()] == ["Shed tins", "Lowmere bench tints"]
    assert [one.name for one in known_banks()] == ["Lowmere bench tints"]
    assert len({one.ref for one in banks_in_hand()}) == 2


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "is empty"),
        ("   ", "is empty"),
        ("SHED  TINS", "'Shed tins' is a bank already"),
        ("lowmere BENCH tints", "'Lowmere bench tints' is a bank already"),
        ("x" * 61, "61 letters"),
        ("a\u202eb", "can't be seen"),
        ("a\nb", "tab or a line end"),
    ],
)
def test_names_that_cannot_be_are_refused(bank: BankInHand, name: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        begin_bank(name)


def test_names_of_other_letters_get_folders_of_their_own(home: Path) -> None:
    for name in ("Blau", "bláu", "蓝", "../..", 'say "x" \\ y'):
        assert begin_bank(name).name == name
    folders = {path.name for path in (home / "banks").iterdir()}
    assert folders == {"blau", "blau-2", "bank", "bank-2", "say-x-y"}


@pytest.mark.parametrize(
    ("tin", "said"),
    [
        (Tin("", stock_g=1), "`tint`: is empty"),
        (Tin("#5 red", stock_g=1), "`tint`: '#5 red' begins with #, as a remark"),
        (Tin("BLUE", stock_g=1), "`tint`: 'blue' is in the bank already"),
        (Tin("chalk", "white", stock_g=1), "`role`: there are two whites"),
        (Tin("x", "ink", stock_g=1), "`role`: 'ink' is not a role"),
        (Tin("x", stock_g=None), "`stock_g`: is empty"),
        (Tin("x", stock_g=-1), "`stock_g`: -1 is too small"),
        (Tin("x", stock_g=1, density_kg_l=1520), "`density_kg_l`: 1520 kg/L is no paint"),
        (Tin("x", stock_g=1, density_kg_l=20), "`density_kg_l`: 20 is too large"),
        (Tin("x", stock_g=1, solids_percent=130), "`solids_percent`: 130 % is no paint"),
        (Tin("x", stock_g=1, price_per_kg=-2), "`price_per_kg`: -2 is too small"),
        (Tin("x", stock_g=1, lot="a\tb"), "`lot`: has a tab"),
        (Tin("x", stock_g=1, hazard="a\u200bb"), "`hazard`: has a character that can't be seen"),
    ],
)
def test_what_is_no_tin_is_refused_by_its_field_and_nothing_is_written(bank: BankInHand, tin: Tin, said: str) -> None:
    before = _files(bank)
    with pytest.raises(InputError) as caught:
        put_tin(bank, tin)
    assert str(caught.value).startswith(said)
    assert _files(bank) == before


def test_a_tin_is_changed_and_solids_may_be_typed_as_a_share(bank: BankInHand) -> None:
    put_tin(
        bank, Tin("blue", colour_index="PB15:3", density_kg_l=1.02, solids_percent=0.31, stock_g=40, lot="7"), "blue"
    )
    tint = _again(bank).tint("blue")
    assert tint is not None
    assert (tint.colour_index, tint.density_kg_l, tint.volume_solids, tint.lot) == ("PB15:3", 1.02, 0.31, "7")
    put_tin(_again(bank), Tin("deep blue", solids_percent=31, stock_g=40), "blue")
    assert [one.name for one in _again(bank).tints] == ["white", "deep blue"]


def test_a_tin_that_is_in_panels_keeps_its_name_and_stays(read: BankInHand) -> None:
    before = _files(read)
    with pytest.raises(InputError, match="'blue' is in panels, and keeps its name"):
        put_tin(read, Tin("navy", stock_g=1), "blue")
    with pytest.raises(InputError, match="'blue' is in the panel 'blue 20/80'"):
        take_tin_out(read, "blue")
    assert _files(read) == before
    put_tin(read, Tin("ochre", stock_g=1))
    take_tin_out(_again(read), "ochre")
    assert _files(read) == before


def test_panels_are_named_by_their_shares_and_once(bank: BankInHand) -> None:
    assert weigh_panel(bank, [("white", 90.02), ("blue", 10.01)]) == "blue 10/90"
    assert weigh_panel(_again(bank), [("white", 90.02), ("blue", 10.01)]) == "blue 10/90 (2)"
    assert weigh_panel(_again(bank), [("white", 99.5), ("blue", 0.5)]) == "blue 0.5/100"
    assert weigh_panel(_again(bank), [("blue", 30.0), ("white", 0.0)]) == "blue"
    for name in ("BLUE", "blue  10/90"):
        with pytest.raises(InputError, match="is in the bank already"):
            weigh_panel(_again(bank), [("white", 50.0)], name)


def test_a_panel_named_as_a_remark_is_refused(bank: BankInHand) -> None:
    before = _files(bank)
    with pytest.raises(InputError, match=r"'# 1' begins with #.*as no\. 1$"):
        weigh_panel(bank, [("white", 50.0)], "# 1")
    assert _files(bank) == before


def test_what_another_device_put_in_since_the_bank_was_looked_at_is_known(bank: BankInHand) -> None:
    weigh_panel(bank, [("white", 90.0), ("blue", 10.0)])
    assert weigh_panel(bank, [("white", 80.0), ("blue", 8.9)]) == "blue 10/90 (2)"
    weigh_panel(bank, [("white", 90.0)], "A")
    put_tin(bank, Tin("red", stock_g=1))
    before = _files(bank)
    with pytest.raises(InputError, match="'A' is in the bank already"):
        weigh_panel(bank, [("blue", 20.0)], "A")
    with pytest.raises(InputError, match="'red' is in the bank already"):
        put_tin(bank, Tin("RED", stock_g=1))
    with pytest.raises(InputError, match="'blue' is in the panel 'blue 10/90'"):
        take_tin_out(bank, "blue")
    with pytest.raises(InputError, match="'blue' is in panels, and keeps its name"):
        put_tin(bank, Tin("Blue", stock_g=1), "blue")
    assert _files(bank) == before
    assert weigh_panel(bank, [("red", 20.0)]) == "red"


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ([], "nothing was weighed"),
        ([("white", 0.0)], "nothing was weighed"),
        ([("white", 90.0), ("green", 10.0)], "there is no tint 'green'"),
        ([("white", 90.0), ("white", 10.0)], "stands twice"),
        ([("white", 90100.0)], "90100 g are no panel"),
    ],
)
def test_weights_that_are_no_panel_are_refused(bank: BankInHand, parts: list[tuple[str, float]], said: str) -> None:
    before = _files(bank)
    with pytest.raises(InputError, match=said):
        weigh_panel(bank, parts)
    assert _files(bank) == before


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ([("white", 45.0), ("blue", 50.0)], "blue is 53 % of what was weighed, and 10 % was planned"),
        ([("white", 90.0), ("blue", 1.0)], "blue is 1.1 % of what was weighed, and 10 % was planned"),
        ([("white", 90.0)], "blue was planned and isn't weighed"),
    ],
)
def test_what_is_far_from_what_was_planned_is_asked_about(
    bank: BankInHand, parts: list[tuple[str, float]], said: str
) -> None:
    planned = {"white": 90.0, "blue": 10.0}
    with pytest.raises(InputError, match=said):
        weigh_panel(bank, parts, planned=planned)
    weigh_panel(bank, parts, planned=planned, anyway=True)
    assert dict(_again(bank).panels[0].parts) == dict(parts)
    weigh_panel(_again(bank), [("white", 45.3), ("blue", 5.4)], planned=planned)


def test_a_panel_is_taken_out_with_its_colours_and_the_photograph_can_be_read_again(read: BankInHand) -> None:
    take_panel_out(read, "blue 5/95")
    left = _again(read)
    assert [panel.name for panel in left.panels] == ["white masstone", "blue 20/80"]
    assert "blue 5/95" not in (read.folder / "seen.csv").read_text()
    weigh_panel(left, [("white", 95.1), ("blue", 5.02)], "blue 5/95")
    photograph_bank(read.folder, [ROOT / "swatches/panels.jpg"], PanelsRequest(panel=["4=blue 5/95"]))
    assert all(panel.read for panel in _again(read).panels)
    for panel in _again(read).panels:
        take_panel_out(_again(read), panel.name)
    assert {path.name for path in read.folder.iterdir()} == {"bank.toml", "tints.csv", "panels.csv"}


def test_the_last_row_leaves_its_table_with_the_header_and_what_somebody_remarked(
    bank: BankInHand, cli: Callable[..., Ran]
) -> None:
    remark = "# the blue is the old lot, see the shelf\n"
    weigh_panel(bank, [("white", 90.0), ("blue", 10.0)], "A")
    for name in ("panels.csv", "tints.csv"):
        file = bank.folder / name
        file.write_text(remark + file.read_text())
    take_panel_out(_again(bank), "A")
    emptied = (bank.folder / "panels.csv").read_text()
    assert emptied.startswith(remark)
    assert emptied.endswith("\npanel,tint,grams\n")
    assert _again(bank).panels == ()
    assert _again(bank).wrong is None
    assert cli("bank", "plan", bank.folder).status == 0
    fit = cli("bank", "fit", bank.folder).error
    assert "panels.csv: has a header and no rows; draw the panels that finishmatch bank plan" in fit
    weigh_panel(_again(bank), [("white", 95.0), ("blue", 5.0)], "B")
    assert (bank.folder / "panels.csv").read_text() == emptied + "B,white,95\nB,blue,5\n"
    take_panel_out(_again(bank), "B")
    for tin in ("blue", "white"):
        take_tin_out(_again(bank), tin)
    assert (bank.folder / "tints.csv").read_text().startswith(remark)
    assert (_again(bank).tints, _again(bank).wrong) == ((), None)
    put_tin(_again(bank), BLUE)
    assert [tint.name for tint in _again(bank).tints] == ["blue"]


def test_colours_that_somebody_wrote_by_hand_are_not_taken_away(read: BankInHand) -> None:
    with (read.folder / "seen.csv").open("a") as file:
        file.write("# looked at again\n")
    before = _files(read)
    with pytest.raises(InputError, match=r"seen\.csv: was written or changed by hand, and holds 'blue 5/95'"):
        take_panel_out(read, "blue 5/95")
    assert _files(read) == before


def test_a_bank_kept_by_hand_gets_its_rows_added_and_keeps_the_rest(home: Path, tmp_path: Path) -> None:
    folder = tmp_path / "by hand"
    shutil.copytree(ROOT / "swatches/bank", folder)
    before = (folder / "panels.csv").read_text()
    weigh_panel(bank_as_it_stands(folder), [("white", 90.0), ("blue", 10.0)])
    assert (folder / "panels.csv").read_text() == before + "blue 10/90,white,90\nblue 10/90,blue,10\n"
    with pytest.raises(InputError, match=r"'white masstone' stands in readings\.csv"):
        take_panel_out(bank_as_it_stands(folder), "white masstone")
    tints = (folder / "tints.csv").read_text()
    put_tin(bank_as_it_stands(folder), Tin("chalk", stock_g=100, hazard="none"))
    assert (folder / "tints.csv").read_text().splitlines()[0] == tints.splitlines()[0]
    assert _again(bank_as_it_stands(folder)).tint("chalk") is not None


def test_a_folder_that_is_closed_is_said_and_nothing_is_written(
    bank: BankInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    weigh_panel(bank, [("white", 50.0)], "A")
    before = _files(bank)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "unlink", refuse)
    monkeypatch.setattr("os.replace", refuse)
    acts: tuple[Callable[[], object], ...] = (
        lambda: take_panel_out(bank, "A"),
        lambda: weigh_panel(bank, [("white", 60.0)], "B"),
        lambda: put_tin(bank, Tin("red", stock_g=1)),
    )
    for act in acts:
        with pytest.raises(InputError, match=r"\.csv.*Permission denied.*have its owner give you the right"):
            act()
    monkeypatch.undo()
    assert {name: text for name, text in _files(bank).items() if name in before} == before


def test_the_invented_example_stays_as_it_is() -> None:
    bundled = banks_in_hand()[-1]
    assert bundled.bundled
    assert not bundled.may_change
    acts: tuple[Callable[[], object], ...] = (
        lambda: put_tin(bundled, BLUE),
        lambda: weigh_panel(bundled, [("white", 1.0)]),
        lambda: take_panel_out(bundled, "white masstone"),
    )
    for act in acts:
        with pytest.raises(InputError, match="is the invented example, and stays as it is"):
            act()


def test_one_that_cannot_be_read_says_why_and_is_not_changed(bank: BankInHand) -> None:
    (bank.folder / "tints.csv").write_text("tint,role\nwhite,white\n")
    broken = _again(bank)
    assert broken.wrong is not None
    assert "there is no column 'colour_index'" in str(broken.wrong)
    assert [one.name for one in banks_in_hand()] == ["Shed tins", "Lowmere bench tints"]
    with pytest.raises(InputError, match="there is no column 'colour_index'"):
        put_tin(broken, BLUE)
