"""Two bays write in one ledger at once, and a bay that falls over leaves nothing half-written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from finishmatch.ledger import NoteEntry, open_ledger
from tests.helpers.ledger_samples import NOTE

EACH = 40

# both begin the ledger, both write to the one job the first of them opened
BAY = """
import sys, time
from pathlib import Path
from finishmatch.ledger import NoteEntry, open_ledger
home, bay, each = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
(home / f"ready-{bay}").touch()
while len(list(home.glob("ready-*"))) < 2:
    time.sleep(0.001)
with open_ledger(home / "shared") as ledger:
    job = ledger.new_job(f"bay {bay}")
    while len(jobs := ledger.jobs()) < 2:
        time.sleep(0.001)
    for i in range(each):
        pair = [NoteEntry(f"{bay} {i} first"), NoteEntry(f"{bay} {i} second")]
        ledger.record_all(jobs[0], pair, sources=[Path(sys.argv[4])])
"""

FALLING = """
import os, sys
from pathlib import Path
from finishmatch.ledger import NoteEntry, open_ledger
from finishmatch.ledger import book
with open_ledger(Path(sys.argv[1])) as ledger:
    keep, kept = book.row_of, []
    def fall_over_at_the_third(*args, **kwargs):
        kept.append(1)
        if len(kept) == 3:
            os._exit(9)
        return keep(*args, **kwargs)
    book.row_of = fall_over_at_the_third
    ledger.record_all(ledger.jobs()[0], [NoteEntry(str(i)) for i in range(5)])
"""


def test_two_bays_begin_and_write_one_ledger_at_once(tmp_path: Path) -> None:
    source = tmp_path / "card.csv"
    source.write_text("name,L,a,b\n")
    bays = [
        subprocess.Popen(
            [sys.executable, "-c", BAY, str(tmp_path), name, str(EACH), str(source)], stderr=subprocess.PIPE
        )
        for name in ("one", "two")
    ]
    for bay in bays:
        _, errors = bay.communicate(timeout=120)
        assert (bay.returncode, errors) == (0, b"")
    with open_ledger(tmp_path / "shared") as ledger:
        jobs = ledger.jobs()
        assert {job.title for job in jobs} == {"bay one", "bay two"}
        texts = [view.entry.text for view in ledger.entries(jobs[0]) if isinstance(view.entry, NoteEntry)]
    for name in ("one", "two"):
        own = [text for text in texts if text.startswith(name)]
        assert own == [f"{name} {i} {which}" for i in range(EACH) for which in ("first", "second")]
    # what was recorded together stands together, whatever the other bay did meanwhile
    for first, second in zip(texts[::2], texts[1::2], strict=True):
        assert first.replace("first", "second") == second


def test_a_bay_that_falls_over_in_the_middle_leaves_nothing_half_written(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Roof")
    fallen = subprocess.run([sys.executable, "-c", FALLING, str(tmp_path)], check=False, capture_output=True)
    assert fallen.returncode == 9
    with open_ledger(tmp_path) as ledger:
        assert ledger.entries(job) == []
        ledger.record(job, NOTE)
