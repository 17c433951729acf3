"""A plan as one page that prints on one sheet: what was asked, what comes out, the cautions that bear."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.dossier.page import Table


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


def render_plan(page: PlanPage) -> str:
    """Return the plan as HTML text, everything inline."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("finishmatch.dossier"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    return environment.get_template("plan.html.j2").render(page=page)
