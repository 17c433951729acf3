"""`finishmatch defect calibrate`: the shop's own readings before and after."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.helpers.defect_lines import FULL, refused, tell

pytest_plugins = ["tests.helpers.defect_fixtures"]


REMOVALS = "panel,step,place,before_um,after_um\n" + "".join(
    f"plate {panel},{step},{place},{100 + place},{100 + place - taken}\n"
    for panel in range(4)
    for step, taken in (("1500", 7), ("cutting compound", 4))
    for place in range(4)
)


def test_the_shop_calibrates_its_steps_and_the_advice_reckons_with_them(capsys, home: Path, tmp_path: Path) -> None:
    file = tmp_path / "ours.csv"
    file.write_text(REMOVALS, "utf-8")
    line = f"advise crater {FULL} --depth-um 40 --count 1 --json"
    before = json.loads(tell(capsys, line)[1])
    status, out = tell(capsys, f"calibrate {file} --json")
    told = json.loads(out)
    assert (status, told["added"], told["readings"]) == (0, 32, 32)
    steps = {step["step"]: step for step in told["steps"]}
    assert 5.0 == steps["P1500"]["common_um"] < steps["P1500"]["mean_um"] < 7.5
    assert (steps["P1500"]["readings"], steps["P1500"]["panels"], steps["P2000"]["readings"]) == (16, 4, 0)
    after = json.loads(tell(capsys, line)[1])
    assert after["breakthrough"] > before["breakthrough"]
    kept = (home / "removal.csv").read_bytes()
    assert json.loads(tell(capsys, f"calibrate {file} --json")[1])["added"] == 0  # the same file adds nothing
    assert (home / "removal.csv").read_bytes() == kept
    file.write_text(REMOVALS.splitlines()[0] + "\nplate 9,P1500,1,100,97\n", "utf-8")
    assert json.loads(tell(capsys, f"calibrate {file} --anew --json")[1])["readings"] == 1
    _, out = tell(capsys, "calibrate")
    assert "common practice, µm" in out
    assert [path.name for path in home.iterdir()] == ["removal.csv"]


@pytest.mark.parametrize(
    ("rows", "part"),
    [
        ("plate,P1500,1,100,120", "are the two swapped?"),
        ("plate,P1500x9,1,100,97", "did you mean P1500"),
        ("plate,P1500,1,abc,97", "not a number"),
        ("plate,P1500,1,nan,97", "is not a number"),
        (",P1500,1,100,97", "is empty"),
        ("plate,P1500,1,100,-97", "too small"),
        ("", "no rows"),
    ],
)
def test_readings_that_cannot_be_leave_the_shops_file_as_it_was(
    capsys, home: Path, tmp_path: Path, rows: str, part: str
) -> None:
    file = tmp_path / "ours.csv"
    file.write_text(REMOVALS, "utf-8")
    tell(capsys, f"calibrate {file}")
    kept = (home / "removal.csv").read_bytes()
    header = REMOVALS.splitlines()[0]
    file.write_text(f"{header}\nplate,P1500,1,100,97\n{rows}\n" if rows else f"{header}\n", "utf-8")
    assert part in refused(capsys, f"calibrate {file}")
    assert (home / "removal.csv").read_bytes() == kept


def test_a_disk_that_refuses_leaves_the_shops_file_as_it_was(
    capsys, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "ours.csv"
    file.write_text(REMOVALS, "utf-8")
    tell(capsys, f"calibrate {file}")
    kept = (home / "removal.csv").read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    file.write_text(REMOVALS.replace("plate", "door"), "utf-8")
    assert "can't be written: No space left" in refused(capsys, f"calibrate {file}")
    assert (home / "removal.csv").read_bytes() == kept
    assert [path.name for path in home.iterdir()] == ["removal.csv"]


def test_a_damaged_shop_file_is_named(capsys, home: Path) -> None:
    (home / "removal.csv").write_text("panel,step\nplate,P1500\n", "utf-8")
    assert "removal.csv" in refused(capsys, f"advise crater {FULL} --depth-um 30")
