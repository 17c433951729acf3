"""The terminal answers at once: start-up against importing what it must import, in turn, in the same run.

Each is the processor time of a process of its own, so that others may run beside it.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable

import pytest

from benchmarks.ratios import holds, of_children, tell, time_ratio

ROUNDS = 7

pytestmark = [pytest.mark.timed, pytest.mark.beside_others]

SCRIPT = [sys.executable, "-m", "finishmatch"]


def running(*command: str) -> Callable[[], object]:
    """A call that runs a command and looks away."""
    return lambda: subprocess.run(command, capture_output=True, check=True)


def test_help_takes_at_most_three_times_importing_click() -> None:
    ours, theirs = running(*SCRIPT, "--help"), running(sys.executable, "-c", "import click")
    ratio = holds(lambda: time_ratio(ours, theirs, ROUNDS, of_children), 3)
    tell("finishmatch --help", "importing click", ratio, 3)
    assert ratio <= 3


def test_compare_of_typed_colours_takes_at_most_twice_importing_click_and_numpy() -> None:
    ours = running(*SCRIPT, "compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9")
    theirs = running(sys.executable, "-c", "import click, numpy")
    ratio = holds(lambda: time_ratio(ours, theirs, ROUNDS, of_children), 2)
    tell("finishmatch compare L,a,b L,a,b", "importing click and numpy", ratio, 2)
    assert ratio <= 2
