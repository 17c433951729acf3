"""What a comparison of two revisions says of their ratios."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.ratios import Told
from benchmarks.ratios import table as told_table
from tools.bench_compare import compared, main, table


def test_only_what_rose_by_more_than_a_third_is_worse() -> None:
    before = {"a": 1.0, "b": 2.0, "gone": 1.0}
    assert compared(before, {"a": 1.33, "b": 2.7, "new": 9.0}) == ["b"]
    lines = table(before, {"a": 1.33, "b": 2.7, "new": 9.0})
    assert [line.split()[0] for line in lines[1:]] == ["a", "b", "gone", "new"]
    assert lines[2].split()[-1] == "1.35"


def test_the_table_of_a_run_holds_each_ratio_beside_what_it_may_be() -> None:
    head, line = told_table([Told("job list", "the same with 200", 1.1, 1.5)])
    assert head.split()[-3:] == ["ratio", "at", "most"]
    assert line.split()[-2:] == ["1.1", "1.5"]


def test_what_is_no_revision_is_told_in_one_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["no-such-revision-0000"]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
