"""A whole job, killed or held at its system calls that change a file; run it under strace, which does either.

strace kills or stops a process when it makes its so-many-th call of a kind (`most`). A process that is to die at its
N-th call makes those that lack for that where they do nothing, and then works. So one process that has loaded
everything, under one strace, can let each of its children die at another call. Started by the administrator the
children give up all rights first; they write in a scratch folder.

What a kill leaves is what stands in the files at that moment, for the system keeps what was written. So a job that is
stopped after a call, its folder copied, and let go on, shows what a kill at that call would leave (`held_at_all`); and
some are killed indeed (`killed_at`). A job may be held at some of the writes of its database only: at each third, since
the database writes in pairs, the head of a page and the page, and both are met so. What stands before each sync is seen
at the sync.

`strace(SCRATCH, DEED)` is how it is run; the number of calls that are tried, or "all", is the last argument of killing.
"""

from __future__ import annotations

import json
import os
import pickle
import random
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from socket import socketpair

from finishmatch.ledger import open_ledger
from tests.helpers.whole_job import Whole, acknowledging, entries_of, see_right, work

NOBODY = 65534
LOG, HELD, STATES = "calls", "held", "states"
SEED = 1934
WAIT_S = 30
DATABASE = "pwrite64"  # by which the database alone writes
_NOWHERE = "/nowhere/at all"
_READ_END, _WRITE_END = os.pipe()

Call = tuple[str, int]  # its kind, and which of that kind it is
Standing = dict[Path, tuple[int, bytes | None]]  # of each path the mode, and what a file holds

# what each kind of call is made by where it does nothing
IDLE: dict[str, Callable[[], object]] = {
    "write": lambda: os.write(_WRITE_END, b""),
    "pwrite64": lambda: os.pwrite(_WRITE_END, b"", 0),
    "fsync": lambda: os.fsync(_WRITE_END),
    "fdatasync": lambda: os.fdatasync(_WRITE_END),
    "ftruncate": lambda: os.ftruncate(_WRITE_END, 0),
    "fchmod": lambda: os.fchmod(_WRITE_END, 0o600),
    "rename": lambda: os.rename(_NOWHERE, _NOWHERE),
    "link": lambda: os.link(_NOWHERE, _NOWHERE),
    "unlink": lambda: os.unlink(_NOWHERE),
    "mkdir": lambda: os.mkdir(_NOWHERE),
    "rmdir": lambda: os.rmdir(_NOWHERE),
    "chmod": lambda: os.chmod(_NOWHERE, 0o600),
}
# a processor for which the kernel has no such call has one of these in its place
ALIKE = {"renameat": "rename", "renameat2": "rename", "linkat": "link", "unlinkat": "unlink", "mkdirat": "mkdir"}
ALIKE |= {"fchmodat": "chmod"}
OPENING = {"openat": lambda: os.open(_NOWHERE, os.O_RDONLY)}  # may make or cut a file; a job is held at it, not killed


def most(kind: str) -> int:
    """Return the number of a process's call of a kind that is its last; a whole job, and what loads it, makes fewer."""
    return 20_000 if kind in OPENING else 1000 if "write" in kind else 150


def strace(scratch: Path, deed: str, each: int = 1) -> list[str]:
    """Return the command under which this module does a deed, "kill" or "hold", to a job in a scratch folder.

    It is held at each so-many-th write of its database, and at all other calls.
    """
    kinds = (*IDLE, *ALIKE, *(OPENING if deed == "hold" else ()))
    traced = ",".join(f"?{kind}" for kind in kinds)
    words = ["strace", "-f", "-q", "-o", f"|cat >'{scratch / LOG}'", "-e", f"trace={traced}"]
    for kind in kinds:
        step = each if kind == DATABASE else 1
        signalled = f"SIGKILL:when={most(kind)}" if deed == "kill" else f"SIGSTOP:when={most(kind)}+{step}"
        words += ["-e", f"inject=?{kind}:signal={signalled}"]
    return [*words, sys.executable, "-m", __name__, str(scratch), deed]


