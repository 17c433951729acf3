"""Advice on a defect, on the page."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.cli.common import say_warnings, table, wrapped
from finishmatch.defects import Advice, CheckWorth, Diagnosis, Option, Record, SeenDefect, percent
from finishmatch.steps.defect.advise import Advised
from finishmatch.steps.defect.logged import DefectCase

SHOWN_BRANCH = 0.005  # a way to fail less likely is left to the JSON
SHOWN_CHANCE = 0.02  # a cause less likely is left to the JSON


def show_advice(advised: Advised, detail: bool = False) -> None:
    """Print the defect, the film, the options, the advice and what goes with it."""
    advice, case = advised.advice, advised.case
    _show_defect(case)
    _show_options(advice)
    click.echo(click.style(f"  Advice: {advice.chosen.name}", bold=True))
    _wrap(advice.reason, "  ")
    click.echo()
    _show_list("first", advice.chosen.first)
    _show_list("if it fails", [advice.chosen.if_it_fails, *_chain_words(advice.chosen)])
    _show_list("afterwards", [advice.then])
    show_diagnosis(advice.diagnosis, detail)
    if advice.readings_needed:
        _show_list("read more often", [", ".join(advice.readings_needed)])
    if advice.more_readings != 0:
        _show_list("to be sure", [_settling(advice.more_readings)])
    say_warnings(advice.warnings)
    if advised.decision is not None:
        click.echo(f"  recorded in {case.job} as decision #{advised.decision}: {advised.chosen}")
        if advised.against:
            click.echo(f"  note: against the advice: {advised.against}")


def show_undecided(advised: Advised) -> None:
    """Print how what is done with a defect of a job is recorded, where nothing is decided of it yet."""
    case = advised.case
    if case.waits and advised.decision is None:
        click.echo("  nothing is decided yet; what is done is recorded by:")
        chosen = f'--choose "{advised.advice.chosen.name}" --why TEXT'
        click.echo(f"  finishmatch defect advise --job {case.job} --defect {case.number} {chosen}")


def _show_defect(case: DefectCase) -> None:
    """Print what was seen, and the film around it."""
    number = "" if case.number is None else f"  (#{case.number} of {case.job})"
    click.echo(click.style(" ".join([case.seen.kind.name, case.place]).strip(), bold=True) + number)
    click.echo(f"  {_seen_words(case.seen)}")
    click.echo()
    layers = [
        (layer.name, layer.role, ", ".join(f"{build:g}" for build in layer.builds_um), f"{layer.mean_um:.0f}")
        for layer in case.film.layers
    ]
    click.echo("\n".join(table(("film, from the metal up", "role", "readings, µm", "mean"), layers)))
    click.echo()


def _show_options(advice: Advice) -> None:
    """Print the risk of each option, and what it costs."""
    header = ("option", "breaks through", "anywhere", "film left, µm (80 %)", "must stay", "of")
    click.echo("\n".join(table(header, [_row(option, option is advice.chosen) for option in advice.worth_showing])))
    click.echo()
    costs = ("option", "succeeds", "your shop", "hours", "material", "waits, days", "expected cost")
    click.echo("\n".join(table(costs, [_cost_row(option, option is advice.chosen) for option in advice.worth_showing])))
    click.echo()


def _settling(more: int | None) -> str:
    if more is None:
        return "readings alone won't settle whether it can be rubbed out: what is left is too near what must stay"
    readings, come = ("one more reading", "it comes") if more == 1 else (f"{more} more readings", "they come")
    return f"{readings} of the topcoat there, if {come} out like these, would settle whether it can be rubbed out"


def show_diagnosis(diagnosis: Diagnosis, detail: bool = False) -> None:
    """Print the causes with what speaks for and against them, and the check that would settle most."""
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
        click.echo(wrapped(f"{first.check.name}: {first.check.do} ({_worth(first, detail)})", "  check next: "))
        if others:
            click.echo(
                wrapped("; ".join(f"{w.check.name} ({_worth(w, detail)})" for w in others[:2]), "        then: ")
            )
    mend = likely[0].cause.mend if likely else ""
    if mend:
        click.echo(wrapped(mend, "  so that it doesn't come again: "))


def _worth(worth: CheckWorth, detail: bool) -> str:
    return f"{worth.bits:.2f} bits, {worth.check.minutes:g} min" if detail else f"{worth.check.minutes:g} min"


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
    branches = sorted((branch for branch in option.chain if branch.chance >= SHOWN_BRANCH), key=lambda b: -b.chance)
    return [f"{b.what} ({percent(b.chance)}): {b.then}, expected {b.expected_cost:.0f}" for b in branches]


def _show_list(title: str, lines: Sequence[str]) -> None:
    lead = f"  {title}: "
    for line in lines:
        _wrap(line, lead)
        lead = " " * len(lead)


def _wrap(text: str, lead: str) -> None:
    click.echo(wrapped(text, lead))
