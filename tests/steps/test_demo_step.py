"""The demo as a step: one result, recorded in the folder it was given and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import ledger_exists, open_ledger
from finishmatch.steps.demo import TOLERANCE, demo


def test_it_is_recorded_in_its_folder_alone(tmp_path: Path, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = demo(tmp_path / "out")
    assert capsys.readouterr().out == ""
    assert not ledger_exists(home)
    with open_ledger(tmp_path / "out", create=False) as ledger:
        kinds = [view.entry.KIND for view in ledger.entries(ledger.find_job(found.job.ref))]
    assert kinds[:7] == ["reading", "reading", "reading", "target", "recipe", "recipe", "recipe"]
    first, second = found.cards
    assert max(first.verdict.lights.values()) > TOLERANCE >= max(second.verdict.lights.values())
    assert found.as_dict()["additions"] == [{"tint": t, "grams": g} for t, g in found.correction.additions]
    assert (tmp_path / "out/bank/fit.json").exists()


def test_a_folder_that_can_not_be_written_is_left_alone(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", "utf-8")
    with pytest.raises(InputError, match="taken"):
        demo(taken)
    assert taken.read_text("utf-8") == "mine"
