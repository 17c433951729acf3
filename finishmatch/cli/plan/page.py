"""`finishmatch plan page`: a whole plan from one file, in the terminal and as a page to print."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cli.common import emit_json, replace_option, say_cautions, say_recorded, stage
from finishmatch.cli.plan.options import FILE, plan_options
from finishmatch.cli.plan.shown import show_section
from finishmatch.dossier.plan_page import render_plan
from finishmatch.dossier.plan_sections import plan_sections
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.plan.page import WholePlan, plan_page


@click.command(
    "page",
    short_help="A whole plan from one file, on one page.",
    epilog="""\b
Examples:
  finishmatch plan page swatches/plan/plan.toml
  finishmatch plan page swatches/plan/plan.toml --out plan.html

Exit status: 0 when nothing stands against the plan, 1 when something does.
""",
)
@click.argument("file", type=FILE)
@click.option("--out", metavar="FILE", help="Write the plan as a page that prints on one sheet (HTML).")
@replace_option
@plan_options
def page(file: Path, out: str | None, replace: bool, units: str, job: str | None, as_json: bool) -> int:
    """Work out a whole plan from one FILE: quantity, hiding, sheen, law, booth air and the day, on one page."""

    def draw(plan: WholePlan) -> None:
        if out is not None:
            write_output(out, render_plan(plan, units), replace)

    check_output(out, replace)
    plan = plan_page(file, units=units, job=job, draw=draw, progress=stage)
    if as_json:
        emit_json(plan.as_dict(out))
    else:
        _show(plan, units, job, out)
    return 0 if plan.yes else 1


def _show(plan: WholePlan, units: str, job: str | None, out: str | None) -> None:
    click.echo(f"  {plan.title}")
    for section in plan_sections(plan.plans, units):
        click.echo(f"\n{section.heading}")
        show_section(section)
    say_cautions(plan.cautions, job, plan.recorded)
    if out is not None:
        click.echo(f"\n  the page is {out}: open it in a browser, and print it")
    say_recorded(job, plan.recorded)
