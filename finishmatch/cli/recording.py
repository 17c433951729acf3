"""What the commands share that record in the ledger."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from finishmatch.cli.common import emit_json, say_warnings
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.cli.inputs import FittedBank
    from finishmatch.ledger import Entry, EntryView, JobView, Ledger

Command = TypeVar("Command", bound=Callable[..., Any])


def check_job(job_text: str | None) -> JobView | None:
    """See that a job can be recorded in, before anything is computed for it.

    Parameters
    ----------
    job_text : str or None
        What --job was given; None is no job, and fine.

    Raises
    ------
    InputError
        No ledger, a ledger that can't be used, no such job, or several.
    """
    if job_text is None:
        return None
    from finishmatch.ledger import open_ledger

    with open_ledger(create=False) as ledger:
        return ledger.find_job(job_text)


def record_to(
    job_text: str | None,
    entries: Sequence[Entry],
    sources: Sequence[Path] | Mapping[int, Sequence[Path]] = (),
) -> list[int]:
    """Record what a command found in a job, all or nothing, and return the numbers of the entries.

    A reading, target, batch or spray-out that stands in the job already isn't recorded again; its number is returned.

    Parameters
    ----------
    job_text : str or None
        What --job was given; with None nothing is recorded.
    entries : sequence of Entry
        One may refer to an earlier one by ``Nth(index)``.
    sources : sequence of Path, or mapping of int to sequence of Path
        Files all the entries were found with, or per index.

    Raises
    ------
    InputError
        Nothing is recorded then.
    """
    if job_text is None or not entries:
        return []
    from finishmatch.ledger import open_ledger

    with open_ledger(create=False) as ledger:
        return ledger.record_found(ledger.find_job(job_text), entries, sources=sources)


def entries_in(job_text: str) -> list[EntryView]:
    """Return all entries of a job, replaced ones included."""
    from finishmatch.ledger import open_ledger

    with open_ledger(create=False) as ledger:
        return ledger.entries(ledger.find_job(job_text))


def tolerance_in(job_text: str) -> tuple[float, int] | None:
    """Return the tolerance of a job's last target and the number of that entry; None when it doesn't say one.

    As everywhere in the record, what an entry leaves at its default it doesn't say.
    """
    from finishmatch.ledger import TargetEntry, open_ledger

    with open_ledger(create=False) as ledger:
        view = ledger.latest(ledger.find_job(job_text), TargetEntry)
    if view is None or not isinstance(view.entry, TargetEntry):
        return None
    said = view.entry.tolerance not in (0, TargetEntry.tolerance)
    return (view.entry.tolerance, view.number) if said else None


def remember(job_text: str, fitted: FittedBank) -> None:
    """Remember which bank a job is mixed from, so that `job spray` needn't be told."""
    from finishmatch.ledger import open_ledger, remember_bank

    with open_ledger(create=False) as ledger:
        remember_bank(ledger, ledger.find_job(job_text), fitted.bank.name, fitted.folder.absolute())


def replace_options(command: Command) -> Command:
    """Add --supersedes and --why to a command that records one entry."""
    command = click.option("--why", metavar="TEXT", default="", help="Why that entry is replaced.")(command)
    return click.option(
        "--supersedes",
        metavar="N",
        type=click.IntRange(min=1),
        help="The number of the entry this one replaces; the old one stays in the history.",
    )(command)


def record_one(
    ledger: Ledger,
    job: JobView,
    entry: Entry,
    *,
    supersedes: int | None,
    why: str,
    as_json: bool,
    sources: Sequence[Path] = (),
    warnings: Sequence[str] = (),
    along: Sequence[Entry] = (),
    further: Mapping[str, Any] | None = None,
) -> None:
    """Record one entry, with what is kept `along` with it, and say so; `further` is put into the JSON object."""
    from finishmatch.ledger import kind_word, tell_entry

    number = ledger.record(job, entry, sources=sources, supersedes=supersedes, reason=why, along=along)
    if as_json:
        view = next(view for view in ledger.entries(job, kind=type(entry)) if view.number == number)
        told = {"job": job.as_dict(), "recorded": view.as_dict(), "warnings": list(warnings)}
        emit_json(told | dict(further or {}))
        return
    instead = "" if supersedes is None else f" in place of #{supersedes}"
    click.echo(f"{job.ref} {job.title}: recorded {kind_word(entry.KIND)} #{number}{instead}")
    click.echo(f"  {tell_entry(entry)}")
    say_warnings(warnings)


def record_each(
    ledger: Ledger,
    job: JobView,
    entries: Sequence[Entry],
    *,
    supersedes: int | None,
    why: str,
    as_json: bool,
    warnings: Sequence[str] = (),
) -> None:
    """Record several entries of one kind, all or none, and say so; only a single one may replace another."""
    from finishmatch.ledger import kind_word, tell_entry

    if supersedes is None and not why:
        numbers = ledger.record_all(job, entries)
    elif len(entries) == 1:
        numbers = [ledger.record(job, entries[0], supersedes=supersedes, reason=why)]
    else:
        raise InputError("--supersedes", f"{len(entries)} entries can't replace one", "replace them one at a time")
    if as_json:
        views = [view for view in ledger.entries(job, kind=type(entries[0])) if view.number in numbers]
        emit_json({"job": job.as_dict(), "recorded": [view.as_dict() for view in views], "warnings": list(warnings)})
        return
    for number, entry in zip(numbers, entries, strict=True):
        instead = "" if supersedes is None else f" in place of #{supersedes}"
        click.echo(f"{job.ref} {job.title}: recorded {kind_word(entry.KIND)} #{number}{instead}")
        click.echo(f"  {tell_entry(entry)}")
    say_warnings(warnings)
