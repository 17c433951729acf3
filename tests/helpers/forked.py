"""A command line in a process of its own that is forked from this one, and so has loaded what it needs.

It has its own streams, rights, limits and working folder, as one that is started has; how the program starts is tested
where that is asked: `tests/cli/test_terminal.py`, `tests/house/test_packages.py`, `benchmarks/test_startup.py`.
"""

from __future__ import annotations

import os
import select
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

from finishmatch.cli import main
from tests.conftest import Ran

WAIT_S = 60


def begun(
    words: Sequence[str], folder: Path, streams: tuple[int, int, int], before: Callable[[], object] = lambda: None
) -> int:
    """Begin a command line in a folder, after something else, and return its process.

    `streams` are the files that its standard input, output and error go to.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of a fork beside threads: the child uses none of them
        child = os.fork()
    if child:
        return child
    status = 70  # a status of no command line
    try:
        signal.alarm(WAIT_S)
        for ours, theirs in enumerate(streams):
            os.dup2(theirs, ours)
        sys.stdin, sys.stdout, sys.stderr = (
            open(at, how, encoding="utf-8", closefd=False)  # noqa: SIM115
            for at, how in enumerate("rww")
        )
        os.chdir(folder)
        sys.argv = ["finishmatch", *words]
        before()
        main()
    except SystemExit as ended:
        status = ended.code if isinstance(ended.code, int) else 1
    except BaseException:
        traceback.print_exc()
    finally:
        try:
            sys.stdout.flush()
            sys.stderr.flush()
        finally:
            os._exit(status)


def ended(child: int) -> int:
    """Wait until a process has ended, and return its exit status, that of a signal below 0."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def forked(words: Sequence[str], folder: Path, before: Callable[[], object] = lambda: None) -> Ran:
    """Run a command line in a folder, after something else in its process, and return how it ended."""
    pipes = [os.pipe() for _ in range(2)]
    with Path(os.devnull).open("rb") as nothing:
        child = begun(words, folder, (nothing.fileno(), pipes[0][1], pipes[1][1]), before)
    said = {reader: b"" for reader, _ in pipes}
    for _, writer in pipes:
        os.close(writer)
    still = list(said)
    while still:
        for reader in select.select(still, [], [])[0]:
            piece = os.read(reader, 65536)
            said[reader] += piece
            if not piece:
                still.remove(reader)
                os.close(reader)
    out, err = (text.decode("utf-8") for text in said.values())
    return Ran(ended(child), out, err)
