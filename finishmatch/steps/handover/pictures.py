"""The photographs that are kept with a job, laid straight for a page."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.straighten import Straight, straightened
from finishmatch.photo.without_place import is_picture
from finishmatch.steps.handover.kept_job import KeptJob

MOST = 6


@dataclass(frozen=True)
class JobPicture:
    """A photograph kept with a job: its name, what it is of, and the picture laid straight."""

    name: str
    of: tuple[str, ...]
    straight: Straight


@dataclass(frozen=True)
class JobPictures:
    """The photographs that are shown, and how many more there are."""

    shown: tuple[JobPicture, ...]
    left: int


def job_pictures(kept: KeptJob, most: int = MOST) -> JobPictures:
    """Return the photographs of a job, the newest where there are many, without those that can't be opened."""
    of: dict[str, list[str]] = {}
    for view in kept.views:
        for _, sha256 in view.sources:
            of.setdefault(sha256, []).append(str(getattr(view.entry, "name", "")))
    found = [(sha256, name, data) for sha256, (name, data) in kept.files.items() if is_picture(name, data)]
    shown = []
    for sha256, name, data in found[-most:]:
        with tempfile.TemporaryDirectory(prefix="finishmatch-") as folder:
            file = Path(folder) / f"picture{Path(name).suffix}"
            file.write_bytes(data)
            try:
                straight = straightened(open_picture(file))
            except InputError:
                continue
        named = tuple(dict.fromkeys(text for text in of.get(sha256, ()) if text))
        shown.append(JobPicture(Path(name).name, named[:6], straight))
    return JobPictures(tuple(shown), len(found) - len(shown))
