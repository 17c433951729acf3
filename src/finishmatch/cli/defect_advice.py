"""Advice on a defect, as a JSON object and on the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from finishmatch.cli.common import say_warnings, table, wrapped
from finishmatch.cli.defect_input import DefectCase
from finishmatch.defects import Advice, CheckWorth, Diagnosis, Option, SeenDefect, percent

SHOWN_CHANCE = 0.02  # a cause less likely is left to the JSON


def advice_document(advice: Advice) -> dict[str, Any]:
    """Return the JSON object of an advice."""
    return {
        "kind": advice.seen.kind.name,
        "breakthrough": advice.breakthrough,
        "anywhere": advice.anywhere,
        "options": [option_document(option) for option in advice.options],
        "advice": advice.chosen.name,
        "reason": advice.reason,
        "then": advice.then,
        "causes": list(advice.causes),
        "ranked": [
            {
                "cause": ranked.cause.name,
                "chance": ranked.chance,
                "for": list(ranked.speaks_for),
                "against": list(ranked.speaks_against),
                "mend": ranked.cause.mend,
            }
            for ranked in advice.diagnosis.causes
        ],
        "checks": [
            {
                "check": worth.check.name,
                "bits": worth.bits,
                "minutes": worth.check.minutes,
                "cost": worth.check.cost,
                "do": worth.check.do,
            }
            for worth in advice.diagnosis.checks
        ],
        "contamination_suspected": advice.seen.contamination,
        "readings_needed": list(advice.readings_needed),
        "more_readings": advice.more_readings,
        "warnings": list(advice.warnings),
    }


def option_document(option: Option) -> dict[str, Any]:
    """Return the JSON object of one option."""
    left = option.left
    return {
        "option": option.name,
        "chance_of_success": option.chance_of_success,
        "breakthrough": option.breakthrough,
        "anywhere": option.anywhere,
        "film_left_of": left.of,
        "keep_um": left.keep_um,
        "film_left_um": {"mean": left.mean_um, "low": left.low_um, "high": left.high_um},
        "ruled_out": option.ruled_out,
        "why": option.why,
        "first": list(option.first),
        "if_it_fails": option.if_it_fails,
    }


def say_advice(advice: Advice, case: DefectCase, decision: int | None, chosen: str | None) -> None:
    """Print the defect, the film, the options, the advice and what goes with it."""
    seen = advice.seen
    number = "" if case.number is None else f"  (#{case.number} of {case.job})"
    click.echo(click.style(" ".join([seen.kind.name, case.place]).strip(), bold=True) + number)
    click.echo(f"  {_seen_words(seen)}")
    click.echo()
    layers = [
        (layer.name, layer.role, ", ".join(f"{build:g}" for build in layer.builds_um), f"{layer.mean_um:.0f}")
        for layer in case.film.layers
    ]
    click.echo("\n".join(table(("film, from the metal up", "role", "readings, µm", "mean"), layers)))
    click.echo()
    rows = [_row(option, option is advice.chosen) for option in advice.options]
    header = ("option", "breaks through", "anywhere", "succeeds", "film left, µm (80 %)", "must stay", "of")
    click.echo("\n".join(table(header, rows)))
    click.echo()
    click.echo(click.style(f"  Advice: {advice.chosen.name}", bold=True))
    _wrap(advice.reason, "  ")
    click.echo()
    _say_list("first", advice.chosen.first)
    _say_list("if it fails", [advice.chosen.if_it_fails])
    _say_list("afterwards", [advice.then])
    say_diagnosis(advice.diagnosis)
    if advice.readings_needed:
        _say_list("read more often", [", ".join(advice.readings_needed)])
    if advice.more_readings != 0:
        _say_list("would settle it", [_settling(advice.more_readings)])
    say_warnings(advice.warnings)
    if decision is not None:
        click.echo(f"  recorded in {case.job} as decision #{decision}: {chosen}")
        for option in advice.options:
            if option.name == chosen and option.ruled_out:
                click.echo(f"  note: against the advice: {option.ruled_out}")


def _settling(more: int | None) -> str:
    if more is None:
        return "readings alone won't settle whether it can be rubbed out: what is left is too near what must stay"
    readings = "one more reading" if more == 1 else f"{more} more readings"
    return f"{readings} of the topcoat there, if they come out like these, would settle whether it can be rubbed out"


def say_diagnosis(diagnosis: Diagnosis) -> None:
    """Print the causes with what speaks for and against them, and the check that would tell most."""
    click.echo()
    click.echo("  what it may come from")
    likely = [ranked for ranked in diagnosis.causes if ranked.chance >= SHOWN_CHANCE]
    for ranked in likely:
        click.echo(wrapped(ranked.cause.name, f"    {percent(ranked.chance):>12}  "))
        for lead, words in (("for: ", ranked.speaks_for), ("against: ", ranked.speaks_against)):
            if words:
                click.echo(wrapped("; ".join(words), " " * 18 + lead))
    if diagnosis.checks:
        first, *others = diagnosis.checks
        told = f"{first.check.name}: {first.check.do} ({_worth(first)})"
        click.echo(wrapped(told, "  check next: "))
        if others:
            click.echo(wrapped("; ".join(f"{w.check.name} ({_worth(w)})" for w in others[:2]), "        then: "))
    mend = likely[0].cause.mend if likely else ""
    if mend:
        click.echo(wrapped(mend, "  so that it doesn't come again: "))


def _worth(worth: CheckWorth) -> str:
    return f"{worth.bits:.2f} bits, {worth.check.minutes:g} min"


def _seen_words(seen: SeenDefect) -> str:
    parts = [
        "not counted" if seen.count is None else f"{seen.count} of them",
        "" if seen.size_mm is None else f"{seen.size_mm:g} mm wide",
        "" if seen.depth_um is None else f"{seen.depth_um:g} µm deep",
        "" if seen.pm_um is None else f"± {seen.pm_um:g} µm",
        f"open to the {seen.layer_reached}" if seen.layer_reached else "",
    ]
    return ", ".join(part for part in parts if part)


def _row(option: Option, chosen: bool) -> tuple[str, ...]:
    left = option.left
    return (
        ("> " if chosen else "  ") + option.name,
        percent(option.breakthrough),
        percent(option.anywhere),
        percent(option.chance_of_success) if option.chance_of_success else "ruled out",
        f"{left.mean_um:.0f} ({left.low_um:.0f} to {left.high_um:.0f})",
        f"{left.keep_um:g}",
        left.of,
    )


def _say_list(title: str, lines: Sequence[str]) -> None:
    lead = f"  {title}: "
    for line in lines:
        _wrap(line, lead)
        lead = " " * len(lead)


def _wrap(text: str, lead: str) -> None:
    click.echo(wrapped(text, lead))
