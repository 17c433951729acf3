"""At the end of a run of benchmarks: one table of all ratios, and where FINISHMATCH_RATIOS names a file, as JSON."""

from __future__ import annotations

import json
import os
from dataclasses import asdict
from pathlib import Path

import pytest

from benchmarks.ratios import TOLD, table


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the table."""
    if TOLD:
        terminalreporter.section("ratios: less is better")
        for line in table(TOLD):
            terminalreporter.write_line(line)
        if place := os.environ.get("FINISHMATCH_RATIOS"):
            Path(place).write_text(json.dumps([asdict(told) for told in TOLD], indent=1), encoding="utf-8")
