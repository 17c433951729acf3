"""A backup: a zip of the ledger and what lies beside it, whose list names every file with its hash; read in bounds."""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from finishmatch.errors import InputError
from finishmatch.files import open_regular
from finishmatch.ledger.restoring import LEDGER, belongs
from finishmatch.steps.handover.bundle_file import LIST, as_json, check_version, read_json, trusted_files

FORMAT, VERSION = "finishmatch backup", 1
MOST_BYTES = 2**40  # unpacked; the disk is asked before
MOST_LIST = 16 * 2**20
_PIECE = 2**20
_ANOTHER = "take another backup"
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)


@dataclass(frozen=True)
class BackupList:
    """What a backup says of itself: when it was made, and how many jobs and entries its record holds."""

    made_at: str
    jobs: int
    entries: int
    files: Mapping[str, tuple[str, int]]  # by name: SHA-256 and bytes

    @property
    def beside(self) -> tuple[str, ...]:
        """What lies beside the ledger."""
        return tuple(name for name in self.files if name != LEDGER)


def pack(out: IO[bytes], paths: Mapping[str, Path], made_at: str, counts: tuple[int, int]) -> BackupList:
    """Write files as a backup, piece by piece.

    Parameters
    ----------
    out : file
    paths : mapping of str to Path
        The files by their name in the backup.
    made_at : str
        UTC in ISO 8601.
    counts : (int, int)
        Jobs and entries.
    """
    listed = BackupList(made_at, *counts, {name: _hashed(path) for name, path in paths.items()})
    files = [{"name": name, "sha256": sha256, "bytes": size} for name, (sha256, size) in listed.files.items()]
    head = {"format": FORMAT, "version": VERSION, "made_at": made_at, "jobs": counts[0], "entries": counts[1]}
    when = max(datetime.fromisoformat(made_at), datetime.fromisoformat("1980-01-01T00:00:00+00:00")).timetuple()[:6]
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr(_private(LIST, when), as_json(head | {"files": files}))
        for name, path in paths.items():
            info = _private(name, when)
            info.file_size = path.stat().st_size  # so that it is written as one over 4 GB where it is
            with path.open("rb") as source, archive.open(info, "w") as into:
                shutil.copyfileobj(source, into, _PIECE)
    return listed


def _private(name: str, when: tuple[int, ...]) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, (when[0], when[1], when[2], when[3], when[4], when[5]))
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = (stat.S_IFREG | 0o600) << 16
    return info


def _hashed(path: Path) -> tuple[str, int]:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest(), path.stat().st_size


def is_backup(path: Path) -> bool:
    """Return whether a file is a backup that can be read, without looking at more of it than its list."""
    with suppress(InputError), opened_backup(path):
        return True
    return False


class OpenBackup:
    """A backup that is open; its list was read and can be trusted to name files of a record alone."""

    def __init__(self, archive: zipfile.ZipFile, infos: Mapping[str, zipfile.ZipInfo], where: str) -> None:
        self._archive, self._infos, self._where = archive, infos, where
        self.listed = _listed(archive, infos, where)

    def unpack(self, folder: Path) -> None:
        """Write the files of the backup into an empty folder, and see that each is the one its list names.

        Raises
        ------
        InputError
            A file that isn't, a full disk.
        """
        whole = sum(size for _, size in self.listed.files.values())
        if whole > shutil.disk_usage(folder).free:
            raise InputError(str(folder), f"has no room for {whole / 1e6:.0f} MB", "make room and do it again")
        for name, (sha256, size) in self.listed.files.items():
            target = folder / name
            try:
                for above in reversed(target.relative_to(folder).parents):
                    (folder / above).mkdir(mode=0o700, exist_ok=True)
                handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            except OSError as error:
                raise InputError(str(folder), f"can't be written: {error.strerror}", "check the folder") from None
            with os.fdopen(handle, "wb") as into:
                found = self._copied(name, size, into)
            if found != sha256:
                raise InputError(self._where, f"{name[:60]!r} in it was changed or is damaged", _ANOTHER)

    def _copied(self, name: str, size: int, into: IO[bytes]) -> str:
        """Copy a file of so many bytes out of the backup and return its hash; of one with more no more is read."""
        digest, left = hashlib.sha256(), size
        try:
            with self._archive.open(self._infos[name]) as source:
                while left > 0 and (piece := source.read(min(_PIECE, left))):
                    digest.update(piece)
                    left -= len(piece)
                    _write(into, piece)
                more = source.read(1)
        except InputError:
            raise
        except _DAMAGED as error:
            raise InputError(self._where, f"{name[:60]!r} in it is damaged ({str(error)[:60]})", _ANOTHER) from None
        return "" if left or more else digest.hexdigest()


