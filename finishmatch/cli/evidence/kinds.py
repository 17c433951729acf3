"""`finishmatch evidence kinds`: the kinds of evidence, and what is taken of each."""

from __future__ import annotations

from collections.abc import Iterable

import click

from finishmatch.cli.common import emit_json, json_option, table, wrapped
from finishmatch.evidence.kinds import Condition
from finishmatch.steps.evidence_kinds import SHOP_FILE, evidence_kinds

kinds_option = click.option(
    "--kinds",
    metavar="FILE",
    help=f"The shop's own figures of the kinds, TOML.  [default: {SHOP_FILE} in FINISHMATCH_HOME, where there is one]",
)


@click.command(
    "kinds",
    epilog="""\b
Example:
  finishmatch evidence kinds
""",
)
@kinds_option
@json_option
def kinds_command(kinds: str | None, as_json: bool) -> int:
    """Show the kinds of evidence, what is assumed of each, and which columns hold its condition."""
    found = evidence_kinds(kinds)
    if as_json:
        emit_json(found.as_dict())
        return 0
    catalogue = found.catalogue
    source = f"with the shop's own figures of {catalogue.shop_file}" if catalogue.shop_file else "«common practice»"
    click.echo(f"  {source}")
    if catalogue.shops_own:
        click.echo(wrapped(", ".join(sorted(catalogue.shops_own)), "  the shop's own: "))
    click.echo()
    rows = [
        [kind.name, f"{kind.spread:g}", f"{kind.vehicle_spread:g}", ", ".join(kind.effects), _asked(kind.conditions)]
        for kind in catalogue.kinds
    ]
    click.echo("\n".join(table(["kind", "spread", "by vehicle", "always", "asked"], rows)))
    click.echo()
    rows = [
        [
            name,
            *(f"{shift:+.2f} ± {sd:.2f}" for shift, sd in (effect.L, effect.chroma, effect.b, effect.b_at(100))),
            effect.what,
        ]
        for name, effect in catalogue.effects.items()
    ]
    click.echo("\n".join(table(["effect", "L*", "chroma, share", "b*", "b* of a white", "what it is"], rows)))
    click.echo("\n  spreads are standard deviations in ΔE00; an effect is what is read against the colour as it was")
    return 0


def _asked(conditions: Iterable[Condition]) -> str:
    return "; ".join(
        f"{condition.column} "
        + (f"(where {' or '.join(condition.only_of)}) " if condition.only_of else "")
        + ", ".join(f"{_case(condition, case)}: {effect}" for case, effect in condition.effects.items())
        for condition in conditions
    )


def _case(condition: Condition, case: str) -> str:
    """Return an answer as it is shown: a number's with its limit."""
    if condition.limit is None:
        return case
    return {"below": f"below {condition.limit:g}", "above": f"from {condition.limit:g}"}.get(case, case)