def _in_child(does: Callable[[], None], held: Callable[[], None] | None = None) -> int:
    """Do something in a process of its own, without any rights; return its status, that of a signal below 0.

    Whenever it is stopped, something else is done before it goes on.
    """
    child = os.fork()
    if child == 0:
        status = 1
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            does()
            status = 0
        except BaseException:
            traceback.print_exc()
            sys.stderr.flush()
        os._exit(status)
    while os.WIFSTOPPED(how := os.waitpid(child, os.WUNTRACED if held else 0)[1]):
        if held:
            held()
        os.kill(child, signal.SIGCONT)
    return os.waitstatus_to_exitcode(how)


def _done(
    home: Path, before: Callable[[], object], mark: Path, held: Callable[[list[str]], None] | None = None
) -> tuple[int, list[str]]:
    """Do the whole job after something else, and mark its end; return how it ended, and what was told until then.

    `held` is done with what was told so far, whenever the job is stopped.
    """
    hear, say = socketpair()
    hear.setblocking(False)
    heard = bytearray()

    def listened() -> list[str]:
        with suppress(BlockingIOError):
            while part := hear.recv(1 << 16):
                heard.extend(part)
        return heard.decode().splitlines()

    def told(line: str) -> None:
        say.sendall(f"{line}\n".encode())  # a call of none of the kinds that are counted

    def does() -> None:
        acknowledging(told)
        before()
        home.parent.mkdir()
        work(home, told)
        mark.mkdir()

    with hear, say:
        status = _in_child(does, held and (lambda: held(listened())))
        return status, listened()


def _counted(scratch: Path) -> tuple[list[Call], list[str]]:
    """Return the calls that the whole job makes, as strace writes them down, and what it tells."""
    mark = scratch / "ended"
    status, told = _done(scratch / "counted" / "ledger", lambda: None, mark)
    assert status == 0, "a job that nobody kills"
    log, until = scratch / LOG, time.monotonic() + WAIT_S
    while f'"{mark}"' not in (text := log.read_text("utf-8", "replace")):
        assert time.monotonic() < until, "strace writes nothing down"
        time.sleep(0.01)
    last = next(line for line in text.splitlines() if f'"{mark}"' in line)
    made: Counter[str] = Counter()
    calls = []
    for kind in re.findall(rf"^{last.split()[0]} +(\w+)\(", text, re.MULTILINE):
        made[kind] += 1
        calls.append((kind, made[kind]))
    assert all(number < most(kind) for kind, number in calls), made
    return calls[:-1], told


def _idle(counts: Mapping[str, int]) -> None:
    """Make so many calls of each kind where they do nothing."""
    for kind, count in counts.items():
        for _ in range(count):
            with suppress(OSError):
                (IDLE | OPENING)[ALIKE.get(kind, kind)]()


def killed_at(kind: str, number: int, scratch: Path, whole: Whole) -> bool:
    """Let the whole job be killed at its so-many-th call of a kind, and see that all is right; return whether it was.

    Raises
    ------
    AssertionError
        Something isn't right.
    """
    home = scratch / f"{kind}-{number}" / "ledger"
    status, told = _done(home, lambda: _idle({kind: most(kind) - number}), home.with_name("ended"))
    assert status in (0, -signal.SIGKILL), status
    right = _in_child(lambda: see_right(home, told, whole))
    assert right == 0, f"killed at {kind} {number}, after it told {told}"
    _in_child(lambda: shutil.rmtree(home.parent, ignore_errors=True))
    return status != 0


