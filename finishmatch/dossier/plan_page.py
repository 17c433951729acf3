"""A plan as one page that prints on one sheet: what was asked, what comes out, the cautions that bear."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.dossier.page import Table, filled

LETTERS = 48  # about a printed line of a column
ROOMY = 95  # lines of both columns together that a sheet of letter takes at the larger size


@dataclass(frozen=True)
class Part:
    """A part of a plan: its answer, lines of label and value, tables, and notes."""

    heading: str
    answer: str = ""
    lines: tuple[tuple[str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlanPage:
    """What the page shows; `lede` says for what job and when."""

    title: str
    lede: str
    parts: tuple[Part, ...]
    cautions: tuple[str, ...]

    @property
    def dense(self) -> bool:
        """Whether there is so much on it that it prints smaller, to stay on one sheet."""
        return sum(map(_height, self.parts)) > ROOMY


def _height(part: Part) -> int:
    """Return about how many printed lines a part takes in its column."""
    texts = [part.answer, *(value for _, value in part.lines), *part.notes, *(table.caption for table in part.tables)]
    rows = [row for table in part.tables for row in (table.header, *table.rows)]
    return 3 + sum(-(-len(text) // LETTERS) for text in texts) + sum(-(-len(" ".join(row)) // LETTERS) for row in rows)


def render_plan(page: PlanPage) -> str:
    """Return the plan as HTML text, everything inline."""
    return filled("plan.html.j2", page)
