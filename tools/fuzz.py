"""Try hostile command lines and spoilt files for as long as wanted, each apart; print what the program may not do.

Run: python tools/fuzz.py [--seconds 3600] [--seed 1] [--cases 1]. Each case runs in a process of its own, in a scratch
folder, with bounds on memory, on time and on what is written. Started by the administrator it gives up all rights
first: then the interpreter and the libraries must be readable for everybody. `--cases 1` with the seed of a finding
shows it alone. Ends with 1 when anything was found.
"""

from __future__ import annotations

import argparse
import importlib
import os
import pkgutil
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
from contextlib import suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import finishmatch
from finishmatch.cli import main
from tests.helpers.fuzz_lines import CASES_BETWEEN, case, lay_out, standing, what_is_wrong

NOBODY = 65534
LONGEST_S, LONGEST_WAIT_S = 10, 300  # of the processor, and of the clock, which stands for nothing on a busy machine
MOST_BYTES = 2**30
MOST_WRITTEN = 200_000_000
TRACEBACK, KILLED = 98, 128


def run_apart(words: list[str], folder: Path) -> tuple[int, str, float]:
    """Run a command line in a process of its own; return its status, what it said, and its seconds of the processor."""
    out = folder.parent / "said"
    begun = time.monotonic()
    child = os.fork()
    if child == 0:
        status = TRACEBACK
        with suppress(BaseException):
            status = _in_child(words, folder, out)
        os._exit(status)
    while True:
        ended, how, used = os.wait4(child, os.WNOHANG)
        if ended:
            break
        if time.monotonic() - begun > LONGEST_WAIT_S:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.002)
    status = os.waitstatus_to_exitcode(how)
    text = out.read_bytes().decode("utf-8", "replace")
    return status if status >= 0 else KILLED - status, text, used.ru_utime + used.ru_stime


def _in_child(words: list[str], folder: Path, out: Path) -> int:
    handle = os.open(out, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o666)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for at, of in ((0, nothing), (1, handle), (2, handle)):
        os.dup2(of, at)
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False, buffering=1)
    os.chdir(folder)
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    _bounded()
    sys.argv = ["finishmatch", *words]
    try:
        main()
    except SystemExit as ended:
        status = ended.code if isinstance(ended.code, int) else 1
    except BaseException:
        traceback.print_exc()
        status = TRACEBACK
    sys.stdout.flush()
    sys.stderr.flush()
    return status


def _bounded() -> None:
    size = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    for what, most in (
        (resource.RLIMIT_CPU, LONGEST_S),
        (resource.RLIMIT_AS, size + MOST_BYTES),
        (resource.RLIMIT_FSIZE, MOST_WRITTEN),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))


def _load_everything() -> None:
    """Import all of the program once, so that a case starts at once, and needs no file of it."""
    for module in pkgutil.walk_packages(finishmatch.__path__, "finishmatch."):
        if not module.name.endswith("__main__") and ".migrations." not in module.name:
            importlib.import_module(module.name)


def _begin_anew(folder: Path, number: int) -> None:
    """Lay out the scenario anew, for anybody to write in, with a job of its own."""
    lay_out(folder)
    for path in (folder, *folder.rglob("*")):
        if not path.is_symlink():
            path.chmod(0o777)
    shutil.rmtree(folder.parent / "home", ignore_errors=True)
    (folder.parent / "said").touch()
    (folder.parent / "said").chmod(0o666)
    run_apart(["job", "new", f"roof {number}"], folder)
    run_apart(["job", "use", f"roof {number}"], folder)


def fuzz(seconds: float, seed: int, cases: int | None, scratch: Path) -> int:
    """Try cases from a seed on until time or their number is up; print and count what is wrong."""
    folder, end, number, wrong = scratch / "work", time.monotonic() + seconds, seed, 0
    folder.mkdir()
    os.environ["FINISHMATCH_HOME"] = str(scratch / "home")
    while time.monotonic() < end and (cases is None or number < seed + cases):
        if number == seed or number % CASES_BETWEEN == 0:
            _begin_anew(folder, number)
        words, spoilt = case(number, folder, apart=True)
        stood = standing(folder)
        status, said, took = run_apart(words, folder)
        if status >= KILLED:
            what = f"ended by signal {status - KILLED} after {took:.1f} s"
        else:
            what = what_is_wrong(status, said)
            if status == 2 and standing(folder) != stood:
                what = what or "something was written"
        if what:
            wrong += 1
            print(f"seed {number}: {what}: {words!r:.400} {spoilt}\n{said[-1500:]}\n", flush=True)
        number += 1
    print(f"{number - seed} cases, {wrong} of them wrong", flush=True)
    return wrong


def _main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cases", type=int, default=None)
    asked = parser.parse_args()
    _load_everything()
    scratch = Path(tempfile.mkdtemp(prefix="finishmatch-fuzz-"))
    scratch.chmod(0o777)
    try:
        return 1 if fuzz(asked.seconds, asked.seed, asked.cases, scratch) else 0
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(_main())
