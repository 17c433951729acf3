"""What a job may be called, and which one is meant."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from finishmatch.errors import InputError
from finishmatch.ledger.clean_values import new_line
from finishmatch.ledger.views import JobView
from finishmatch.near_names import near_names


def job_title(title: str) -> str:
    """Return a title as one line.

    Raises
    ------
    InputError
        When it is empty, too long, or would be taken for the ref of a job, or for none.
    """
    title = new_line("title", title)
    if not title:
        raise InputError("title", "is empty", "name the job, for example 'Tarnbeck Six, Saltmarsh Blue'")
    if len(title) > 200:
        raise InputError("title", f"has {len(title)} characters", "keep it below 200 and put the rest in `note`")
    if title[0] in "jJ" and title[1:].isdecimal():
        raise InputError("title", f"'{title}' would be taken for the ref of a job", "name it by what it is")
    if _key(title) == "none":
        raise InputError("title", f"'{title}' says no job where one is named", "name it by what it is")
    return title


def match_job(text: str, jobs: Sequence[JobView]) -> JobView:
    """Return the job of a ref ("J1") or of an exact title, whatever the capitals.

    Raises
    ------
    InputError
        No such job (the nearest are offered), or several of that title.
    """
    wanted = _key(text)
    if not jobs:
        raise InputError(_where(text), "the ledger holds no job yet", "open one: finishmatch job new TITLE")
    for job in jobs:
        if wanted == job.ref.casefold():
            return job
    found = jobs_titled(text, jobs)
    if len(found) > 1:
        refs = ", ".join(job.ref for job in found)
        raise InputError(_where(text), f"{len(found)} jobs have this title ({refs})", "name the job by its ref")
    if not found:
        raise InputError(_where(text), "there is no such job", _offer(wanted, jobs))
    return found[0]


def jobs_titled(title: str, jobs: Sequence[JobView]) -> list[JobView]:
    """Return the jobs of a title, whatever the capitals."""
    return [job for job in jobs if _key(job.title) == _key(title)]


def _key(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def _where(text: str) -> str:
    shown = " ".join(text.split())
    printable = "".join(letter if letter.isprintable() else "?" for letter in shown)
    return f"job '{printable[:60]}'"


def _offer(wanted: str, jobs: Sequence[JobView]) -> str:
    titles = {_key(job.title): job for job in reversed(jobs)}
    near = [titles[key] for key in near_names(wanted, titles, most=3, cutoff=0.5)]
    near += [job for key, job in titles.items() if wanted and wanted in key and job not in near]
    refs = {job.ref.casefold(): job for job in jobs}
    near += [refs[key] for key in near_names(wanted, refs, most=2) if refs[key] not in near]
    if not near:
        return "see them with: finishmatch job list"
    return "did you mean " + " or ".join(f"{job.ref} '{job.title}'" for job in near[:3]) + "?"
