"""A correction on the page and as a JSON object: what to add, what that does, the ways beside it, what harms."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cautions import mixing_cautions
from finishmatch.cli.common import harmful, hazard_line, hazards_document, say_cautions, say_warnings, table

if TYPE_CHECKING:
    from finishmatch.correct.correct import Correction
    from finishmatch.correct.fresh_batch import FreshBatch
    from finishmatch.correct.trade_off import TradeRow
    from finishmatch.optics import Tint

Parts = tuple[tuple[str, float], ...]


def correction_document(
    found: Correction, fresh: FreshBatch | None, tints: Sequence[Tint], poured: Parts, warnings: list[str]
) -> dict[str, Any]:
    """Return the JSON object of a correction."""
    return {
        "reachable": found.reachable,
        "additions": _parts(found.additions),
        "growth": found.growth,
        "lights": found.lights,
        "before": found.before,
        "strengths": found.strengths,
        "growth_needed": found.growth_needed,
        "chance": found.chance,
        "intervals": {light: {"low": low, "high": high} for light, (low, high) in found.intervals.items()},
        "scale_needed": None
        if found.scale_needed is None
        else {"step_g": found.scale_needed.step_g, "smallest_g": found.scale_needed.smallest_g},
        "trade": [{**vars(row), "additions": _parts(row.additions)} for row in found.trade],
        "fresh_batch": None
        if fresh is None
        else {
            "parts": _parts(fresh.recipe.parts),
            "lights": fresh.recipe.lights,
            "cost": fresh.recipe.cost,
            "additions_cost": fresh.additions_cost,
            "cheaper": fresh.cheaper,
        },
        "why": found.why,
        "hazards": hazards_document(harmful(_named(found, fresh), tints)),
        "warnings": warnings,
        "cautions": list(_cautions(found, fresh, tints, poured)),
    }


def _parts(parts: tuple[tuple[str, float], ...]) -> list[dict[str, Any]]:
    return [{"tint": tint, "grams": grams} for tint, grams in parts]


def show_correction(found: Correction, poured_g: float) -> None:
    """Print how the tin stood, what its spray-out told of the tints, and what to add."""
    told = "   ".join(f"{light} {de:.2f}" for light, de in found.before.items())
    click.echo(f"  as sprayed   ΔE00 {told}")
    click.echo(f"  {found.why}")
    off = {name: factor for name, factor in found.strengths.items() if abs(factor - 1) >= 0.01}
    if off:
        order = sorted(off, key=lambda name: -abs(off[name] - 1))
        strong = ", ".join(f"{name} {off[name] - 1:+.0%}" for name in order)
        click.echo(f"  strength of today's tins against the bank: {strong}")
    if found.additions:
        click.echo("\n  add" if found.reachable else "\n  the nearest within the growth limit: add")
        click.echo("\n".join(table(["tint", "grams"], [[t, f"{g:g}"] for t, g in found.additions], indent="     ")))
        told = "   ".join(f"{light} {de:.2f}" for light, de in found.lights.items())
        click.echo(
            f"     {sum(g for _, g in found.additions):g} g into {poured_g:g} g (growth {found.growth:.1%}); "
            f"expected ΔE00 {told}"
        )
    if found.chance is not None and found.additions:
        told = "   ".join(f"{light} {low:.2f} to {high:.2f}" for light, (low, high) in found.intervals.items())
        click.echo(f"     95 times in 100: ΔE00 {told}; inside the tolerance with a chance of {found.chance:.0%}")


def show_all(
    found: Correction,
    fresh: FreshBatch | None,
    tints: Sequence[Tint],
    poured: Parts,
    warnings: list[str],
    tolerance: float,
) -> None:
    """Print a correction, what more growth buys, a fresh batch, and what harms in any tint they name."""
    poured_g = sum(grams for _, grams in poured)
    show_correction(found, poured_g)
    if found.trade:
        _show_trade(found.trade)
    if fresh is not None:
        _show_fresh(found, fresh, poured_g)
    if not found.reachable:
        click.echo(f"\n  the tolerance of {tolerance:g} is not reached by adding")
    if harming := harmful(_named(found, fresh), tints):
        click.echo()
        for tint in harming:
            click.echo(f"  ! {hazard_line(tint)}")
    if warnings:
        click.echo()
    say_warnings(warnings)
    say_cautions(_cautions(found, fresh, tints, poured))


def _named(found: Correction, fresh: FreshBatch | None) -> list[str]:
    """Return the tints to be weighed, whichever way is taken."""
    ways = [found.additions, found.additions_needed, *(row.additions for row in found.trade)]
    if fresh is not None:
        ways.append(fresh.recipe.parts)
    return [tint for parts in ways for tint, _ in parts]


def _cautions(found: Correction, fresh: FreshBatch | None, tints: Sequence[Tint], poured: Parts) -> tuple[str, ...]:
    """Return the cautions that bear on what is added, and on what is in the tin that is stirred."""
    at_hand = [*_named(found, fresh), *(tint for tint, grams in poured if grams > 0)]
    return mixing_cautions(word for tint in harmful(at_hand, tints) for word in tint.hazards)


def _show_trade(trade: tuple[TradeRow, ...]) -> None:
    """Print what more growth buys."""
    from finishmatch.correct.limiting_factor import percent
    from finishmatch.ledger import describe_parts

    click.echo("\n  what more growth buys")
    rows = [
        [
            f"{percent(row.growth)}%",
            f"{row.worst:.2f}",
            f"{row.low:.2f} to {row.high:.2f}",
            f"{row.chance:.0%}",
            describe_parts(row.additions) if row.additions else "nothing",
        ]
        for row in trade
    ]
    header = ["growth", "worst ΔE00", "95 times in 100", "inside", "add"]
    click.echo("\n".join(table(header, rows, indent="     ")))


def _show_fresh(found: Correction, fresh: FreshBatch, poured_g: float) -> None:
    """Print a fresh batch, and which way is the cheaper."""
    recipe = fresh.recipe
    if not fresh.reached:
        click.echo(
            f"\n  nor does a fresh batch reach it: these tints, with what is in stock, come to ΔE00 "
            f"{recipe.worst_de00:.2f}"
        )
        return
    click.echo(
        f"\n  a fresh batch of {recipe.grams:g} g by today's strengths, expected worst ΔE00 {recipe.worst_de00:.2f}, "
        f"cost {recipe.cost:.2f}"
    )
    click.echo("\n".join(table(["tint", "grams"], [[t, f"{g:g}"] for t, g in recipe.parts], indent="     ")))
    added = sum(grams for _, grams in (found.additions if found.reachable else found.additions_needed))
    if fresh.cheaper and fresh.additions_cost is not None:
        click.echo(
            f"     the cheaper way: adding what it takes costs {fresh.additions_cost:.2f}, and makes "
            f"{poured_g + added:.0f} g"
        )
    elif fresh.cheaper is False:
        click.echo(
            f"     adding what it takes costs {fresh.additions_cost:.2f} and is the cheaper way, if the tin holds "
            f"{poured_g + added:.0f} g"
        )