def _write(into: IO[bytes], piece: bytes) -> None:
    try:
        into.write(piece)
    except OSError as error:
        where = str(getattr(into, "name", ""))
        raise InputError(where, f"can't be written: {error.strerror}", "make room and do it again") from None


@contextmanager
def opened_backup(path: Path) -> Iterator[OpenBackup]:
    """Open a backup, and read its list.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        No backup, a damaged one, one of a newer form, names that don't belong to a record or lead out of it.
    """
    where = str(path)
    with open_regular(path, "name a file that backup wrote") as file:
        size = os.fstat(file.fileno()).st_size
        try:
            archive = zipfile.ZipFile(file)
        except _DAMAGED as error:
            what = f"is not a backup, or is damaged ({str(error)[:60] or 'cut short'})"
            raise InputError(where, what, _ANOTHER) from None
        with archive:
            yield OpenBackup(archive, trusted_files(archive.infolist(), size, where, MOST_BYTES, "a record"), where)


def _listed(archive: zipfile.ZipFile, infos: Mapping[str, zipfile.ZipInfo], where: str) -> BackupList:
    if LIST not in infos or infos[LIST].file_size > MOST_LIST:
        raise InputError(where, f"is a zip, but no backup: it has no {LIST}", "name a file that backup wrote")
    try:
        head = read_json(archive.read(infos[LIST]), f"{where}, {LIST}")
    except InputError:
        raise
    except _DAMAGED as error:
        raise InputError(where, f"its list is damaged ({str(error)[:60]})", _ANOTHER) from None
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise InputError(where, "is no backup of a record", "name a file that backup wrote")
    check_version(head.get("version"), VERSION, where)
    files = head.get("files")
    counts = (head.get("jobs"), head.get("entries"))
    if not isinstance(files, list) or not isinstance(head.get("made_at"), str) or not all(map(_is_whole, counts)):
        raise InputError(f"{where}, {LIST}", "doesn't list its files", _ANOTHER)
    found = dict(_named(one, infos, where) for one in files)
    if LEDGER not in found or len(found) != len(files) or set(infos) - set(found) - {LIST}:
        raise InputError(where, "doesn't hold what its list names, or holds more", _ANOTHER)
    return BackupList(head["made_at"], head["jobs"], head["entries"], found)


def _named(one: Any, infos: Mapping[str, zipfile.ZipInfo], where: str) -> tuple[str, tuple[str, int]]:
    name, sha256, size = (one.get(key) if isinstance(one, dict) else None for key in ("name", "sha256", "bytes"))
    if not isinstance(name, str) or not isinstance(sha256, str) or not _is_whole(size):
        raise InputError(f"{where}, {LIST}", "doesn't list its files", _ANOTHER)
    if name not in infos or infos[name].file_size != size:
        raise InputError(where, f"{name[:60]!r} in it was changed or is damaged", _ANOTHER)
    if name != LEDGER and not belongs(name):
        raise InputError(where, f"holds {name[:60]!r}, which belongs to no record", "don't trust it")
    return name, (sha256, int(size))


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0
