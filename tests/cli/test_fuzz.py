"""Whatever is typed, and whatever a file holds: an answer, a no or one line of what is wrong; never a traceback.

Lines are tried for 8 seconds of the processor; `FINISHMATCH_FUZZ_SECONDS` is another time, and
`FINISHMATCH_FUZZ_SEED` begins elsewhere. `tools/fuzz.py` tries more hostile ones, each in a process of its own with
bounds on memory, time and rights.
"""

from __future__ import annotations

import os
import signal
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import click
import pytest

from finishmatch.cli import root
from tests.conftest import Ran
from tests.helpers.fuzz_lines import CASES_BETWEEN, case, lay_out, standing, what_is_wrong
from tests.helpers.hostile_words import LINES

SECONDS = float(os.environ.get("FINISHMATCH_FUZZ_SECONDS", "8"))  # of the processor
LEAST = 80  # cases, however slow the machine is
SEED = int(os.environ.get("FINISHMATCH_FUZZ_SEED", "1934"))
LONGEST_S, LONGEST_WAIT_S = 10, 120  # of the processor, and by the clock, which other processes run down too
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
    raise TimeoutError(f"more than {LONGEST_S} s of the processor, or {LONGEST_WAIT_S} by the clock")


@contextmanager
def _limited() -> Iterator[None]:
    """End what takes too long with an error."""
    kinds = ((signal.ITIMER_PROF, signal.SIGPROF, LONGEST_S), (signal.ITIMER_REAL, signal.SIGALRM, LONGEST_WAIT_S))
    before = [signal.signal(sent, _too_long) for _, sent, _ in kinds]
    try:
        for timer, _, most in kinds:
            signal.setitimer(timer, most)
        yield
    finally:
        for (timer, sent, _), handler in zip(kinds, before, strict=True):
            signal.setitimer(timer, 0)
            signal.signal(sent, handler)


@pytest.mark.slow
def test_no_line_and_no_file_brings_a_traceback(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, bad, seed = tmp_path / "work", [], SEED
    folder.mkdir()
    monkeypatch.chdir(folder)
    end = time.process_time() + SECONDS
    while time.process_time() < end or seed < SEED + LEAST:
        if (seed - SEED) % CASES_BETWEEN == 0:
            lay_out(folder)
            cli("job", "new", f"roof {seed}")
            cli("job", "use", f"roof {seed}")
        words, spoilt = case(seed, folder)
        stood = standing(folder)
        try:
            with _limited():
                ran = cli(*words)
            wrong = what_is_wrong(ran.status, ran.out + ran.err)
            if ran.status == 2 and standing(folder) != stood:
                wrong = wrong or "something was written"
            said = ran.out + ran.err
        except Exception:
            wrong, said = "a traceback", traceback.format_exc()
        if wrong:
            bad.append(f"seed {seed}: {wrong}: {words!r:.300} {spoilt}\n{said[-900:]}")
        seed += 1
    print(f"{seed - SEED} lines were tried")
    assert not bad, f"{len(bad)} of {seed - SEED}:\n" + "\n\n".join(bad[:20])
