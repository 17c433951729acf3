"""A plan as one page that prints on one sheet: what was asked, what comes out, the cautions that bear."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.dossier.plan_sections import PlanSection, plan_section, plan_sections
from finishmatch.dossier.template import filled
from finishmatch.steps.plan.page import WholePlan

LETTERS = 48  # about a printed line of a column
ROOMY = 95  # lines of both columns together that a sheet of letter takes at the larger size


@dataclass(frozen=True)
class PlanPage:
    """What the page shows; `lede` says what stands against the plan."""

    title: str
    lede: str
    sections: tuple[PlanSection, ...]
    cautions: tuple[str, ...]

    @property
    def dense(self) -> bool:
        """Whether there is so much on it that it prints smaller, to stay on one sheet."""
        return sum(map(_height, self.sections)) > ROOMY


def render_plan(plan: WholePlan, units: str = "both") -> str:
    """Return a whole plan as HTML text, everything inline, in "both" units, "metric" or "us"."""
    against = [plan_section(part, units).heading for part in plan.plans if not part.yes]
    lede = "Nothing stands against it." if not against else "What stands against it: " + ", ".join(against) + "."
    return filled("plan.html.j2", PlanPage(plan.title, lede, plan_sections(plan.plans, units), plan.cautions))


def _height(section: PlanSection) -> int:
    """Return about how many printed lines a section takes in its column."""
    values, captions = (value for _, value in section.lines), (table.caption for table in section.tables)
    texts = [section.answer, *values, *section.notes, *captions]
    rows = [" ".join(row) for table in section.tables for row in (table.header, *table.rows)]
    return 3 + sum(-(-len(text) // LETTERS) for text in (*texts, *rows))
