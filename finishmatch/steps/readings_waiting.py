"""The colours that photographs told of a job's samples, which wait to be weighed for its target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from finishmatch.ledger import EntryView, ReadingEntry, TargetEntry
from finishmatch.ledger.evidence_weighed import read_since, rests_on
from finishmatch.optics.camera_look import CameraSaw
from finishmatch.readings.look_form import saw_again, saw_cell

AS_READ = ("light", "observer", "geometry", "u95", "u95_own", "picture", "camera_saw")  # what it says besides a colour
HASH_SHOWN = 12


@dataclass(frozen=True)
class WaitingReading:
    """A reading that wasn't weighed yet.

    Parameters
    ----------
    number : int
        Of its entry.
    name : str
    lab : tuple of float
    light, observer, geometry
        How it was read.
    u95 : float
        The ΔE00 within which it lies 95 times in 100.
    u95_own : float or None
        The part of that which it doesn't share with the others of its photographs.
    pictures : tuple of str
        Its photographs, by the beginning of their files' hash.
    camera_saw : tuple of CameraSaw
    """

    number: int
    name: str
    lab: tuple[float, float, float]
    light: str
    observer: int
    geometry: str
    u95: float
    u95_own: float | None = None
    pictures: tuple[str, ...] = ()
    camera_saw: tuple[CameraSaw, ...] = ()

    @property
    def figures(self) -> tuple[str, str, str]:
        """L*, a* and b* as they are shown."""
        L, a, b = (f"{round(value, 2) + 0.0:.2f}" for value in self.lab)
        return L, a, b

    def told_as(self, lab: Sequence[float]) -> bool:
        """Whether a colour is this one as it was shown."""
        return [f"{round(value, 2) + 0.0:.2f}" for value in lab] == list(self.figures)

    def as_row(self) -> dict[str, Any]:
        """Return its columns of an evidence file."""
        colour = dict(zip("Lab", self.lab, strict=True))
        read = {"light": self.light, "observer": self.observer, "geometry": self.geometry, "u95": self.u95}
        own = {} if self.u95_own is None or not self.pictures else {"u95_own": self.u95_own}
        saw = {"picture": "; ".join(self.pictures), "camera_saw": saw_cell(self.lab, self.camera_saw)}
        return dict.fromkeys(AS_READ, "") | colour | read | own | saw


def readings_waiting(entries: Sequence[EntryView]) -> tuple[WaitingReading, ...]:
    """Return the readings of a job whose doubt is known, as that of photographs, and that no target was weighed after.

    Parameters
    ----------
    entries : sequence of EntryView
        Of the job.

    Notes
    -----
    Where one that was weighed was read again since, all photographs' readings in that target wait once more.
    """
    standing = [view for view in entries if view.stands]
    last = max((view for view in standing if isinstance(view.entry, TargetEntry)), key=_place, default=None)
    anew = last is not None and any(read_since(last, view) for view in standing if isinstance(view.entry, ReadingEntry))
    found = []
    for view in standing:
        one = view.entry
        if not isinstance(one, ReadingEntry) or one.u95 is None:
            continue
        if last is not None and view.place < last.place and not (anew and _photographed(one) and rests_on(last, view)):
            continue
        L, a, b = one.lab
        pictures = tuple(sha256[:HASH_SHOWN] for _, sha256 in view.sources)
        read = (one.light, one.observer, one.geometry, one.u95, one.u95_own, pictures, saw_again(one.camera_saw))
        found.append(WaitingReading(view.number, one.name, (L, a, b), *read))
    return tuple(found)


def _place(view: EntryView) -> int:
    return view.place


def _photographed(reading: ReadingEntry) -> bool:
    """Return whether it is what a photograph told, not what of it was weighed, which is kept beside it."""
    return reading.role == "photograph"
