"""Tracing a defect through a large shop's record, against a loop that tests one exposure after the other."""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import fisher_exact

from benchmarks.ratios import tell
from finishmatch.defects.fishers_exact import fisher_two_sided
from finishmatch.defects.shop_record import ShopRecord, count_coats
from finishmatch.defects.trace import trace
from finishmatch.ledger import open_ledger
from finishmatch.ledger.shop import read_shop

pytestmark = [pytest.mark.timed, pytest.mark.beside_others]

COATS = 100_000
VALUES = {  # kind: how many of it a shop uses up in the years that such a record takes
    "air line": 4, "gun": 6, "painter": 8, "booth": 3, "cloth": 60, "wipe": 400, "batch": 4000, "hardener": 900,
    "thinner": 700, "polish in the room": 2,
}  # fmt: skip
EVERY = 8  # one exposure in so many is tested by the loop, and its time reckoned for all
MOST = 2.0  # times what the database takes to give its rows out
GUILTY = "air line"  # its last value has five times the risk


def _fill(path: Path) -> None:
    """Write a large invented record straight into the tables: the ledger's own door takes one entry at a time."""
    rng = np.random.default_rng(26)
    database = sqlite3.connect(path)
    met, start = [], {}
    for kind, values in VALUES.items():
        start[kind] = len(met) + 1
        met += [(len(met) + i + 1, kind, f"{i + 1}", f"{i + 1}") for i in range(values)]
    chosen = {kind: rng.integers(0, values, COATS) for kind, values in VALUES.items()}
    day = 737_000 + np.arange(COATS) // 40
    bad = rng.random(COATS) < np.where(chosen[GUILTY] == VALUES[GUILTY] - 1, 0.10, 0.02)
    stamp = "2026-01-01T00:00:00Z"
    days = [time.strftime("%Y-%m-%d", time.gmtime((int(d) - 719_163) * 86_400)) for d in day]
    jobs = [(i + 1, f"Job {i + 1}", "", "", "", stamp) for i in range(COATS)]
    database.executemany("INSERT INTO job (id, title, vehicle, colour_name, note, made_at) VALUES (?,?,?,?,?,?)", jobs)
    entries = [(i + 1, i + 1, "coat", stamp, "") for i in range(COATS)]
    wrong = np.flatnonzero(bad)
    entries += [(COATS + n + 1, int(i) + 1, "defect", stamp, "") for n, i in enumerate(wrong)]
    database.executemany("INSERT INTO entry (number, job_id, kind, made_at, reason) VALUES (?,?,?,?,?)", entries)
    database.executemany("INSERT INTO met (id, kind, value, value_key) VALUES (?,?,?,?)", met)
    coats = [(i + 1, "roof", days[i], "colour") for i in range(COATS)]
    database.executemany("INSERT INTO coat (number, panel, sprayed_on, layer) VALUES (?,?,?,?)", coats)
    columns = np.stack([start[kind] + chosen[kind] for kind in VALUES], axis=1)
    pairs = ((i + 1, j, int(columns[i, j])) for i in range(COATS) for j in range(len(VALUES)))
    database.executemany("INSERT INTO coat_met (coat_number, position, met_id) VALUES (?,?,?)", pairs)
    database.executemany(
        "INSERT INTO defect (number, defect_kind, panel, place, seen_on) VALUES (?, 'cratering', 'roof', '', ?)",
        [(COATS + n + 1, days[int(i)]) for n, i in enumerate(wrong)],
    )
    database.commit()
    database.close()


def _one_by_one(record: ShopRecord, numbers: range) -> dict[int, float]:
    """Count and test exposures in turn, as a script would."""
    total, total_bad = len(record.day), int(record.bad.sum())
    found = {}
    for number in numbers:
        coats = record.coat[record.met == number]
        a, n = int(record.bad[coats].sum()), len(coats)
        found[number] = fisher_exact([[a, n - a], [total_bad - a, total - n - total_bad + a]]).pvalue
    return found


def _read_plainly(path: Path) -> float:
    """Return the seconds that the database itself takes to give its rows out: nothing that reads them can be faster."""
    database = sqlite3.connect(path)
    started = time.process_time()
    for table in ("coat", "coat_met", "defect", "met"):
        database.execute(f"SELECT * FROM {table}").fetchall()
    database.execute("SELECT number, job_id, kind FROM entry").fetchall()
    took = time.process_time() - started
    database.close()
    return took


def test_a_large_record_is_traced_in_twice_its_reading_and_20_times_faster_than_one_test_after_the_other(
    tmp_path: Path,
) -> None:
    with open_ledger(tmp_path) as ledger:
        _fill(ledger.path)
        started = time.process_time()
        record = read_shop(ledger, {"cratering"})
        read = time.process_time() - started
        found = trace(record)
        whole = time.process_time() - started
        floor = _read_plainly(ledger.path)
    started = time.process_time()
    slow = _one_by_one(record, range(0, len(record.exposures), EVERY))
    looped = (time.process_time() - started) * EVERY
    print(
        f"\n{len(record.day)} coats, {len(record.coat)} exposures of {len(record.exposures)} values: read {read:.2f} s,"
        f" traced {whole - read:.2f} s, one by one {looped:.1f} s, {looped / (whole - read):.0f} times as long"
    )
    assert (len(record.day), len(record.coat)) == (COATS, COATS * len(VALUES))
    assert found.suspects[0].name == f"{GUILTY}={VALUES[GUILTY]}"
    counts = count_coats(record)
    p = fisher_two_sided(counts.exposed_bad, counts.exposed, counts.total_bad, counts.total)
    assert max(abs(p[number] - theirs) for number, theirs in slow.items()) < 1e-9
    tell(f"reading and tracing {COATS:,} coats", "giving out the rows", whole / floor, MOST)
    assert whole <= MOST * floor
    tell(f"tracing {COATS:,} coats", "one test after the other", (whole - read) / looped, 1 / 20)
    assert looped >= 20 * (whole - read)
