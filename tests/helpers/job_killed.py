"""A whole job, killed before each of its system calls that change a file; run it under strace, which does the killing.

strace kills a process when it makes its so-many-th call of a kind (`most`). A process that is to die at its N-th call
makes those that lack for that where they do nothing, and then works. So one process that has loaded everything, under
one strace, can let each of its children die at another call. Started by the administrator the children give up all
rights first; they write in a scratch folder.

`strace(SCRATCH)` is how it is run, with the number of calls that are tried, or "all", as the last argument.
"""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from socket import socketpair
from typing import Any

from finishmatch.files import write_file
from finishmatch.ledger import (
    BankTint,
    Entry,
    JobView,
    NoteEntry,
    Nth,
    StrikeEntry,
    bank_of_job,
    job_in_use,
    open_ledger,
    put_in_use,
    remember_bank,
    soundness_of,
)
from finishmatch.ledger.book import Ledger
from finishmatch.steps.backup.back_up import back_up
from finishmatch.steps.backup.backup_file import opened_backup
from tests.helpers.ledger_samples import NOTE, every_kind

NOBODY = 65534
LOG = "calls"
BANK, BACKUP = "Lowmere bank", "record.zip"
BESIDE, BESIDE_TEXTS = "evidence.csv", ("name,L,a,b\n", "name,L,a,b\n" + "tin,38.2,-4.1,-20.3\n" * 500)
SEED = 1934
WAIT_S = 30
_NOWHERE = "/nowhere/at all"
_READ_END, _WRITE_END = os.pipe()

Call = tuple[str, int]  # its kind, and which of that kind it is

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
KINDS = (*IDLE, *ALIKE)


def most(kind: str) -> int:
    """Return the number of a process's call of a kind that is its last; a whole job makes fewer."""
    return 1000 if "write" in kind else 150


def strace(scratch: Path) -> list[str]:
    """Return the command under which this module kills a job in a scratch folder."""
    traced = ",".join(f"?{kind}" for kind in KINDS)
    words = ["strace", "-f", "-q", "-o", f"|cat >'{scratch / LOG}'", "-e", f"trace={traced}"]
    for kind in KINDS:
        words += ["-e", f"inject=?{kind}:signal=SIGKILL:when={most(kind)}"]
    return [*words, sys.executable, "-m", __name__, str(scratch)]


@dataclass(frozen=True)
class Whole:
    """What a job that nobody kills leaves: its entries, and how many there are after each that is acknowledged."""

    entries: tuple[object, ...]
    counts: tuple[int, ...]


def work(home: Path, told: Callable[[str], None]) -> None:
    """Do the whole job as its commands do, each with the ledger opened anew, and tell what was acknowledged.

    Nothing is computed: what is recorded is made up.
    """
    os.environ["FINISHMATCH_HOME"] = str(home)
    with open_ledger(home) as ledger:
        job = ledger.new_job("Tarnbeck Six, roof", colour_name="Saltmarsh Blue")
    put_in_use(job, home)
    told("in use")
    beside = home.with_name(BESIDE)
    for text in BESIDE_TEXTS:
        write_file(beside, text)
        told(f"beside {BESIDE_TEXTS.index(text)}")
    entries = every_kind()
    for first, last in ((0, 2), (2, 9), (9, 12), (12, 15)):
        with open_ledger(home, create=False) as ledger:
            numbers = ledger.record_all(job, [_at(one, first) for one in entries[first:last]], sources=[beside])
            if first == 2:
                remember_bank(ledger, job, BANK, home.parent, [BankTint("blue", "colour", "PB15:3", 1.5)])
                told("bank")
    back_up(home.with_name(BACKUP), home=home)
    told("backup")
    with open_ledger(home, create=False) as ledger:
        ledger.record(job, NOTE, supersedes=numbers[-1], reason="it was on the shelf")
        ledger.record(job, StrikeEntry(numbers[0], "it was for the other roof"))
    back_up(home.with_name(BACKUP), home=home)
    told("backup")


def _at(entry: Entry, first: int) -> Entry:
    """Return an entry whose pointers count from where its command begins."""
    pointers = {name: value for name, value in vars(entry).items() if isinstance(value, Nth)}
    return replace(entry, **{name: Nth(value - first) for name, value in pointers.items()})


