"""What a large record costs: 20,000 entries in 500 jobs against 200 in five, whole commands as a painter runs them.

By the processor time of each command, so that others may run beside it.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from benchmarks.ratios import holds, of_children, tell, time_ratio
from finishmatch.ledger import BatchEntry, Nth, SprayOutEntry, open_ledger

pytestmark = [pytest.mark.timed, pytest.mark.beside_others]

EACH = 40  # entries of a job
FEW, MANY = 3, 300  # jobs
MOST = 1.5
# the first job is copied as an imported one is: under numbers of its own, hashed under those it had
COPIES = (
    "INSERT INTO job SELECT k, title, vehicle, colour_name, note, made_at FROM job, k WHERE id = 1",
    "INSERT INTO entry SELECT number + {each} * (k - 1), k, kind, made_at, NULL, reason FROM entry, k WHERE job_id = 1",
    "INSERT INTO batch (number, parts, share, bank) SELECT number + {each} * (k - 1), parts, share, bank "
    "FROM batch, k WHERE number <= {each}",
    "INSERT INTO spray_out (number, batch_number, name, ground, coats, build_um, surface, geometry, repeats, "
    "spread_de00, lab_l, lab_a, lab_b, light, observer, reflectance, seen) SELECT number + {each} * (k - 1), "
    "batch_number + {each} * (k - 1), name, ground, coats, build_um, surface, geometry, repeats, spread_de00, lab_l, "
    "lab_a, lab_b, light, observer, reflectance, seen FROM spray_out, k WHERE number <= {each}",
    "INSERT INTO entry_link SELECT number + {each} * (k - 1), sha256 FROM entry_link, k WHERE number <= {each}",
    "INSERT INTO job_origin SELECT k, 1, '', made_at FROM job, k WHERE id = 1",
    "INSERT INTO entry_origin SELECT number + {each} * (k - 1), number FROM entry, k WHERE job_id = 1",
)


def _record(home: Path, jobs: int) -> Path:
    """Write a record of so many jobs alike: one by the ledger's own door, the others straight into the tables."""
    with open_ledger(home) as ledger:
        pairs = [
            (BatchEntry((("white", 443.6), ("blue", 28.5))), SprayOutEntry(Nth(2 * i), (50.0, 0.0, 0.0), [0.2] * 31))
            for i in range(EACH // 2)
        ]
        ledger.record_all(ledger.new_job("Tarnbeck Six, roof"), [entry for pair in pairs for entry in pair])
        path = ledger.path
    with sqlite3.connect(path) as database:
        for copy in COPIES:
            counted = f"WITH RECURSIVE k(k) AS (SELECT 2 UNION ALL SELECT k + 1 FROM k WHERE k < {jobs}) "
            database.execute(counted + copy.format(each=EACH))
    database.close()
    return home


def _running(home: Path, *line: str) -> Callable[[], str]:
    def run() -> str:
        command = [sys.executable, "-m", "finishmatch", *line]
        environment = os.environ | {"FINISHMATCH_HOME": str(home)}
        return subprocess.run(command, capture_output=True, text=True, check=True, env=environment).stdout

    return run


def test_a_hundred_times_the_record_costs_half_as_much_again_at_most(tmp_path: Path) -> None:
    few, many = _record(tmp_path / "few", FEW), _record(tmp_path / "many", MANY)
    with open_ledger(many) as ledger:
        assert sum(count for count, _ in ledger.activity().values()) == EACH * MANY
        assert len(ledger.entries(ledger.find_job(f"J{MANY}"))) == EACH  # and it is as it was written
    for line, shown in ((("job", "list"), MANY), (("job", "show", f"J{FEW}"), EACH)):
        ours, theirs = _running(many, *line), _running(few, *line)
        assert len(ours().splitlines()) >= shown  # it has run by now, and theirs is the same program
        ratio = holds(lambda ours=ours, theirs=theirs: time_ratio(ours, theirs, 3, of_children, warm=True), MOST)
        tell(" ".join(line[:2]) + f", {EACH * MANY:,} entries", f"the same with {EACH * FEW}", ratio, MOST)
        assert ratio <= MOST
