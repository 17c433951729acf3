"""`finishmatch defect trace`: what the bad coats met more often than the good ones."""

from __future__ import annotations

import math
from collections.abc import Sequence

import click

from finishmatch.cautions import REWORK
from finishmatch.cli.common import emit_json, json_option, replace_option, say_cautions, stage, table
from finishmatch.cli.page_width import page_width
from finishmatch.defects.confounding import Trial
from finishmatch.defects.onset import Onset
from finishmatch.defects.trace import Suspect, Trace
from finishmatch.dossier.trace_plot import trace_png
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.defect import trace as step

_BAR = 24  # characters of the longest bar


@click.command(
    "trace",
    epilog="""\b
Example:
  finishmatch job coat J1 --panel bonnet --exposure "air line=2"
  finishmatch job coat J1 --panel door --exposure "air line=1"
  finishmatch defect trace crater
  finishmatch defect trace crater --since 2024-01-01 --plot craters.png

Exit status: 0 an exposure stands out; 1 none does.
""",
)
@click.argument("kinds", nargs=-1)
@click.option("--since", metavar="DATE", help="Leave out coats sprayed before this day, YYYY-MM-DD.")
@click.option("--until", metavar="DATE", help="Leave out coats sprayed after this day, YYYY-MM-DD.")
@click.option(
    "--top",
    metavar="N",
    type=click.IntRange(min=1, max=100),
    default=step.SHOWN,
    show_default=True,
    help="How many exposures to show.",
)
@click.option("--plot", metavar="FILE", help="Draw when it began and what stands out, to this PNG file.")
@replace_option
@json_option
def trace_command(
    kinds: Sequence[str], since: str | None, until: str | None, top: int, plot: str | None, replace: bool, as_json: bool
) -> int:
    """Find where a defect came from: what the bad coats of all jobs met more often than the good ones.

    KINDS are the defects that count, by their trade names; all that were logged when left out. What coats met is
    recorded by 'job coat', for good ones too: without good ones there is nothing to compare with.
    """
    check_output(plot, replace)
    traced = step.trace(kinds, since=since, until=until, top=top, progress=stage)
    if plot is not None:
        write_output(plot, trace_png(traced.found, ", ".join(traced.kinds) or "any defect"), replace)
    if as_json:
        emit_json(traced.as_dict())
    else:
        _show(traced, plot)
        say_cautions(REWORK)
    return 0 if traced.found.guilty else 1


def _show(traced: step.Traced, plot: str | None) -> None:
    found = traced.found
    what = " or ".join(traced.kinds) or "a defect"
    click.echo(f"  {found.bad} of {found.coats} coats came out with {what}")
    if found.unnoted:
        click.echo(f"  left out: {found.unnoted} of which no exposure was noted")
    click.echo()
    rows = [_row(item) for item in found.worth_showing]
    header = ("exposure", "with it", "without it", "odds ratio (95 %)", "p", "adjusted")
    click.echo("\n".join(table(header, rows)))
    compared = "one exposure" if found.looked_at == 1 else f"{found.looked_at} exposures"
    click.echo(f"  adjusted: p, allowing for the {compared} compared; 0.05 or less stands out")
    if any(item.small for item in found.suspects):
        click.echo("  * the numbers are small: the ratio can be far from the truth")
    click.echo()
    for line in _findings(found):
        click.echo(f"  {line}")
    for item in found.guilty:
        if item.name in traced.suspect:
            click.echo(f"  {item.name} is marked as suspect already")
        elif item.name not in found.rides_along:
            click.echo(f'  warn of it: finishmatch defect suspect "{item.name}" --why TEXT')
    click.echo()
    _show_onset(found.onset)
    if plot is not None:
        click.echo(f"  drawn: {plot}")


def _row(item: Suspect) -> tuple[str, ...]:
    return (
        item.name + (" *" if item.small else ""),
        f"{item.exposed_bad} of {item.exposed}",
        f"{item.others_bad} of {item.others}",
        f"{_ratio(item.odds_ratio)} ({_ratio(item.low)} to {_ratio(item.high)})",
        _p(item.p),
        _p(item.adjusted_p),
    )


def _ratio(ratio: float) -> str:
    if math.isinf(ratio):
        return "∞"
    return f"{ratio:.1f}" if ratio < 10 else f"{ratio:.0f}"


def _p(p: float) -> str:
    return "<0.001" if p < 0.001 else f"{p:.3f}"


def _findings(found: Trace) -> list[str]:
    first = found.suspects[0]
    lines = []
    if found.together:
        names = " and ".join(found.together)
        lines.append(f"{names} can't be told apart: nearly the same coats met them")
    elif found.guilty:
        lines.append(f"{first.name} stands out")
    elif first.worse and first.p <= 0.05:
        chance = f"but among {found.looked_at} comparisons chance alone can do that"
        lines.append(f"coats that met {first.name} came out bad more often, {chance}")
    else:
        lines.append("nothing stands out: the record can't say where it came from")
    if found.rides_along:
        several = len(found.rides_along) > 1
        names = ", ".join(found.rides_along)
        lines.append(f"{names} {'stand' if several else 'stands'} out only because {first.name} was met along with it")
    lines += _trial_words(found.trial, found)
    return lines


def _trial_words(trial: Trial | None, found: Trace) -> list[str]:
    if trial is None:
        if not found.suspects[0].worse:
            return []
        return ["no trial of up to 60 panels a set would settle it: record what more coats meet"]
    expect = f"expect about {trial.panels * trial.guilty:.0f} bad of {trial.panels} with the guilty one"
    expect += f" and {trial.panels * trial.innocent:.0f} without (8 in 10 trials show it)"
    if len(trial.arms) == 1:
        sets = f"{trial.panels} test panels with {trial.arms[0]}, and {trial.panels} with another, all else alike"
        return [f"a trial that would settle it: {sets}", f"  {expect}"]
    lines = ["the smallest trial that would tell them apart, all else alike:"]
    for arm in trial.arms:
        changed = ", ".join(other for other in trial.arms if other != arm)
        lines.append(f"  {trial.panels} test panels with {arm}, but another in place of {changed}")
    return [*lines, f"  {expect}"]


def _show_onset(onset: Onset) -> None:
    if onset.began and onset.day is not None:
        span = (
            "" if onset.earliest == onset.latest else f", between {onset.earliest} and {onset.latest} 95 times in 100"
        )
        rates = f"{100 * onset.before:.0f} % of the coats before, {100 * onset.after:.0f} % from then on"
        click.echo(f"  it began about {onset.day}{span}: {rates}")
    else:
        click.echo("  no day stands out on which it began")
    most = max((period.bad / period.coats for period in onset.periods), default=0) or 1
    shown = onset.periods[-24:]
    wide = max(len(period.label) for period in shown)
    longest = min(_BAR, (page_width() or 100) - wide - 21)
    for period in shown:
        bar = "█" * round(longest * period.bad / period.coats / most)
        click.echo(f"    {period.label:<{wide}}  {f'{period.bad} of {period.coats}':>12}  {bar}".rstrip())