def see_right(home: Path, told: Sequence[str], whole: Whole) -> None:
    """See that a ledger opens, is sound and holds all that was told, nothing by halves; and that work goes on."""
    if not (home / "ledger.db").exists():
        assert not told, told
        return
    with open_ledger(home) as ledger:
        jobs = ledger.jobs()
        assert len(jobs) >= ("job" in told)
        found = [one for job in jobs for one in _entries(ledger, job)]
        assert found == list(whole.entries[: len(found)])
        acknowledged = max((int(line.split()[1]) for line in told if line.startswith("entries")), default=0)
        assert len(found) >= acknowledged
        assert len(found) in whole.counts, "what is recorded together stands together"
        assert job_in_use(jobs, home) is not None or "in use" not in told
        assert "bank" not in told or bank_of_job(ledger, jobs[0]) == (BANK, home.parent)
        job = jobs[0] if jobs else ledger.new_job("Another roof")
        ledger.record(job, NoteEntry("it goes on"))
        assert soundness_of(ledger).damaged == ()
    assert not list(home.glob(".*.new"))
    beside = home.with_name(BESIDE)
    if beside.exists():
        written = BESIDE_TEXTS.index(beside.read_text())
        assert f"beside {written + 1}" not in told
    else:
        assert not any(line.startswith("beside") for line in told)
    backup = home.with_name(BACKUP)
    assert backup.exists() or "backup" not in told
    if backup.exists():
        home.with_name("unpacked").mkdir()
        with opened_backup(backup) as opened:
            assert opened.listed.entries == len(whole.entries) or told.count("backup") < 2
            assert opened.listed.entries in whole.counts
            opened.unpack(home.with_name("unpacked"))


def _entries(ledger: Ledger, job: JobView) -> list[object]:
    return [(view.number, view.entry) for view in ledger.entries(job)]


def _acknowledging(told: Callable[[str], None]) -> None:
    """Let the ledger tell what it recorded, as soon as it has."""

    def telling(does: Callable[..., Any]) -> Callable[..., Any]:
        def done(ledger: Ledger, *arguments: Any, **named: Any) -> Any:
            found = does(ledger, *arguments, **named)
            numbers = found if isinstance(found, list) else [found]
            told("job" if isinstance(found, JobView) else f"entries {max(numbers, default=0)}")
            return found

        return done

    for name in ("new_job", "record", "record_all"):
        setattr(Ledger, name, telling(getattr(Ledger, name)))


def _in_child(does: Callable[[], None]) -> int:
    """Do something in a process of its own, without any rights; return its status, that of a signal below 0."""
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
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _done(home: Path, before: Callable[[], object], mark: Path) -> tuple[int, list[str]]:
    """Do the whole job after something else, and mark its end; return how it ended, and what was told until then."""
    hear, say = socketpair()

    def told(line: str) -> None:
        say.sendall(f"{line}\n".encode())  # a call of none of the kinds that are counted

    def does() -> None:
        _acknowledging(told)
        before()
        home.parent.mkdir()
        work(home, told)
        mark.mkdir()

    status = _in_child(does)
    say.close()
    with hear, hear.makefile() as lines:
        return status, lines.read().splitlines()


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


def killed_at(kind: str, number: int, scratch: Path, whole: Whole) -> bool:
    """Let the whole job be killed at its so-many-th call of a kind, and see that all is right; return whether it was.

    Raises
    ------
    AssertionError
        Something isn't right.
    """
    home = scratch / f"{kind}-{number}" / "ledger"

    def first() -> None:
        for _ in range(most(kind) - number):
            with suppress(OSError):
                IDLE[ALIKE.get(kind, kind)]()

    status, told = _done(home, first, home.with_name("ended"))
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


def main(scratch: Path, cases: str) -> None:
    """Count the calls of the whole job, then let it be killed at each that is chosen; say how many there were."""
    tempfile.tempdir = str(scratch / "tmp")
    (scratch / "tmp").mkdir()
    for folder in (scratch, scratch / "tmp"):
        folder.chmod(0o777)
    warm = scratch / "warm" / "ledger"
    warm.parent.mkdir()
    work(warm, lambda line: None)
    calls, told = _counted(scratch)
    with open_ledger(warm, create=False) as ledger:
        entries = tuple(_entries(ledger, ledger.jobs()[0]))
    counts = (0, *(int(line.split()[1]) for line in told if line.startswith("entries")))
    whole = Whole(entries, counts)
    tried = chosen(calls, cases)
    killed = sum(killed_at(kind, number, scratch, whole) for kind, number in tried)
    counted = {"calls": calls, "tried": tried}
    print(json.dumps({name: Counter(kind for kind, _ in some) for name, some in counted.items()} | {"killed": killed}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
