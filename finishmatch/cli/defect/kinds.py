"""`finishmatch defect kinds` and `defect checks`: what a defect may be, and how to find out."""

from __future__ import annotations

import click

from finishmatch.cautions import DEFER, REWORK, SANDING, SOLVENTS, SPRAYING, WIPES
from finishmatch.cli.common import emit_json, json_option, say_cautions, table, wrapped
from finishmatch.defects import Check
from finishmatch.steps.defect.kinds import ChecksKnown, KindKnown, list_checks, list_kinds

_BEARS = {"solvent": (SOLVENTS, WIPES, DEFER), "dust": SANDING, "spray": SPRAYING}


@click.command(
    "kinds",
    epilog="""\b
Examples:
  finishmatch defect kinds
  finishmatch defect kinds "craters"
""",
)
@click.argument("kind", required=False)
@json_option
def kinds(kind: str | None, as_json: bool) -> None:
    """List the kinds of defect with their looks, or show all that is known of one KIND."""
    known = list_kinds(kind)
    if as_json:
        emit_json(known.as_dict())
    elif kind is None:
        rows = [(item.kind.name, item.kind.look) for item in known.kinds]
        click.echo("\n".join(table(("kind", "look"), rows)))
    else:
        (item,) = known.kinds
        _show_kind(item)
        say_cautions(REWORK)


def _show_kind(known: KindKnown) -> None:
    kind = known.kind
    click.echo(click.style(kind.name, bold=True) + (", a term of ISO 4618 (from memory)" if kind.iso_4618 else ""))
    click.echo(wrapped(", ".join(kind.synonyms), "  also called: "))
    click.echo(wrapped(kind.look, "  look: "))
    click.echo(f"  shows: {', '.join(kind.shows)}")
    pictures = f", pictures in {kind.rated_by}" if kind.rated_by else ""
    click.echo(f"  rated by ISO 4628-1: {kind.rating}, 0 to 5{pictures}")
    click.echo("  causes, before anything more is known («common practice»), and what ends each")
    for ranked in known.diagnosis.causes[:-1]:
        click.echo(wrapped(f"{ranked.cause.name}: {ranked.cause.mend}", f"    {100 * ranked.chance:3.0f} %  "))
    checks = "; ".join(f"{check.name} ({check.minutes:g} min)" for check in known.checks)
    if checks:
        click.echo(wrapped(checks, "  checks that would settle most: "))
    for number, remedy in enumerate(kind.remedies):
        click.echo(wrapped(remedy, "  remedy: " if number == 0 else "          "))
    if kind.contamination:
        click.echo("  contamination is suspected: it must be removed before any recoat")


@click.command(
    "checks",
    epilog="""\b
Examples:
  finishmatch defect checks
  finishmatch defect checks "water break"
""",
)
@click.argument("check", required=False)
@json_option
def checks(check: str | None, as_json: bool) -> None:
    """List the checks and signs that tell causes apart, or show how one CHECK is done."""
    known = list_checks(check)
    if as_json:
        emit_json(known.as_dict())
    elif check is None:
        _show_checks(known)
    else:
        (item,) = known.checks
        _show_check(item)


def _show_checks(known: ChecksKnown) -> None:
    rows = [(item.name, f"{item.minutes:g}", ", ".join(item.outcomes)) for item in known.checks]
    click.echo("\n".join(table(("check", "min", "comes out as"), rows)))
    click.echo()
    for title, group in (("signs", ""), ("patterns, one of", "pattern"), ("times it showed, one of", "time")):
        names = ", ".join(sign.name for sign in known.signs if sign.group == group)
        click.echo(wrapped(names, f"  {title}: "))


def _show_check(item: Check) -> None:
    click.echo(click.style(item.name, bold=True) + f"  ({item.minutes:g} min)")
    click.echo(wrapped(item.do, "  "))
    click.echo(f"  comes out as: {', '.join(item.outcomes)}")
    if item.caution:
        say_cautions(_BEARS[item.caution])
