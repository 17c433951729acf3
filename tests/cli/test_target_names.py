"""What a target is called that only the program named: by the file of what was photographed, not by a window."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.ledger import TargetEntry, VerdictEntry, open_ledger
from tests.conftest import Ran

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
SEEN = """name,geometry,L,a,b,light,observer,u95
standard,45/0,45.1,-4.1,-17.8,D65,10,1.2
sample 2,45/0,45.1,-4.1,-17.8,D65,10,1.2
bonnet,45/0,45.1,-4.1,-17.8,D65,10,1.2
card 1,45/0,46.0,-4.1,-17.8,D65,10,1.2
"""


@pytest.mark.parametrize(
    ("meant", "called"),
    [("standard", "beside the tin"), ("sample 2", "beside the tin, sample 2"), ("bonnet", "bonnet")],
)
def test_a_target_out_of_a_photograph_is_called_by_what_tells_it_apart(
    meant: str, called: str, cli: Cli, bench: Path, home: Path
) -> None:
    Path("beside the tin.csv").write_text(SEEN)
    cli("job", "new", "Roof")
    file = "beside the tin.csv"
    asked = ("--bank", "bank", "--grams", 300, "--max-tints", 2, "--recipes", 1, "--job", "J1")
    assert cli("mix", f"{file}@{meant}", *asked).status in (0, 1)
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        (target,) = ledger.entries(job, kind="target")
        (reading,) = ledger.entries(job, kind="reading")
    assert isinstance(target.entry, TargetEntry)
    assert target.entry.name == called
    assert (*target.entry.evidence, reading.entry.name) == (meant, meant)  # type: ignore[attr-defined]
    # held against it before anything is poured, a card is one of what is mixed
    assert cli("compare", f"{file}@{meant}", f"{file}@card 1", "--job", "J1", "--tolerance", 0.5).status == 1
    assert "no correction is worked out" in cli("next").out
    with open_ledger() as ledger:
        (verdict,) = ledger.entries(ledger.find_job("J1"), kind="verdict")
    assert isinstance(verdict.entry, VerdictEntry)
    assert verdict.entry.standard == meant
