"""Files that are asked for: each carries a mark of its content, and none replaces what the program didn't write."""

from __future__ import annotations

import hashlib
import re
import stat
import zlib
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.files import ELSEWHERE, write_file

LARGEST_BYTES = 100_000_000  # a larger file is none of ours
_WORDS = b"written by finishmatch "
_DIGITS = 32
_OR_REPLACE = "name another file, or give `replace`"
_ZIP_END = b"\0\0"  # no remark yet
_PNG_END = b"\0\0\0\0IEND\xaeB`\x82"
# the mark as it stands in a PNG, a JPEG, a page, a PDF or a text, and a zip (its remark)
_MARK = re.compile(
    rb"\0\0\0\x40tEXtSoftware\0written by finishmatch ([0-9a-f]{32}).{4}(?=\0\0\0\0IEND)"
    rb"|\xff\xfe\0\x39written by finishmatch ([0-9a-f]{32})"
    rb"|<!-- written by finishmatch ([0-9a-f]{32}) -->\n"
    rb"|[#%] written by finishmatch ([0-9a-f]{32})\n"
    rb"|\x37\0written by finishmatch ([0-9a-f]{32})\Z",
    re.DOTALL,
)


def check_output(path: str | Path | None, replace: bool = False) -> None:
    """See that a file that is asked for takes the place of nothing but what the program wrote, as it wrote it.

    Parameters
    ----------
    path : str, Path or None
        Of a link, the file it leads to counts. A device or a pipe holds nothing that could be lost.
    replace : bool
        Whether it was said that what stands there may go.

    Raises
    ------
    InputError
        Another file stands there, or one that was changed since.
    """
    if path is None or replace:
        return
    file, where = Path(path), str(path)
    try:
        found = file.stat()
        if not stat.S_ISREG(found.st_mode):
            return  # a folder is refused where the file is written
        data = file.read_bytes() if found.st_size <= LARGEST_BYTES else b""
    except (FileNotFoundError, NotADirectoryError):
        return
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(where, f"can't be written: {reason}", ELSEWHERE) from None
    if not as_written(data):
        what = "is there already, and was not written by finishmatch, or has been changed since"
        raise InputError(where, what, _OR_REPLACE)


def write_output(path: str | Path, content: bytes | str, replace: bool = False, mend: str = ELSEWHERE) -> None:
    """Write a file that is asked for, whole or not at all, with a mark by which it is known again.

    Parameters
    ----------
    path : str or Path
    content : bytes or str
        A PNG, a JPEG, a PDF, a page (HTML, SVG), or text whose remarks start with #.
    replace : bool
        As for `check_output`.
    mend : str
        What is said to be done when it can't be written.

    Raises
    ------
    InputError
        As `check_output` and `write_file`; what stood there is then as it was.
    """
    data = marked(content.encode("utf-8") if isinstance(content, str) else content)
    check_output(path, replace)
    if not replace and (old := _begins(path)) and old != _kind(data):
        raise InputError(
            str(path), "is there already, and is another kind of file", "name another file, or give `replace`"
        )
    write_file(path, data, mend=mend)


def marked(content: bytes) -> bytes:
    """Return content with the mark of its hash, where its format has room for a remark."""
    words = _WORDS + _hash(content)
    if content.startswith(b"\x89PNG") and content.endswith(_PNG_END):
        body = b"tEXtSoftware\0" + words
        chunk = (len(body) - 4).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")
        return content[: -len(_PNG_END)] + chunk + _PNG_END
    if content.startswith(b"\xff\xd8"):
        return content[:2] + b"\xff\xfe" + (len(words) + 2).to_bytes(2, "big") + words + content[2:]
    if content.startswith(b"PK\x03\x04") and content.endswith(_ZIP_END):
        bare = content[:-2]
        words = _WORDS + _hash(bare)
        return bare + len(words).to_bytes(2, "little") + words
    if content.lstrip().startswith(b"<"):
        return content + b"<!-- " + words + b" -->\n"
    if content.startswith(b"%PDF") and (end := content.rfind(b"startxref")) > 0:
        # in front of the end: an archive's PDF has nothing behind it (ISO 19005-2, 6.1.3)
        return content[:end] + b"% " + words + b"\n" + content[end:]
    return content + b"# " + words + b"\n"


def unmarked(text: str) -> str:
    """Return a text without the line that marks it as the program's, as it was before it was written."""
    return _MARK.sub(b"", text.encode("utf-8")).decode("utf-8")


def as_written(data: bytes) -> bool:
    """Return whether bytes are a file that the program wrote and nobody has changed since."""
    found = list(_MARK.finditer(data))
    if not found:
        return False
    # what a file quotes may hold a mark too: of a JPEG its own is the first, of all others the last
    mark = found[0] if data.startswith(b"\xff\xd8") else found[-1]
    written = next(digits for digits in mark.groups() if digits)
    return bool(_hash(data[: mark.start()] + data[mark.end() :]) == written)


def _begins(path: str | Path) -> str:
    """Return the kind of the file that stands somewhere, or ""."""
    if not Path(path).is_file():
        return ""
    with Path(path).open("rb") as file:
        return _kind(file.read(100))


def _kind(data: bytes) -> str:
    kinds = {b"\x89PNG": "PNG", b"\xff\xd8": "JPEG", b"%PDF": "PDF", b"<": "page", b"PK\x03\x04": "zip"}
    return next((kind for begins, kind in kinds.items() if data.lstrip().startswith(begins)), "text")


def _hash(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest()[:_DIGITS].encode()
