"""The written pages taken apart: headings, tables, links, and the commands they show with their output."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ELISION = "…"  # a line of this alone stands for output that was left out
_LINK = re.compile(r"(?<!!)\[[^\]]+\]\(([^)\s]+)\)")


@dataclass(frozen=True)
class Shown:
    """A command shown in a page after "$ ", and the output pasted below it.

    `start`, `body` and `end` are line numbers from 0: of the command, of its output, and of what follows.
    """

    command: str
    output: tuple[str, ...]
    indent: str
    start: int
    body: int
    end: int


def pages() -> list[Path]:
    """Return every page of the project."""
    return [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        ROOT / "swatches/README.md",
        *sorted((ROOT / "docs").rglob("*.md")),
    ]


def shown_commands(text: str) -> list[Shown]:
    """Return the commands of a page's indented code blocks, in order; a backslash joins lines."""
    lines = text.splitlines()
    found: list[Shown] = []
    at = 0
    while at < len(lines):
        head = re.match(r"( {4,})\$ (.*)", lines[at])
        if head is None:
            at += 1
            continue
        start, indent, parts = at, head[1], [head[2]]
        while parts[-1].endswith("\\"):
            at += 1
            parts[-1] = parts[-1][:-1].rstrip()
            parts.append(lines[at].strip())
        body = end = at = at + 1
        while at < len(lines) and (not lines[at].strip() or lines[at].startswith(indent)):
            if lines[at].startswith(f"{indent}$ "):
                break
            at += 1
            if lines[at - 1].strip():
                end = at
        output = tuple(line.removeprefix(indent).rstrip() for line in lines[body:end])
        found.append(Shown(" ".join(parts), output, indent, start, body, end))
        at = end
    return found


def sections(text: str) -> dict[str, str]:
    """Return each heading of a page with what stands below it, up to the next heading of its rank or higher."""
    lines = text.splitlines()
    heads = [(i, len(m[1]), m[2]) for i, line in enumerate(lines) if (m := re.match(r"(#+) (.*)", line))]
    found = {}
    for i, rank, title in heads:
        end = next((j for j, other, _ in heads if j > i and other <= rank), len(lines))
        found[title.replace("`", "").strip()] = "\n".join(lines[i:end])
    return found


def table_rows(text: str) -> list[list[str]]:
    """Return the rows of the tables in a text, header and rule rows left out."""
    rows: list[list[str]] = []
    lines = text.splitlines()
    for i, line in enumerate(lines):
        ruled = i + 1 < len(lines) and set(lines[i + 1]) <= set("|-: ") and lines[i + 1].startswith("|")
        if line.startswith("|") and not set(line) <= set("|-: ") and not ruled:
            rows.append([cell.strip() for cell in re.split(r"(?<!\\)\|", line.strip()[1:-1])])
    return rows


def links(text: str) -> list[str]:
    """Return where the links of a page lead."""
    return _LINK.findall(text)


def anchor(heading: str) -> str:
    """Return the anchor of a heading, as readers of Markdown commonly make it («common practice»)."""
    return re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-")