def chosen(calls: Sequence[Call], cases: str) -> list[Call]:
    """Return the calls that are tried: the first, the last and one of each kind, and others, all by a seed."""
    if cases == "all":
        return list(calls)
    dice = random.Random(SEED)
    kinds = {kind: [one for one in calls if one[0] == kind] for kind, _ in calls}
    some = dict.fromkeys([calls[0], calls[-1], *(dice.choice(of_kind) for of_kind in kinds.values())])
    others = [one for one in calls if one not in some]
    return [*some, *dice.sample(others, max(int(cases) - len(some), 0))]


def held_at_all(scratch: Path) -> tuple[int, list[tuple[Standing, list[str]]]]:
    """Hold a whole job after its calls; return how often, and what stood then and had been told.

    States that are alike are returned once.
    """
    folder = scratch / HELD
    states: dict[tuple[object, ...], tuple[Standing, list[str]]] = {}
    times = 0

    def held(told: list[str]) -> None:
        nonlocal times
        times += 1
        if folder.exists():
            stands = _standing(folder)
            states.setdefault((*told, *((name, hash(what)) for name, what in stands.items())), (stands, told))

    idle = {kind: most(kind) - 1 for kind in (*IDLE, *OPENING)}
    status, _ = _done(folder / "ledger", lambda: _idle(idle), scratch / "end", held)
    assert status == 0, "a job that is held at times"
    return times, list(states.values())


def see_states_right(scratch: Path) -> int:
    """See that each state that a held job left is right; return how many there are.

    Raises
    ------
    AssertionError
        Something isn't right.
    """
    folder = scratch / HELD
    entries, counts, states = pickle.loads((scratch / STATES).read_bytes())
    whole = Whole(entries, counts)

    def right() -> None:
        for stands, told in states:
            for path, (mode, what) in stands.items():
                (folder / path).mkdir() if what is None else (folder / path).write_bytes(what)
                (folder / path).chmod(mode)
            try:
                see_right(folder / "ledger", told, whole)
            except Exception as error:
                error.add_note(f"held after it told {told}")
                raise
            shutil.rmtree(folder)

    lines: list[str] = []
    shutil.rmtree(folder)
    folder.mkdir()
    work(folder / "ledger", lines.append)
    see_right(folder / "ledger", lines, whole)  # what this loads, and works out of this path, its child has
    shutil.rmtree(folder)
    assert _in_child(right) == 0, "what a held job left isn't right"
    return len(states)


def _standing(folder: Path) -> Standing:
    """Return all that stands in a folder, the folder first."""
    paths = [folder, *sorted(folder.rglob("*"))]
    return {
        path.relative_to(folder): (path.stat().st_mode & 0o777, None if path.is_dir() else path.read_bytes())
        for path in paths
    }


def main(scratch: Path, deed: str, cases: str = "all") -> None:
    """Do the whole job, then kill it at some of its calls, or hold it at all; or see that what was left is right."""
    tempfile.tempdir = str(scratch / "tmp")
    if deed == "see":
        print(json.dumps({"states": see_states_right(scratch)}))
        return
    (scratch / "tmp").mkdir()
    for folder in (scratch, scratch / "tmp"):
        folder.chmod(0o777)
    warm = scratch / "warm" / "ledger"
    warm.parent.mkdir()
    work(warm, lambda line: None)
    with open_ledger(warm, create=False) as ledger:
        entries = tuple(entries_of(ledger, ledger.jobs()[0]))
    calls, told = _counted(scratch)
    counts = (0, *(int(line.split()[1]) for line in told if line.startswith("entries")))
    whole = Whole(entries, counts)
    said: dict[str, object] = {"calls": Counter(kind for kind, _ in calls)}
    if deed == "hold":
        said["held"], states = held_at_all(scratch)
        (scratch / STATES).write_bytes(pickle.dumps((whole.entries, whole.counts, states)))
    else:
        tried = chosen(calls, cases)
        said["tried"] = Counter(kind for kind, _ in tried)
        said["killed"] = sum(killed_at(kind, number, scratch, whole) for kind, number in tried)
    print(json.dumps(said))


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
