"""What the pictures of a seen.csv are called: by their files, and told apart where two different ones are called alike.

Which picture a name stands for is kept in remarks of the table, `# picture SHA-256 "NAME"`: phones number their
pictures anew, so a name alone would let one take the rows of another.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from finishmatch.files import read_file

DIGITS = 16  # of a SHA-256: enough that no two pictures of a shop have them in common
_REMARK = re.compile(r'# picture ([0-9a-f]{16}) (".*")')
_LARGEST = 100_000_000
_OF_AN_UPLOAD = re.compile(r"[0-9a-f]{32}")  # such a folder's name tells nobody anything


def pictures_kept(table: Path) -> dict[str, str]:
    """Return of which picture each name in a table is, by the first digits of its SHA-256; none where it isn't said."""
    if not table.is_file():
        return {}
    text = read_file(table, _LARGEST).decode("utf-8", "replace")
    found = (_REMARK.fullmatch(line.rstrip("\r")) for line in text.split("\n"))
    kept: dict[str, str] = {}
    for one in found:
        if one is not None:
            try:
                kept[str(json.loads(one[2]))] = one[1]
            except ValueError:  # nobody wrote that but by hand
                continue
    return kept


def with_remarks(table: str, pictures: Mapping[str, str], stay: Collection[str]) -> str:
    """Return a table with the remarks after its first line that keep of which picture, by its SHA-256, a name is.

    Parameters
    ----------
    table : str
    pictures : mapping of str to str
    stay : collection of str
        The names that rows of the table have.
    """
    head, rest = table.split("\n", 1)
    told = (f"# picture {digest[:DIGITS]} {json.dumps(name)}\n" for name, digest in pictures.items() if name in stay)
    return f"{head}\n{''.join(told)}{rest}"


def called(
    paths: Sequence[Path], digests: Sequence[str], kept: Mapping[str, str], standing: Collection[str]
) -> tuple[str, ...]:
    """Return what each photograph is called: its name, with its folder or digits where another picture has that.

    Parameters
    ----------
    paths : sequence of Path
    digests : sequence of str
        The SHA-256 of each.
    kept : mapping of str to str
        Of `pictures_kept`.
    standing : collection of str
        The names that rows of the table have. One that no remark tells of is taken for the picture that is called so.
    """
    taken, names = dict(kept), list[str]()
    for path, digest in zip(paths, digests, strict=True):
        digits, folder = digest[:DIGITS], path.resolve().parent.name
        in_folder = [f"{folder}/{path.name}"] if folder and not _OF_AN_UPLOAD.fullmatch(folder) else []
        choices = [path.name, *in_folder, f"{path.name} ({digits[:6]})"]
        known = [name for name, its in taken.items() if its == digits and _bears(name, path.name)]  # wherever it lies
        untold = [path.name] if path.name in standing and path.name not in taken else []
        free = [name for name in choices if name not in taken and name not in standing]
        names.append((*known, *untold, *free, f"{path.name} ({digits})")[0])
        taken[names[-1]] = digits
    return tuple(names)


def _bears(name: str, file: str) -> bool:
    return name == file or name.endswith(f"/{file}") or name.startswith(f"{file} (")
