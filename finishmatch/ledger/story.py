"""The story of a job, in order, and what is open in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.ledger.entries import StrengthEntry, StrikeEntry
from finishmatch.ledger.open_items import OpenItem, find_open
from finishmatch.ledger.parts_aside import PartAside, parts_aside
from finishmatch.ledger.strengths import fallen_since
from finishmatch.ledger.views import EntryView, JobView
from finishmatch.ledger.wording import describe_entry, kind_word


@dataclass(frozen=True)
class StoryLine:
    """One entry as it is shown.

    Parameters
    ----------
    number : int
        Of the entry.
    made_at : str
        UTC in ISO 8601.
    kind : str
        The word of the trade for its kind.
    text : str
        What it says.
    remark : str
        "replaced by #7: reason", "replaces #4: reason", "rests on #8 too, which counts no more", or "".
    struck : bool
        Whether it has been replaced or struck, so that it counts no more.
    files : tuple of str
        Names of the files it was found with.
    lab : tuple of float, or None
        Its colour, for a swatch.
    """

    number: int
    made_at: str
    kind: str
    text: str
    remark: str
    struck: bool
    files: tuple[str, ...]
    lab: tuple[float, ...] | None


@dataclass(frozen=True)
class Story:
    """A job, its lines in order (struck ones included), what is open, and what of its tins stands aside."""

    job: JobView
    lines: tuple[StoryLine, ...]
    open: tuple[OpenItem, ...]
    aside: tuple[PartAside, ...] = ()

    @property
    def current(self) -> tuple[StoryLine, ...]:
        """The lines that count: neither replaced nor struck, and no strikes."""
        return tuple(line for line in self.lines if not line.struck and line.kind != StrikeEntry.KIND)


def job_story(job: JobView, entries: Sequence[EntryView]) -> Story:
    """Return the story of a job in a painter's words.

    Parameters
    ----------
    job : JobView
    entries : sequence of EntryView
        All its entries, replaced ones included, in any order.

    Returns
    -------
    Story
        A replaced entry is followed at once by what replaced it, where the first of them stood.
    """
    reasons = {view.number: _why(view) for view in entries}
    ordered = sorted(entries, key=lambda view: (view.place, view.number))
    lines = tuple(_line(view, reasons, entries) for view in ordered)
    return Story(job, lines, tuple(find_open(entries)), parts_aside(entries))


def _why(view: EntryView) -> str:
    return view.entry.why if isinstance(view.entry, StrikeEntry) else view.reason


def _line(view: EntryView, reasons: dict[int, str], entries: Sequence[EntryView]) -> StoryLine:
    remark = ""
    if view.struck_by is not None:
        remark = f"struck by #{view.struck_by}: {reasons[view.struck_by]}"
    elif view.fell_with is not None:
        remark = f"fell with #{view.fell_with}, which was struck"
    elif view.superseded_by is not None:
        remark = f"replaced by #{view.superseded_by}: {reasons[view.superseded_by]}"
    elif view.supersedes is not None:
        remark = f"replaces #{view.supersedes}: {view.reason}"
    if not remark and isinstance(view.entry, StrengthEntry) and (fallen := fallen_since(entries, view)):
        numbers = ", ".join(f"#{other.number}" for other in fallen)
        remark = f"rests on {numbers} too, which {'counts' if len(fallen) == 1 else 'count'} no more"
    return StoryLine(
        number=view.number,
        made_at=view.made_at,
        kind=kind_word(view.kind),
        text=describe_entry(view.entry),
        remark=remark,
        struck=not view.stands,
        files=tuple(name for name, _ in view.sources),
        lab=getattr(view.entry, "lab", None),
    )
