"""The demo's job as a story in the terminal."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import click

from finishmatch.cautions import MIXING, REWORK
from finishmatch.cli.common import say_cautions, swatch, table
from finishmatch.cli.correct.shown import show_correction
from finishmatch.cli.defect.advice import show_advice
from finishmatch.cli.job.next_command import next_command
from finishmatch.cli.mix.shown import show_recipe
from finishmatch.colour.display import lab_to_hex
from finishmatch.steps.demo import COLOUR, OBSERVER, TITLE, TOLERANCE, WHY, Demo


def show_demo(demo: Demo) -> None:
    """Print the story of the job, chapter by chapter, and what is open in it."""
    chapters: tuple[tuple[str, Callable[[Demo], None]], ...] = (
        ("What survives", _show_evidence),
        ("The bank of tints", _show_bank),
        ("A recipe", _show_recipe),
        ("Poured, sprayed out and read", partial(_show_card, number=1)),
        ("Corrected by adding", _show_correction),
        ("Sprayed out again", partial(_show_card, number=2)),
        ("Craters on the roof", _show_roof),
    )
    click.echo(click.style(f"{TITLE}: {COLOUR}", bold=True))
    click.echo("  An invented car, colour, shop and bank of tints; every reading was generated.")
    for number, (heading, show) in enumerate(chapters, start=1):
        click.echo("\n" + click.style(f"{number}. {heading}", bold=True))
        show(demo)
    click.echo("\n" + click.style("Still open", bold=True))
    for item in demo.open:
        click.echo(f"  {item.what}: {next_command(demo.job, item)}")


def _show_evidence(demo: Demo) -> None:
    tin, *_ = demo.evidence
    rows = []
    for one in (*demo.evidence, demo.goal):
        lab, verdict = one.reading.lab_in("D65", OBSERVER), one.against_tin
        spread = "" if one is demo.goal else f"{one.reading.spread_de00 or 0:.2f}"
        difference, words = f"{verdict.de00:.2f}", ", ".join(verdict.words) or "no visible difference"
        if one is tin:
            difference, words = "", ""
        repeats = str(len(one.reading.repeats))
        numbers = (*(f"{value:.2f}" for value in lab), repeats, spread, difference)
        rows.append([swatch(lab_to_hex(lab), 6), one.reading.name, *numbers, words])
    header = ["", "D65, 10°", "L*", "a*", "b*", "readings", "spread", "ΔE00 to the tin", ""]
    click.echo("\n".join(table(header, rows)))
    click.echo(
        "  The leftover tin, stirred and sprayed out, and the paint that lay sheltered under a bracket agree; the\n"
        "  door has seen ninety summers. The target is the mean of tin and bracket."
    )


def _show_bank(demo: Demo) -> None:
    bank, fit = demo.fitted.bank, demo.fitted.fit
    residuals = sorted(panel.residual_de00 for panel in fit.panels)
    click.echo(
        f"  {bank.name}: {len(fit.usable)} tints, {len(fit.panels)} panels; residual ΔE00 "
        f"median {residuals[len(residuals) // 2]:.2f}, worst {residuals[-1]:.2f}"
    )


def _show_recipe(demo: Demo) -> None:
    found = demo.mixed.found
    click.echo(f"  {found.searched.in_words}; {len(found.recipes)} worth a look")
    show_recipe(1, found.recipes[0])
    say_cautions(MIXING)


def _show_card(demo: Demo, number: int) -> None:
    card = demo.cards[number - 1]
    verdict = card.verdict
    for name, lab in ((COLOUR, verdict.standard_lab), (f"card {number}", verdict.trial_lab)):
        click.echo(f"  {swatch(lab_to_hex(lab), 24)}  {name}")
    by_light = "   ".join(f"{light} {de:.2f}" for light, de in verdict.lights.items())
    click.echo(f"  ΔE00 {by_light}; {'inside' if verdict.within else 'outside'} the tolerance of {TOLERANCE:g}")
    click.echo(f"  the card is {', '.join(verdict.words) or 'the same as the target to the eye'}")
    click.echo(f"  strength of today's tins: {card.strengths}")


def _show_correction(demo: Demo) -> None:
    show_correction(demo.correction, demo.poured_g)


def _show_roof(demo: Demo) -> None:
    show_advice(demo.advised)
    click.echo(f"  Decided: {demo.advised.advice.chosen.name}; {WHY}.")
    say_cautions(REWORK)
