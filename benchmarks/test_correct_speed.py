"""The corners of a correction: coarse scales, large smallest parts, tolerances out of reach, against the plain one."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from benchmarks.ratios import holds

pytestmark = pytest.mark.timed

SWATCHES = Path(__file__).parents[1] / "swatches"
MOST = 6  # times the plain correction: 3.0 to 4.3 were measured on a machine that had other work
CORNERS = (
    ("--tolerance", "0.3", "--scale-step", "5"),
    ("--tolerance", "0.3", "--smallest", "40"),
    ("--tolerance", "0.2", "--scale-step", "1"),
    ("--tolerance", "0.05"),
    ("--tolerance", "0.02", "--scale-step", "20"),
    ("--tolerance", "0.5", "--scale-step", "5", "--max-growth", "5"),
)


def cpu_seconds(home: Path, command: str, *options: str) -> float:
    """Return the processor time of one command, user and system, on one thread."""
    line = [sys.executable, "-m", "finishmatch", command, f"{SWATCHES / 'evidence.csv'}@tin", "--bank"]
    line += [str(SWATCHES / "bank"), *options, "--json"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = os.environ | {"FINISHMATCH_HOME": str(home), "OPENBLAS_NUM_THREADS": "1"}
    ran = subprocess.run(line, capture_output=True, text=True, env=environment, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert ran.returncode in (0, 1), ran.stderr
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def test_no_wish_makes_a_correction_take_many_times_as_long(tmp_path: Path) -> None:
    tin = ("--batch", str(SWATCHES / "batch1.csv"), "--sprayed", str(SWATCHES / "card1.csv"))
    cpu_seconds(tmp_path, "correct", *tin)  # fits the bank
    print(f"\nmix {cpu_seconds(tmp_path, 'mix', '--grams', '500'):.2f} s of processor time")

    def slowest() -> float:
        plain = cpu_seconds(tmp_path, "correct", *tin)
        corners = {corner: cpu_seconds(tmp_path, "correct", *tin, *corner) for corner in CORNERS}
        for corner, seconds in corners.items():
            print(f"correct {' '.join(corner)}: {seconds:.2f} s, plain {plain:.2f} s")
        return max(corners.values()) / plain

    assert holds(slowest, MOST, tries=2) <= MOST
