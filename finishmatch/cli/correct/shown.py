"""A correction on the page: what to add, what that does, the ways beside it, what harms."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.cli.common import ranges, say_warnings, show_swatches, table
from finishmatch.cli.letdowns_shown import show_letdowns
from finishmatch.cli.option_names import with_options
from finishmatch.cli.other_lights import risks_said
from finishmatch.colour.display import lab_to_hex
from finishmatch.colour.told_within import known_in_words, told_within
from finishmatch.correct.correction import Correction
from finishmatch.correct.fresh_batch import FreshBatch
from finishmatch.correct.limiting_factor import percent
from finishmatch.correct.trade_off import TradeRow
from finishmatch.ledger import describe_parts, foretold_words, growth_words
from finishmatch.steps.corrected import Corrected
from finishmatch.steps.hazards import hazard_line
from finishmatch.steps.seen import ONE_LIGHT


def show_correction(found: Correction, poured_g: float, within: str = "the tolerance") -> None:
    """Print how the tin stood, what its spray-out shows of the tints, and what to add to bring it inside `within`."""
    by_light = "   ".join(f"{light} {de:.2f}" for light, de in found.before.items())
    click.echo(f"  as sprayed   ΔE00 {by_light}")
    click.echo(with_options(f"  {found.why}"))
    off = {name: factor for name, factor in found.strengths.items() if abs(factor - 1) >= 0.01}
    if off:
        order = sorted(off, key=lambda name: -abs(off[name] - 1))
        strong = ", ".join(f"{name} {off[name] - 1:+.0%}" for name in order)
        click.echo(f"  strength of today's tins against the bank: {strong}")
    if found.additions:
        click.echo(f"\n  {_what_to_do(found)}")
        click.echo("\n".join(table(["tint", "grams"], [[t, f"{g:g}"] for t, g in found.additions], indent="     ")))
        show_letdowns(found.letdowns, found.additions)
        by_light = "   ".join(f"{light} {de:.2f}" for light, de in found.lights.items())
        click.echo(
            f"     {added_to(poured_g, found.additions, found.growth, found.fills_to)}; predicted ΔE00 {by_light}"
        )
    if found.chance is not None and found.additions:
        click.echo(
            f"     expect {ranges(found.intervals)}; inside {within} with a chance of {chance_said(found.chance)}"
        )


def chance_said(chance: float) -> str:
    """Return a chance in words that don't claim more than it says: none is sure."""
    if chance > 0.99:
        return "over 99%"
    return f"{chance:.0%}" if chance >= 0.01 else "under 1%"


def _what_to_do(found: Correction) -> str:
    if found.reachable and found.fills_to is not None and not found.growth:
        return "pour the rest of the batch"
    return "add" if found.reachable else "what comes nearest for its paint: add"


def added_to(tin_g: float, additions: Sequence[tuple[str, float]], growth: float, fills_to: float | None = None) -> str:
    """Return how much is added to a tin, and what that makes of it."""
    return f"{sum(grams for _, grams in additions):g} g into {tin_g:g} g {growth_words(growth, fills_to)}"


def show_corrected(corrected: Corrected) -> None:
    """Print a correction, what more growth buys, a fresh batch, and what harms in any tint they name."""
    found = corrected.found
    poured_g = sum(grams for _, grams in corrected.poured)
    verdict = corrected.verdict
    show_swatches(("target", lab_to_hex(verdict.standard_lab)), ("card", lab_to_hex(verdict.trial_lab)))
    if corrected.foretold is not None:
        click.echo(f"  the card reads {foretold_words(corrected.foretold.as_dict())}")
    show_correction(found, poured_g, within(corrected))
    if said := risks_said(corrected.risks):
        click.echo(f"     {said}")
    show_seen(corrected)
    if found.trade:
        show_trade(found.trade)
    if corrected.fresh is not None:
        _show_fresh(found, corrected.fresh, poured_g)
    if not found.reachable:
        click.echo(f"\n  the tolerance of {corrected.verdict.tolerance:.2g} is not reached by adding")
    if corrected.harmful:
        click.echo()
        for tint in corrected.harmful:
            click.echo(f"  ! {hazard_line(tint)}")
    if corrected.noted:
        click.echo()
    say_warnings(corrected.noted)


def show_look_first(corrected: Corrected) -> None:
    """Print what may make the amounts wrong altogether, above them; nothing where nothing does."""
    for said in corrected.look_first:
        click.echo(f"  look first: {with_options(said)}")
    if corrected.look_first:
        click.echo()


def within(corrected: Corrected) -> str:
    """Return what a card is brought inside of, in words: the tolerance, or what can be told of a difference."""
    told = corrected.verdict.tolerance
    if told <= corrected.match.tolerance:
        return "the tolerance"
    seen = corrected.seen or {"differences": []}
    known = {one["light"]: one["told_from"] for one in seen["differences"]}
    apart = any(one["by_itself"] for one in seen["differences"])
    what = "what a photograph of each can tell" if apart else "what can be told"
    return f"{what}, {known_in_words(known) if len(known) > 1 else f'±{told:g}'},"


def show_seen(corrected: Corrected) -> None:
    """Print how a card was seen beside its standard, and what would see nearer where that is what is in the way."""
    seen = corrected.seen
    if seen is None:
        return
    for one in seen["differences"]:
        axes = zip(("ΔL*", "Δa*", "Δb*"), one["difference"], strict=True)
        delta = "  ".join(f"{axis} {value:+.2f}" for axis, value in axes)
        many = one["photographs"]
        by = "as told" if not many else "one photograph" if many == 1 else f"{many} photographs"
        by = "by the photographs in all lights" if one["across_lights"] else by
        by = "by a photograph of each" if one["by_itself"] else by
        alone = one["photographs_alone"]
        by = by if alone is None else f"{by}, and what its camera sees of this bank's tints"
        known = f"known to ±{told_within(one['u95']):g} ({by})"
        click.echo(f"  beside its standard, {one['light']}, {one['observer']}°: {delta}  {known}")
        if alone is not None:
            one_alone = many == 1 and not one["across_lights"]
            by = "the photograph by itself says" if one_alone else "the photographs by themselves say"
            what = f"ΔE00 {alone['de00']:.2f} ±{told_within(alone['u95']):g}"
            click.echo(f"     {by} {what}, as if a camera were an eye")
    if seen["pigments_not_compared"]:
        click.echo(f"  {ONE_LIGHT} (--seen-under A=PHOTO)")
    if seen["as_near_as_can_be_told"]:
        click.echo(f"  nearer would see: {'; '.join(seen['sees_nearer'])}")


def show_trade(trade: tuple[TradeRow, ...]) -> None:
    """Print what adding more buys."""
    click.echo("\n  what adding more buys")
    rows = [
        [
            f"{percent(row.growth)} %",
            f"{row.worst:.2f}",
            f"{row.low:.1f} to {row.high:.1f}",
            chance_said(row.chance),
            describe_parts(row.additions) if row.additions else "nothing",
        ]
        for row in trade
    ]
    header = ["adds to the tin", "worst ΔE00", "expect", "inside", "add"]
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
    cups = [one.tint for one in recipe.letdowns]
    rows = [[tint, f"{grams:g}", "by a letdown" if tint in cups else ""] for tint, grams in recipe.parts]
    click.echo("\n".join(table(["tint", "grams", ""], rows, indent="     ")))
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
