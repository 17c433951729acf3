"""Where every figure of the program's data files is from: read from the files, and written into docs/sources.md.

Run: python tools/provenance.py. A TOML file says it in a table [provenance]: source, date, known, and for values known
otherwise than the rest [provenance.verified], [provenance.from_memory], [provenance.common_practice], by the path of
the value ("limits.primer", "kind.*.iso_4618"; an element of a list goes by its name). A CSV file says it in comments.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs/sources.md"
KNOWN = ("verified", "from memory", "common practice", "invented")
BEGIN, END = "<!-- made by tools/provenance.py -->", "<!-- end of what is made -->"


@dataclass(frozen=True)
class Provenance:
    """Where a data file is from, with the values known otherwise than the rest: (path, known, source)."""

    file: str
    source: str
    date: str
    known: str
    values: tuple[tuple[str, str, str], ...]
    leaves: tuple[str, ...]

    @property
    def from_memory(self) -> tuple[str, ...]:
        """What of it is still from memory: "all the rest" for what isn't named."""
        named = tuple(path for path, known, _ in self.values if known == "from memory")
        return (*named, *(("all the rest",) if self.known == "from memory" else ()))


def data_files() -> list[Path]:
    """Return every data file of the program."""
    return sorted(path for path in (ROOT / "finishmatch").glob("*/data/**/*") if path.suffix in (".toml", ".csv"))


def provenance_of(path: Path) -> Provenance:
    """Return where a data file is from, or raise KeyError when it doesn't say."""
    name, text = str(path.relative_to(ROOT / "finishmatch")), path.read_text("utf-8")
    if path.suffix == ".csv":
        said = dict(re.findall(r"^# (source|date|known): (.+)$", text, re.MULTILINE))
        return Provenance(name, said["source"], said["date"], said["known"], (), ())
    data = tomllib.loads(text)
    own = data.pop("provenance")
    values = tuple(
        (where, known, source) for known in KNOWN for where, source in own.get(known.replace(" ", "_"), {}).items()
    )
    return Provenance(name, own["source"], str(own["date"]), own["known"], values, tuple(_leaves(data)))


def covers(where: str, leaf: str) -> bool:
    """Return whether a path names a value, or a table that holds it."""
    return fnmatchcase(leaf, where) or fnmatchcase(leaf, f"{where}.*")


def _leaves(value: Any, path: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}".lstrip("."))
    elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        for i, item in enumerate(value):
            yield from _leaves(item, f"{path}.{item.get('key', item.get('name', i))}")
    else:
        yield path


def made_page(text: str) -> str:
    """Return the page with the tables of the data files as they are now."""
    lines = []
    for path in data_files():
        one = provenance_of(path)
        lines += [f"### {one.file}", "", f"{one.source}, {one.date}. {one.known.capitalize()}"]
        lines[-1] += ", but for:" if one.values else "."
        if one.values:
            lines += ["", "| value | known | source |", "|---|---|---|"]
            lines += [f"| `{where}` | {known} | {source} |" for where, known, source in one.values]
        lines.append("")
    head, rest = text.split(BEGIN)
    return f"{head}{BEGIN}\n\n" + "\n".join(lines) + f"\n{END}{rest.split(END)[1]}"


if __name__ == "__main__":
    PAGE.write_text(made_page(PAGE.read_text("utf-8")), "utf-8")
    print(f"refreshed {PAGE.relative_to(ROOT)}", file=sys.stderr)
