"""Advice on a defect, as a JSON object and on the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from finishmatch.cli.common import say_warnings, table, wrapped
from finishmatch.cli.defect.input import DefectCase
from finishmatch.defects import Advice, CheckWorth, Diagnosis, Option, Record, SeenDefect, percent

TOLD_BRANCH = 0.005  # a way to fail less likely is left to the JSON
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
        "hours": option.hours,
        "material": option.material,
        "wait_days": option.wait_days,
        "cost": option.cost,
        "expected_cost": option.expected_cost,
        "record": {
            "right": option.record.right,
            "failed": option.record.failed,
            "broke_through": option.record.broke_through,
        },
        "chain": [
            {"chance": b.chance, "if": b.what, "then": b.then, "expected_cost": b.expected_cost} for b in option.chain
        ],
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
    shown = [option for option in advice.options if is_shown(option, advice)]
    header = ("option", "breaks through", "anywhere", "film left, µm (80 %)", "must stay", "of")
    click.echo("\n".join(table(header, [_row(option, option is advice.chosen) for option in shown])))
    click.echo()
    costs = ("option", "succeeds", "your shop", "hours", "material", "waits, days", "expected cost")
    click.echo("\n".join(table(costs, [_cost_row(option, option is advice.chosen) for option in shown])))
    click.echo()
    click.echo(click.style(f"  Advice: {advice.chosen.name}", bold=True))
    _wrap(advice.reason, "  ")
    click.echo()
    _say_list("first", advice.chosen.first)
    _say_list("if it fails", [advice.chosen.if_it_fails, *_chain_words(advice.chosen)])
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


def is_shown(option: Option, advice: Advice) -> bool:
    """Leave out what can't even be thought of, except rubbing out, which is what everyone asks about."""
    return option is advice.chosen or not option.forbidden or option.key in ("rub", "level", "recoat")


def _row(option: Option, chosen: bool) -> tuple[str, ...]:
    left = option.left
    cuts = option.key not in ("leave", "strip")  # a stripped spot is built up again, whatever was left of it
    return (
        ("> " if chosen else "  ") + option.name,
        percent(option.breakthrough) if cuts else "-",
        percent(option.anywhere) if cuts else "-",
        f"{left.mean_um:.0f} ({left.low_um:.0f} to {left.high_um:.0f})",
        f"{left.keep_um:g}" if cuts else "-",
        left.of,
    )


def _cost_row(option: Option, chosen: bool) -> tuple[str, ...]:
    name = ("> " if chosen else "  ") + option.name
    if option.forbidden:
        return (name, "ruled out", _record_words(option.record), "", "", "", "")
    return (
        name,
        percent(option.chance_of_success) + (" (too risky)" if option.ruled_out else ""),
        _record_words(option.record),
        f"{option.hours:.1f}",
        f"{option.material:.0f}",
        f"{option.wait_days:.3g}",
        f"{option.expected_cost or 0:.0f}",
    )


def _record_words(record: Record) -> str:
    words = f"{record.right} of {record.tried}" if record.tried else ""
    broke = f"{record.broke_through} broke through" if record.broke_through else ""
    return "; ".join(part for part in (words, broke) if part) or "-"


def _chain_words(option: Option) -> list[str]:
    """Return what follows when it fails, the likeliest first."""
    told = sorted((branch for branch in option.chain if branch.chance >= TOLD_BRANCH), key=lambda b: -b.chance)
    return [f"{b.what} ({percent(b.chance)}): {b.then}, expected {b.expected_cost:.0f}" for b in told]


def _say_list(title: str, lines: Sequence[str]) -> None:
    lead = f"  {title}: "
    for line in lines:
        _wrap(line, lead)
        lead = " " * len(lead)


def _wrap(text: str, lead: str) -> None:
    click.echo(wrapped(text, lead))
