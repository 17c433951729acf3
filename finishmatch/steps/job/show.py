"""The story of a job in order, and what is open in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.ledger import EntryView, Story, StrikeEntry, job_story, open_ledger
from finishmatch.steps.defect.suspect import suspects_in
from finishmatch.steps.job.next_step import Known, known_in


@dataclass(frozen=True)
class JobShown:
    """A job as it stands.

    Parameters
    ----------
    story : Story
        Its lines in a painter's words, those that were replaced included, and what is open.
    entries : tuple of EntryView
        Its entries in the order of the story; replaced ones only where the history was asked for.
    warnings : tuple of str
        What was met that is suspect.
    history : bool
        Whether what was replaced is shown.
    known : Known
        What the job knows, so that the next step needn't be told.
    """

    story: Story
    entries: tuple[EntryView, ...]
    warnings: tuple[str, ...]
    history: bool
    known: Known

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form; a face adds to each open item what comes next in that face."""
        return {
            "job": self.story.job.as_dict(),
            "entries": [view.as_dict() for view in self.entries],
            "open": [item.as_dict() for item in self.story.open],
            "set_aside": [part.as_dict() for part in self.story.aside],
            "warnings": list(self.warnings),
        }


def show_job(job: str, *, history: bool = False) -> JobShown:
    """Return the story of a job and what is open in it.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    history : bool
        Show what has been replaced as well.

    Raises
    ------
    InputError
        No ledger, no such job, or several.
    """
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        entries = ledger.entries(found)
        warnings = suspects_in(ledger, entries)
        known = known_in(ledger, found, entries)
    shown = sorted(
        (view for view in entries if history or (view.stands and not isinstance(view.entry, StrikeEntry))),
        key=lambda view: (view.place, view.number),
    )
    return JobShown(job_story(found, entries), tuple(shown), tuple(warnings), history, known)
