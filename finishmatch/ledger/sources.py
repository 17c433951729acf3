"""The files entries were found with: kept once, under the hash of their content; photographs without their place."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.files import read_file
from finishmatch.ledger.clean_values import clean_line
from finishmatch.ledger.plain_errors import PUT_BACK
from finishmatch.ledger.rows import EntryRow, EntrySourceRow, SourceFileRow, SourceLeftRow
from finishmatch.photo.without_place import is_picture, place_is_kept, without_place

LARGEST_FILE = 256_000_000  # bytes; a photograph has some tens of millions

# files for every entry recorded together, or for each by its index
Sources = Sequence[Path] | Mapping[int, Sequence[Path]]


@dataclass(frozen=True)
class SourceFile:
    """A file as it was when it was read; a photograph without its place, unless `place_kept`."""

    name: str
    content: bytes
    sha256: str


def read_sources(sources: Sources, count: int) -> list[list[SourceFile]]:
    """Read the files of entries recorded together, each once; nothing is written yet.

    Parameters
    ----------
    sources : sequence of Path, or mapping of int to sequence of Path
        Files all the entries were found with, or per index.
    count : int
        How many entries there are.

    Raises
    ------
    InputError
        A file that can't be read or is too large, a photograph from which the place can't be taken.
    """
    by_index = sources if isinstance(sources, Mapping) else dict.fromkeys(range(count), sources)
    if unknown := [index for index in by_index if not 0 <= index < count]:
        raise IndexError(f"sources for entry {unknown[0]} of {count}")
    read: dict[Path, SourceFile] = {}
    for paths in by_index.values():
        for path in map(Path, paths):
            if path not in read:
                read[path] = _read(path)
    # the same file named twice for an entry is one source
    return [[read[path] for path in dict.fromkeys(map(Path, by_index.get(index, ())))] for index in range(count)]


def _read(path: Path) -> SourceFile:
    content = read_file(path, LARGEST_FILE, f"the ledger keeps files below {LARGEST_FILE // 1_000_000} MB")
    if not place_is_kept() and is_picture(path.name, content):
        content = _without_place(path, content)
    return SourceFile(clean_line(str(path), path.name), content, hashlib.sha256(content).hexdigest())


def _without_place(path: Path, content: bytes) -> bytes:
    bare = without_place(path.name, content)
    if bare is None:
        what = "may say where it was taken, and that can't be taken out of it with certainty"
        raise InputError(str(path), what, "keep it as it is with `keep_place`, or save it as DNG or JPEG")
    return bare


def keep_sources(session: Session, row: EntryRow, files: Sequence[SourceFile]) -> None:
    """Add an entry's files to the ledger, their content only where it isn't kept yet."""
    for position, file in enumerate(files):
        if not session.scalar(select(exists().where(SourceFileRow.sha256 == file.sha256))):
            session.add(SourceFileRow(sha256=file.sha256, content=file.content))
            session.flush()
        row.sources.append(EntrySourceRow(position=position, name=file.name, sha256=file.sha256))


def kept_bytes(session: Session, sha256: str, where: str) -> bytes:
    """Return the content kept under a hash, and see that it still has that hash.

    Raises
    ------
    InputError
        When there is none, or it is damaged.
    """
    content = session.scalar(select(SourceFileRow.content).where(SourceFileRow.sha256 == sha256))
    if content is None:
        raise InputError(where, f"no file is kept under {sha256[:16]}…", "take the hash from the story of its job")
    if hashlib.sha256(content).hexdigest() != left_of(session, sha256):
        raise InputError(where, f"the file kept under {sha256[:16]}… is damaged", PUT_BACK)
    return content


def left_of(session: Session, sha256: str) -> str:
    """Return the hash of what is kept of a file: its own, or that of the part of it that was imported."""
    left = session.scalar(select(SourceLeftRow.left_sha256).where(SourceLeftRow.sha256 == sha256))
    return left or sha256
