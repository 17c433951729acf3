"""Whatever is typed, and whatever a file holds: an answer, a no or one line of what is wrong; never a traceback.

`FINISHMATCH_FUZZ_CASES=2000` tries so many lines in place of some hundred, `FINISHMATCH_FUZZ_SEED` begins elsewhere.
`tools/fuzz.py` tries more hostile ones, each in a process of its own with bounds on memory, time and rights.
"""

from __future__ import annotations

import os
import signal
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import click
import pytest

from finishmatch.cli import root
from tests.conftest import Ran
from tests.helpers.fuzz_lines import CASES_BETWEEN, case, lay_out, standing, what_is_wrong
from tests.helpers.hostile_words import LINES

CASES = int(os.environ.get("FINISHMATCH_FUZZ_CASES", "400"))
SEED = int(os.environ.get("FINISHMATCH_FUZZ_SEED", "1934"))
LONGEST_S = 20  # by the clock, which other processes run down too
APART = {"serve"}  # it would not end

Cli = Callable[..., Ran]


def _commands(command: click.Command, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    if not isinstance(command, click.Group):
        return [path]
    context = click.Context(command)
    found = ((name, command.get_command(context, name)) for name in command.list_commands(context))
    return [whole for name, one in found if one is not None for whole in _commands(one, (*path, name))]


def test_every_command_is_among_the_lines() -> None:
    tried = [tuple(line.split()) for line in LINES]
    lacking = {path for path in _commands(root) if not any(line[: len(path)] == path for line in tried)}
    assert {" ".join(path) for path in lacking} == APART


def _too_long(*_: object) -> NoReturn:
    raise TimeoutError(f"more than {LONGEST_S} s")


@pytest.mark.slow
def test_no_line_and_no_file_brings_a_traceback(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, bad = tmp_path / "work", []
    folder.mkdir()
    monkeypatch.chdir(folder)
    before = signal.signal(signal.SIGALRM, _too_long)
    try:
        for seed in range(SEED, SEED + CASES):
            if (seed - SEED) % CASES_BETWEEN == 0:
                lay_out(folder)
                cli("job", "new", f"roof {seed}")
                cli("job", "use", f"roof {seed}")
            words, spoilt = case(seed, folder)
            stood = standing(folder)
            signal.alarm(LONGEST_S)
            try:
                ran = cli(*words)
                wrong = what_is_wrong(ran.status, ran.out + ran.err)
                if ran.status == 2 and standing(folder) != stood:
                    wrong = wrong or "something was written"
                said = ran.out + ran.err
            except Exception:
                wrong, said = "a traceback", traceback.format_exc()
            finally:
                signal.alarm(0)
            if wrong:
                bad.append(f"seed {seed}: {wrong}: {words!r:.300} {spoilt}\n{said[-900:]}")
    finally:
        signal.signal(signal.SIGALRM, before)
    assert not bad, f"{len(bad)} of {CASES}:\n" + "\n\n".join(bad[:20])
