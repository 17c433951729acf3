"""Photographs on their way to a job: sent in parts, which go on after a broken connection, kept for who sent them."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock

from finishmatch.errors import InputError
from finishmatch.steps.photo.photo_read import PhotoRead
from finishmatch.steps.photo.photo_shown import photo_shown

SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".dng")
LARGEST = 120_000_000  # bytes of one
LARGEST_PART = 1_000_000
MOST_OF_A_DEVICE = 12
MOST_IN_ALL = 40
KEPT_FOR_S = 7200.0  # since it was used last
SHOWN_FILE = "shown.jpg"

Seconds = Callable[[], float]


@dataclass
class Photograph:
    """A photograph that was sent, or is being sent.

    Parameters
    ----------
    key : str
        By which it is asked for; nobody guesses it.
    owner : str
        The device it belongs to.
    job : str
    name : str
        What its file was called.
    size : int
        Bytes in all.
    path : Path
        Where it lies, under a name of our own.
    came : int
        Bytes that have come.
    whole : bool
        Whether it has come, and is a picture.
    pixels : (int, int)
        Width and height of the upright picture.
    regions : tuple of str
        The samples that were marked, as "NAME=x,y,w,h"; none is those that are found.
    light : str
        For which it is read.
    read : PhotoRead or None
    used_at : float
    """

    key: str
    owner: str
    job: str
    name: str
    size: int
    path: Path
    used_at: float
    came: int = 0
    whole: bool = False
    pixels: tuple[int, int] = (0, 0)
    regions: tuple[str, ...] = ()
    light: str = "D65"
    read: PhotoRead | None = None
    lock: RLock = field(default_factory=RLock, repr=False)

    @property
    def shown(self) -> Path:
        """The picture of our own that is shown of it."""
        return self.path.with_name(SHOWN_FILE)


class Photographs:
    """All of them, in a folder of their own that is gone when the bench closes.

    Parameters
    ----------
    now : callable
        A clock, in seconds.
    """

    def __init__(self, now: Seconds = time.monotonic) -> None:
        self._now = now
        self._lock = RLock()
        self._folder: Path | None = None
        self._kept: dict[str, Photograph] = {}

    def begin(self, owner: str, job: str, name: str, size: int) -> Photograph:
        """Make room for a photograph that is going to be sent; the oldest gives way where there are too many.

        Raises
        ------
        InputError
            A kind of file that isn't read, too large, empty.
        """
        said = name.replace("\\", "/").rpartition("/")[2]
        stem, _, end = said.rpartition(".")
        suffix = f".{end.lower()}"
        if not stem or suffix not in SUFFIXES:
            raise InputError(
                f"{said[:40]!r}", "is not a kind of photograph that is read here", "take JPEG, HEIC or DNG"
            )
        if not 0 < size <= LARGEST:
            what = "is empty" if size <= 0 else f"has {size / 1e6:.0f} MB"
            raise InputError(f"{said[:40]!r}", what, f"a photograph has up to {LARGEST / 1e6:g} MB")
        with self._lock:
            self._clear(owner)
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="finishmatch-photographs-"))
            key = secrets.token_urlsafe(24)
            own = self._folder / secrets.token_hex(16)
            own.mkdir(mode=0o700)
            path = own / f"{re.sub(r'[^A-Za-z0-9_-]+', '-', stem).strip('-')[:60] or 'photograph'}{suffix}"
            path.touch(mode=0o600)
            kept = self._kept[key] = Photograph(key, owner, job, said[:80], size, path, self._now())
        return kept

    def of(self, owner: str, job: str, key: str) -> Photograph | None:
        """Return a photograph of a device in a job; None where there is none such, or not any more."""
        with self._lock:
            kept = self._kept.get(key)
            if kept is None or kept.owner != owner or kept.job != job:
                return None
            kept.used_at = self._now()
            return kept

    def forget_what_was_read(self) -> None:
        """Have every photograph read anew when it is looked at next: what all are read by has changed."""
        with self._lock:
            kept = list(self._kept.values())
        for one in kept:
            with one.lock:
                one.read = None

    def all_of(self, owner: str, job: str) -> tuple[Photograph, ...]:
        """Return the photographs of a device in a job that have come, the newest first."""
        with self._lock:
            mine = [one for one in self._kept.values() if (one.owner, one.job) == (owner, job) and one.whole]
        return tuple(reversed(mine))

    def add(self, kept: Photograph, offset: int, part: bytes) -> int:
        """Add a part where it belongs, and return how much has come; a part that came before changes nothing.

        Raises
        ------
        InputError
            More than was said.
        """
        with kept.lock:
            if kept.whole or offset != kept.came:
                return kept.came
            if kept.came + len(part) > kept.size:
                raise InputError(kept.name, "is longer than was said", "send it anew")
            with kept.path.open("r+b") as file:
                file.seek(offset)
                file.write(part)
            kept.came += len(part)
            return kept.came

    def finish(self, kept: Photograph) -> None:
        """See that a photograph has come whole and is a picture, and make the one that is shown of it.

        Raises
        ------
        InputError
            It hasn't, or isn't one: it is dropped then.
        """
        with kept.lock:
            if kept.whole:
                return
            if kept.came != kept.size:
                raise InputError(kept.name, f"{kept.came} of {kept.size} bytes have come", "go on sending it")
            try:
                shown = photo_shown(kept.path)
            except InputError:
                self.drop(kept)
                raise
            kept.shown.write_bytes(shown.jpeg)
            kept.pixels, kept.whole = shown.size, True

    def drop(self, kept: Photograph) -> None:
        """Take a photograph away."""
        with self._lock:
            self._kept.pop(kept.key, None)
        shutil.rmtree(kept.path.parent, ignore_errors=True)

    def close(self) -> None:
        """Take all of them away."""
        with self._lock:
            self._kept.clear()
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
                self._folder = None

    def _clear(self, owner: str) -> None:
        """Take away what was left lying, and what is too much once another comes."""
        now = self._now()
        for one in [one for one in self._kept.values() if now - one.used_at > KEPT_FOR_S]:
            self.drop(one)
        mine = sorted((one for one in self._kept.values() if one.owner == owner), key=lambda one: one.used_at)
        for one in mine[: max(0, len(mine) - MOST_OF_A_DEVICE + 1)]:
            self.drop(one)
        rest = sorted(self._kept.values(), key=lambda one: one.used_at)
        for one in rest[: max(0, len(rest) - MOST_IN_ALL + 1)]:
            self.drop(one)
