"""What no table has is refused at once, however large it is."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.readings import read_readings
from tests.conftest import Ran
from tests.helpers.door_files import write

Cli = Callable[..., Ran]


@pytest.mark.parametrize("columns", [9_000, 30_000, 1_000_000])
@pytest.mark.parametrize("name", [lambda i: f"c{i}", lambda _: "c"], ids=["other", "same"])
def test_a_table_of_very_many_columns_is_refused_in_seconds(
    tmp_path: Path, columns: int, name: Callable[[int], str]
) -> None:
    header = "name," + ",".join(name(i) for i in range(columns))
    path = write(tmp_path / "wide.csv", f"{header}\nx{',1' * columns}\n")
    begun = time.monotonic()
    with pytest.raises(InputError, match="line 1"):
        read_readings(path)
    assert time.monotonic() - begun < 10


def test_a_table_of_too_many_columns_says_so(tmp_path: Path) -> None:
    path = write(tmp_path / "wide.csv", "name" + ",x" * 10_000 + "\n")
    with pytest.raises(InputError, match="line 1: has more than 10000 cells"):
        read_readings(path)


def test_a_pipe_is_refused_and_not_waited_for(cli: Cli, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for line in (("compare", pipe, "50,1,1"), ("photo", "read", pipe), ("plan", "page", pipe)):
        assert "is a pipe, which may never end" in cli(*line).error
