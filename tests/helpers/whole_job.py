"""A whole job, done as its commands do it with the ledger opened anew for each, and what must stand at any moment."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
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

BANK, BACKUP = "Lowmere bank", "record.zip"
BESIDE, BESIDE_TEXTS = "evidence.csv", ("name,L,a,b\n", "name,L,a,b\n" + "tin,38.2,-4.1,-20.3\n" * 500)


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
        found = [one for job in jobs for one in entries_of(ledger, job)]
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


def entries_of(ledger: Ledger, job: JobView) -> list[object]:
    return [(view.number, view.entry) for view in ledger.entries(job)]


def acknowledging(told: Callable[[str], None]) -> None:
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
