"""`finishmatch bank plan`: which panels to draw, the most telling first."""

from __future__ import annotations

import shlex

import click

from finishmatch.cli.common import emit_json, json_option, stage, table
from finishmatch.photo.card.layout import MOST_WINDOWS
from finishmatch.steps.bank_plan import USUAL, BankPlan, plan_bank
from finishmatch.steps.progress import quiet

_BY_ROLE = ("white", "black")  # kinds that a role tells without a name

EXAMPLE = """\b
Example:
  finishmatch bank plan swatches/bank --panels 4
"""


@click.command("plan", epilog=EXAMPLE)
@click.argument("bank")
@click.option(
    "--panels", type=int, default=USUAL, show_default=True, metavar="N", help="How many panels there is time for."
)
@json_option
def plan_command(bank: str, panels: int, as_json: bool) -> int:
    """Say which panels of the tints of the folder BANK to draw next, the most telling first.

    bank.toml and tints.csv are enough to begin with. Panels that were read already are reckoned with.
    """
    found = plan_bank(bank, panels, progress=quiet if as_json else stage)
    if as_json:
        emit_json(found.as_dict())
    else:
        _show(found, bank)
    return 0


def _show(found: BankPlan, folder: str) -> None:
    plan = found.plan
    how = "an instrument" if plan.by_instrument else "a phone beside a chart"
    click.echo(f"  {found.name}: the panels to draw, the most telling first, to be read by {how}")
    unnamed = [tint for tint, kind in plan.kinds if not kind]
    if any(kind not in ("", *_BY_ROLE) for _, kind in plan.kinds):
        click.echo("  tints without a panel are taken for what their Colour Index names usually are")
    if unnamed:
        click.echo(f"  nothing is known of: {', '.join(unnamed)}")
        click.echo("  write their Colour Index names, such as PB15:3, into tints.csv where the tins tell them")
    click.echo(f"  mixtures nobody has sprayed yet are off by ΔE00 {plan.doubt_de00:.1f} as it stands\n")
    if not found.worth_drawing:
        click.echo("  no further panel tells anything that would be seen: spray a card of the next job instead")
        return
    rows = [
        [
            str(number),
            panel.name,
            " + ".join(f"{grams:g} g {tint}" for tint, grams in panel.parts),
            f"{panel.doubt_de00:.1f}",
        ]
        for number, panel in enumerate(plan.panels, 1)
    ]
    click.echo("\n".join(table(["", "panel", "weigh", "then off by"], rows)))
    click.echo("\n  what comes next: draw each down so that it hides, and let them dry")
    click.echo(f"  write what was weighed into {folder}/panels.csv, a line for each tint: panel,tint,grams")
    if plan.by_instrument:
        click.echo(f"  read them into {folder}/readings.csv, then: finishmatch bank fit {shlex.quote(folder)}")
        return
    click.echo("  photograph them with a chart, on a sheet that this prints, and read the picture:")
    click.echo(f"  finishmatch photo card --panels {min(len(plan.panels), MOST_WINDOWS)} --out sheet.pdf")
    first = shlex.quote(f"1={plan.panels[0].name}")
    click.echo(f"  finishmatch bank photo {shlex.quote(folder)} PHOTO --panel {first} --panel …")
