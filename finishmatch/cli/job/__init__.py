"""`finishmatch job`: the record of a job."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {
    "new": ("job.new:new", "Open a job; the ledger is made where there is none yet."),
    "use": ("job.use:use", "Put a job in use: what isn't said is taken from it."),
    "list": ("job.list:list_jobs", "List the jobs of the ledger."),
    "show": ("job.show:show", "Show the story of a job in order, and what is open in it."),
    "pour": ("job.pour:pour", "Hold what was poured against its recipe, and record what is in the tin."),
    "spray": ("job.spray:spray", "Record a spray-out and its reading, and learn from it how strong the tins are."),
    "tin": ("job.tin:tin", "Try a newly opened tin by a letdown, before any of it is in a batch."),
    "coat": ("job.coat:coat", "Record that panels were sprayed, and what their coats met."),
    "film": ("job.film:film", "Record the build readings of one layer of a panel, in µm."),
    "note": ("job.note:note", "Record anything else worth remembering."),
    "strike": ("job.strike:strike", "Strike an entry: kept in the history, gone from all that counts."),
    "check": ("job.check:check_command", "Look whether the whole record is as it was written."),
    "outcome": ("job.outcome:outcome", "Record how a decision came out."),
}


@click.group(
    "job",
    cls=LazyGroup,
    table=COMMANDS,
    epilog="""\b
Example:
  finishmatch job new "Tarnbeck Six, Saltmarsh Blue"
  finishmatch job show J1
""",
)
def job_command() -> None:
    """Keep the record of a job: open it, record the bench's own facts, read it.

    JOB is a ref such as J1, or a job's exact title; left out, it is the job in use (job use JOB). Nothing is edited in
    place: a later entry replaces an earlier one (--replaces N --why TEXT), and the history can be read (job show JOB
    --history).
    """
