"""A bundle: a zip whose list names every file in it with its hash; read without trust, and never unpacked to a disk."""

from __future__ import annotations

import hashlib
import io
import json
import stat
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from finishmatch.errors import InputError
from finishmatch.files import read_file

FORMAT, VERSION = "finishmatch bundle", 1
LIST = "manifest.json"
MOST_BYTES = 768 * 2**20  # of all files together, unpacked
MOST_PACKED = 768 * 2**20
MOST_FILES = 20_000
MOST_JSON = 96 * 2**20
SWELLS, SWELLS_FROM = 100, 50 * 2**20  # times its own size: no honest bundle unpacks to so much
_DISTRUST = "don't trust it: ask for it again"
_AGAIN = "copy it again from where it came"


@dataclass(frozen=True)
class Bundle:
    """The files of a bundle by name, when it was made, and the SHA-256 of the zip."""

    files: Mapping[str, bytes]
    made_at: str
    sha256: str


def packed(files: Mapping[str, bytes], made_at: str) -> bytes:
    """Return files as a bundle; the same files at the same time are the same bundle."""
    listed = [{"name": n, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)} for n, data in files.items()]
    head = {"format": FORMAT, "version": VERSION, "made_at": made_at, "files": listed}
    when = max(datetime.fromisoformat(made_at), datetime.fromisoformat("1980-01-01T00:00:00+00:00")).timetuple()[:6]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in ((LIST, as_json(head)), *files.items()):
            info = zipfile.ZipInfo(name, when)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            archive.writestr(info, data)
    return out.getvalue()


def as_json(document: Any) -> bytes:
    """Return a document as JSON that a person can read too."""
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def read_bundle(path: Path) -> Bundle:
    """Read a bundle, and see that every file in it is the one its list names.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        No zip, a damaged one, a bomb, links or names that lead out of it, files that were changed, added or taken
        out, a newer form.
    """
    where = str(path)
    data = read_file(path, MOST_PACKED)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = trusted_files(archive.infolist(), len(data), where)
            head = _listed(archive, infos, where)
            files = {str(one["name"]): _content(archive, infos, one, where) for one in head["files"]}
    except InputError:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, RuntimeError, ValueError) as error:
        raise InputError(where, f"is not a bundle, or is damaged ({str(error)[:60] or 'cut short'})", _AGAIN) from None
    if unnamed := sorted(set(infos) - set(files) - {LIST}):
        raise InputError(where, f"holds {unnamed[0][:60]!r}, which its list doesn't name", _DISTRUST)
    return Bundle(files, str(head["made_at"]), hashlib.sha256(data).hexdigest())


def trusted_files(
    infos: list[zipfile.ZipInfo], size: int, where: str, most: int = MOST_BYTES, holds: str = "a job"
) -> dict[str, zipfile.ZipInfo]:
    """Return what a zip holds, by name, after looking at all that can be seen from outside.

    Parameters
    ----------
    infos : list of ZipInfo
    size : int
        Bytes of the zip.
    where : str
        Its path.
    most : int
        Bytes it may unpack to.
    holds : str
        What it is said to hold.

    Raises
    ------
    InputError
        Names that lead out of it, links, passwords, a bomb.
    """
    found: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.filename
        path = PurePosixPath(name)
        if "\\" in name or "\0" in name or path.is_absolute() or ".." in path.parts or ":" in name or not name:
            raise InputError(where, f"holds {name[:60]!r}, a name that leads out of it", _DISTRUST)
        if stat.S_ISLNK(info.external_attr >> 16):
            raise InputError(where, f"holds {name[:60]!r}, which is a link", _DISTRUST)
        if name in found:
            raise InputError(where, f"holds {name[:60]!r} twice", _DISTRUST)
        if info.flag_bits & 1:
            raise InputError(where, "is locked with a password", "ask for it without one")
        if not info.is_dir():
            found[name] = info
    whole = sum(info.file_size for info in found.values())
    bomb = whole > MOST_BYTES or (whole > SWELLS_FROM and whole > SWELLS * size)
    if bomb or len(found) > MOST_FILES or sum(info.compress_size for info in found.values()) > size:
        raise InputError(where, f"would unpack to far more than {holds} holds", _DISTRUST)
    return found


def _listed(archive: zipfile.ZipFile, infos: Mapping[str, zipfile.ZipInfo], where: str) -> dict[str, Any]:
    """Return the list of a bundle, after seeing that it is one of a form known here."""
    if LIST not in infos:
        raise InputError(where, f"is a zip, but no bundle: it has no {LIST}", "name a file that export wrote")
    head = read_json(_unpacked(archive, infos[LIST], where), f"{where}, {LIST}")
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise InputError(where, "is no bundle of a job", "name a file that export wrote")
    check_version(head.get("version"), VERSION, where)
    files = head.get("files")
    fine = isinstance(files, list) and all(map(_names_a_file, files))
    if not fine or not isinstance(head.get("made_at"), str):
        raise InputError(f"{where}, {LIST}", "doesn't list its files", _DISTRUST)
    return head


def _names_a_file(one: Any) -> bool:
    return isinstance(one, dict) and isinstance(one.get("name"), str) and isinstance(one.get("sha256"), str)


def check_version(version: Any, known: int, where: str) -> None:
    """See that a form is known here.

    Raises
    ------
    InputError
        It is a newer one, or none.
    """
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(where, "doesn't say of which form it is", _DISTRUST)
    if version > known:
        raise InputError(
            where, f"is of a newer form ({version}) than this program knows", "bring finishmatch up to date"
        )


def _content(
    archive: zipfile.ZipFile, infos: Mapping[str, zipfile.ZipInfo], listed: Mapping[str, Any], where: str
) -> bytes:
    name = str(listed["name"])
    if name not in infos:
        raise InputError(where, f"lacks {name[:60]!r}, which its list names", _DISTRUST)
    data = _unpacked(archive, infos[name], where)
    if hashlib.sha256(data).hexdigest() != listed["sha256"]:
        raise InputError(where, f"{name[:60]!r} in it was changed", _DISTRUST)
    return data


def _unpacked(archive: zipfile.ZipFile, info: zipfile.ZipInfo, where: str) -> bytes:
    """Return the content of a file; one that holds more than it says is refused as soon as that shows."""
    with archive.open(info) as file:
        data = file.read(info.file_size + 1)
    if len(data) != info.file_size:
        raise InputError(where, f"{info.filename[:60]!r} in it isn't as large as it says", _DISTRUST)
    return data


def read_json(data: bytes, where: str) -> Any:
    """Return what JSON says.

    Raises
    ------
    InputError
        It is none, too large, or too deep.
    """
    if len(data) > MOST_JSON:
        raise InputError(where, "is larger than the record of any job", _DISTRUST)
    try:
        return json.loads(data.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise InputError(where, "is not JSON that can be read", _DISTRUST) from None


def _no_number(text: str) -> Any:
    raise ValueError(text)
