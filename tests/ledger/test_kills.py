"""A whole job is killed at any moment: the ledger opens, is sound, and holds all that was acknowledged."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from finishmatch.ledger import open_ledger
from tests.conftest import ROOT

KILLS = int(os.environ.get("FINISHMATCH_KILLS", "25"))

# each round a child works in the same home and says what it was told is recorded; it is killed at a random moment
ROUNDS = """
import os, random, signal, sys, time
from pathlib import Path
from finishmatch.files import write_file
from finishmatch.ledger import BatchEntry, NoteEntry, Nth, SprayOutEntry, open_ledger, put_in_use, soundness_of

root, kills = Path(sys.argv[1]), int(sys.argv[2])
dice = random.Random(1934)

def work(home, say):
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        os.write(say, f"job {job.id}\\n".encode())
        put_in_use(job, home)
        for i in range(12):
            source = home.parent / f"card-{os.getpid()}-{i}.csv"
            source.write_text("name,L,a,b\\n" + "x" * 3000 + f"{i} {os.getpid()}\\n")
            pair = [BatchEntry([("white", 300.0 + i)]), SprayOutEntry(Nth(0), (38.0, -4.0, -20.0))]
            numbers = ledger.record_all(job, pair, sources=[source])
            os.write(say, ("pair %d %d\\n" % tuple(numbers)).encode())
            write_file(home / "in-use.txt", f"{job.ref} {job.made_at}\\n")

def checked(home, told):
    if not (home / "ledger.db").exists():
        assert not told, told
        return 0
    with open_ledger(home) as ledger:
        assert soundness_of(ledger).damaged == ()
        jobs = ledger.jobs()
        views = {view.number: view for job in jobs for view in ledger.entries(job)}
        assert {f"job {job.id}" for job in jobs} >= {line for line in told if line.startswith("job")}
        for line in told:
            if line.startswith("pair"):
                assert all(int(number) in views for number in line.split()[1:]), line
        # what is recorded together stands together
        kinds = [view.kind for view in views.values()]
        assert kinds.count("batch") == kinds.count("spray-out"), kinds
    assert not list(home.glob(".*.new"))
    return len(views)

told, kept, stopped = [], 0, 0
for round in range(kills):
    home = root / f"home-{round // 5}" / "ledger"
    if round % 5 == 0:
        home.parent.mkdir()
        told = []
    hear, say = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(hear)
        try:
            work(home, say)
        finally:
            os._exit(0)
    os.close(say)
    with os.fdopen(hear) as heard:
        # so far it works, and a little further: however busy the machine is, the kill falls within the work
        after = dice.randrange(13)
        lines = [heard.readline() for _ in range(after)]
        time.sleep(dice.random() * (0.03 if after else 0.3))
        os.kill(child, signal.SIGKILL)
        lines += heard.readlines()
    _, status = os.waitpid(child, 0)
    stopped += os.WIFSIGNALED(status)
    told += [line.strip() for line in lines if line.endswith("\\n")]
    kept += checked(home, told)
assert stopped > kills // 2, stopped
assert kept > kills, kept
print("sound")
"""


@pytest.mark.slow
def test_a_whole_job_killed_at_any_moment_loses_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-c", ROUNDS, str(tmp_path), str(KILLS)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (ran.stdout, ran.returncode) == ("sound\n", 0), ran.stderr


def test_the_database_writes_ahead_syncs_in_full_and_holds_foreign_keys(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger, ledger.reading() as session:
        ask = session.connection().exec_driver_sql
        found = [ask(f"PRAGMA {name}").scalar_one() for name in ("journal_mode", "synchronous", "foreign_keys")]
    assert found == ["wal", 2, 1]
