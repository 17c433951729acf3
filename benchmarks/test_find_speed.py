"""The nearest of many colours by the index, against computing all.

`python -m benchmarks.test_find_speed` takes a million; `… 100000 ADDRESS` so many, in an empty database of PostgreSQL.
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator

import numpy as np
import psycopg
import pytest

from benchmarks.ratios import tell
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.ledger import Ledger, Tree, colour_index, colours_kept, open_place

pytestmark = [pytest.mark.timed, pytest.mark.beside_others]

COUNT, EACH = 40_000, 40  # colours, and entries of a job
MOST, TIMES = 10, 100  # twenty are wanted of a million
AT_ONCE = 20_000
STAMP = "2026-01-01T00:00:00Z"
HERE = Tree(True, "D65", 10)


def spectra(count: int, r: np.random.Generator) -> Floats:
    """Invented paints, shape (count, 31): some hundred shades, each sprayed often, and a twentieth of one alone."""
    bands = np.linspace(-1, 1, 31)
    shades = r.uniform(0.05, 0.7, (300, 1)) * (
        1 + np.tanh(r.normal(0, 2, (300, 1)) * (bands - r.uniform(-1, 1, (300, 1)))) * 0.8
    )
    which = r.integers(0, 300, count)
    which[r.uniform(size=count) < 0.05] = 7
    sprayed = shades[which] * np.exp(r.normal(0, 0.05, (count, 1))) + r.normal(0, 0.01, (count, 1)) * bands
    return np.clip(sprayed, 0.005, 1.0)


JOB = "job (id, title, vehicle, colour_name, note, made_at)"
ENTRY = "entry (number, job_id, kind, made_at, reason)"
CARD = "spray_out (number, name, ground, surface, geometry, repeats, lab_l, lab_a, lab_b, light, observer, reflectance)"
LINK = "entry_link (number, sha256)"
Rows = Iterator[tuple[object, ...]]


def rows_of(count: int) -> Iterator[tuple[str, Rows]]:
    """Rows of so many cards, with the table and its columns."""
    r = np.random.default_rng(11)
    yield JOB, ((k + 1, f"Job {k + 1}", "", "", "", STAMP) for k in range(-(-count // EACH)))
    for first in range(0, count, AT_ONCE):
        some = np.round(spectra(min(AT_ONCE, count - first), r), 5)
        numbers = range(first + 1, first + 1 + len(some))
        labs = reflectance_to_lab(some).tolist()
        yield ENTRY, ((number, (number - 1) // EACH + 1, "spray-out", STAMP, "") for number in numbers)
        cards = zip(numbers, labs, some.tolist(), strict=True)
        yield CARD, ((n, "card", "", "", "", 1, *lab, "D65", 10, json.dumps(one)) for n, lab, one in cards)
    yield LINK, iter([(count, "of the last")])


def fill(ledger: Ledger, count: int, address: str) -> None:
    """Write so many cards straight into the tables: the ledger's own door takes one job at a time."""
    if address:
        with psycopg.connect(address) as connection, connection.cursor() as cursor:
            for table, rows in rows_of(count):
                with cursor.copy(f"COPY {table} FROM STDIN".encode()) as copy:
                    for row in rows:
                        copy.write_row(row)
        return
    database = sqlite3.connect(ledger.path)
    for table, rows in rows_of(count):
        places = ", ".join("?" * (table.count(",") + 1))
        database.executemany(f"INSERT INTO {table} VALUES ({places})", rows)
    database.commit()
    database.close()


def wanted(r: np.random.Generator, count: int) -> Floats:
    """Colours that are looked for, shape (count, 3): of the shades, the common one among them, and of none."""
    like = reflectance_to_lab(spectra(count, r))
    like[::5] += r.normal(0, 3, like[::5].shape)
    return like


def alone(r: np.random.Generator, count: int) -> Floats:
    """Colours that nothing may lie near, shape (count, 3): any that CIELAB has, whether a paint can have it or not."""
    return np.column_stack([r.uniform(0, 100, count), r.uniform(-110, 110, (count, 2))])


def measured(count: int, asked: int, address: str = "") -> dict[str, float]:
    """Return what a record of so many colours takes, in seconds: made, opened, asked; and all computed.

    `address` is an empty database of PostgreSQL, which takes its time by the clock; else a file is filled, and the time
    is the processor's.
    """
    clock = time.perf_counter if address else time.process_time
    with tempfile.TemporaryDirectory() as folder, open_place(address or folder) as ledger:
        fill(ledger, count, address)
        start = clock()
        with colour_index(ledger, least=1) as index:
            assert index is not None
            index.nearest({HERE: np.array([50.0, 0.0, 0.0])}, MOST, None)
            made = clock() - start
        start = clock()
        with colour_index(ledger, least=1) as index:
            assert index is not None
            opened = clock() - start
            r = np.random.default_rng(12)
            labs, found = np.concatenate([wanted(r, asked), alone(r, asked)]), []
            taken = []
            for lab in labs:
                start = clock()
                found.append(index.nearest({HERE: lab}, MOST, None))
                taken.append(clock() - start)
        start = clock()
        kept = colours_kept(ledger)
        every = reflectance_to_lab(np.array([one.reflectance for one in kept]))
        read = clock() - start
        computing = []
        for lab, near in zip(labs, found, strict=True):
            start = clock()
            away = de00(lab, every)
            nearest = np.argsort(away, kind="stable")[:MOST]
            computing.append(clock() - start)
            assert {kept[i].number for i in nearest} <= set(near)
    took = {"asked": taken[:asked], "asked for one alone": taken[asked:]}
    return (
        {"made": made, "opened": opened}
        | {
            f"{name}{which}": figure
            for name, some in took.items()
            for which, figure in (
                ("", statistics.median(some)),
                (", 95 in 100", float(np.percentile(some, 95))),
                (", the slowest", max(some)),
            )
        }
        | {"read and computed": read + statistics.median(computing), "computed alone": statistics.median(computing)}
    )


def test_the_nearest_are_found_a_hundred_times_as_fast_as_by_computing_all() -> None:
    seconds = measured(COUNT, 40)
    print("\n" + ", ".join(f"{name} {1000 * value:.1f} ms" for name, value in seconds.items()))
    for asked, what in (("asked", ""), ("asked for one alone", ", nothing near")):
        ratio = seconds[asked] / seconds["read and computed"]
        tell(f"the {MOST} nearest of {COUNT:,} colours{what}", "reading and computing all", ratio, 1 / TIMES)
        assert ratio <= 1 / TIMES


def main() -> None:
    """Print what a million takes, or as many as are named."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    address = sys.argv[2] if len(sys.argv) > 2 else ""
    for name, value in measured(count, 100, address).items():
        print(f"{count:,} colours, {name}: {1000 * value:.1f} ms")


if __name__ == "__main__":
    main()
