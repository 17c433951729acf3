"""`finishmatch defect kinds` and `defect checks`: what a defect may be, and how to find out."""

from __future__ import annotations

import click

from finishmatch.cautions import DEFER, DUST, OLD_PAINT, REWORK, SOLVENTS, SPRAYING, WIPES
from finishmatch.cli.common import emit_json, json_option, say_cautions, table, wrapped

CHECKS_SHOWN = 3  # of a kind: those that would tell most
_BEARS = {"solvent": (SOLVENTS, WIPES, DEFER), "dust": (OLD_PAINT, DUST, DEFER), "spray": SPRAYING}


@click.command(
    "kinds",
    epilog="""\b
Examples:
  finishmatch defect kinds
  finishmatch defect kinds "fish eyes"
""",
)
@click.argument("kind", required=False)
@json_option
def kinds(kind: str | None, as_json: bool) -> None:
    """List the kinds of defect with their looks, or tell all that is known of one KIND."""
    from finishmatch.defects import DefectKind, Diagnosis, all_kinds, diagnose, find_kind

    def document(item: DefectKind, found: Diagnosis) -> dict[str, object]:
        listed = [ranked for ranked in found.causes if ranked.cause.mend]
        return {
            "name": item.name,
            "synonyms": list(item.synonyms),
            "iso_4618": item.iso_4618,
            "form": item.form,
            "contamination": item.contamination,
            "look": item.look,
            "shows": list(item.shows),
            "causes": list(found.names),
            "ranked": [{"cause": r.cause.name, "chance": r.chance, "mend": r.cause.mend} for r in listed],
            "checks": [worth.check.name for worth in found.checks[:CHECKS_SHOWN]],
            "remedies": list(item.remedies),
            "rating": item.rating,
            "rated_by": item.rated_by,
        }

    items = all_kinds() if kind is None else (find_kind(kind),)
    if as_json:
        emit_json({"kinds": [document(item, diagnose(item)) for item in items]})
        return
    if kind is None:
        click.echo("\n".join(table(("kind", "look"), [(item.name, item.look) for item in items])))
        return
    (item,) = items
    found = diagnose(item)
    click.echo(click.style(item.name, bold=True) + (", a term of ISO 4618 (from memory)" if item.iso_4618 else ""))
    click.echo(wrapped(", ".join(item.synonyms), "  also called: "))
    click.echo(wrapped(item.look, "  look: "))
    click.echo(f"  shows: {', '.join(item.shows)}")
    pictures = f", pictures in {item.rated_by}" if item.rated_by else ""
    click.echo(f"  rated by ISO 4628-1: {item.rating}, 0 to 5{pictures}")
    click.echo("  causes, before anything more is known («common practice»), and what ends each")
    for ranked in found.causes[:-1]:
        click.echo(wrapped(f"{ranked.cause.name}: {ranked.cause.mend}", f"    {100 * ranked.chance:3.0f} %  "))
    told = "; ".join(f"{worth.check.name} ({worth.check.minutes:g} min)" for worth in found.checks[:CHECKS_SHOWN])
    if told:
        click.echo(wrapped(told, "  checks that would tell most: "))
    for number, remedy in enumerate(item.remedies):
        click.echo(wrapped(remedy, "  remedy: " if number == 0 else "          "))
    if item.contamination:
        click.echo("  contamination is suspected: it must be removed before any recoat")
    say_cautions(REWORK)


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
    """List the checks and signs that tell causes apart, or tell how one CHECK is done."""
    from finishmatch.defects import all_checks, all_signs, find_check

    items = list(all_checks().values()) if check is None else [find_check(check)]
    signs = list(all_signs().values())
    if as_json:
        told = [
            {
                "check": item.name,
                "synonyms": list(item.synonyms),
                "outcomes": list(item.outcomes),
                "minutes": item.minutes,
                "cost": item.cost,
                "do": item.do,
            }
            for item in items
        ]
        named = [{"sign": sign.name, "synonyms": list(sign.synonyms), "group": sign.group} for sign in signs]
        emit_json({"checks": told, "signs": named})
        return
    if check is None:
        rows = [(item.name, f"{item.minutes:g}", ", ".join(item.outcomes)) for item in items]
        click.echo("\n".join(table(("check", "min", "comes out as"), rows)))
        click.echo()
        for title, group in (("signs", ""), ("patterns, one of", "pattern"), ("times it showed, one of", "time")):
            names = ", ".join(sign.name for sign in signs if sign.group == group)
            click.echo(wrapped(names, f"  {title}: "))
        return
    (item,) = items
    click.echo(click.style(item.name, bold=True) + f"  ({item.minutes:g} min)")
    click.echo(wrapped(item.do, "  "))
    click.echo(f"  comes out as: {', '.join(item.outcomes)}")
    if item.caution:
        say_cautions(_BEARS[item.caution])
