"""The demo's page: its story with swatches, plots and tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from finishmatch.cautions import DEFER, ISOCYANATES, OLD_PAINT, SOLVENTS
from finishmatch.cli.defect.advice import is_shown
from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.colour.display import lab_to_hex
from finishmatch.defects import percent
from finishmatch.dossier.match_page import Page, Section
from finishmatch.dossier.match_plot import Sample
from finishmatch.dossier.tables import Table, weigh_out_table

if TYPE_CHECKING:
    from finishmatch.cli.demo.story import DemoStory
    from finishmatch.correct.verdict import Verdict
    from finishmatch.readings import Reading


def demo_page(story: DemoStory) -> Page:
    """Return the page of a told story."""
    from finishmatch.cli.demo.story import COLOUR, OBSERVER, TITLE, TOLERANCE

    recipe = story.recipes.recipes[0]
    samples = (
        _sample(COLOUR, story.target_reading),
        _predicted("recipe, predicted", recipe.lab, recipe.reflectance),
        _sample("card 1", story.card(1)),
        _sample("card 2, corrected", story.card(2)),
        _sample("faded door", story.evidence["door"]),
    )
    correction = story.correction
    return Page(
        title=f"{TITLE}: {COLOUR}",
        lede="An invented car, shop, colour and bank of tints: every reading on this page was generated, not measured.",
        samples=samples,
        conditions=f"D65, {OBSERVER}° observer",
        tolerance=TOLERANCE,
        sections=(
            Section(
                "The target",
                (
                    "The leftover tin, stirred and sprayed out, and the paint sheltered under a bracket agree; the "
                    "exposed door is set aside. The target is the mean of the two.",
                ),
                (_evidence_table(story),),
            ),
            Section(
                "The recipe",
                (f"{story.recipes.searched.in_words[0].upper()}{story.recipes.searched.in_words[1:]}.",),
                (
                    weigh_out_table(f"Weigh out, {recipe.grams:g} g", recipe.parts),
                    Table("Promised", ("", "ΔE00"), tuple((k, f"{v:.2f}") for k, v in recipe.lights.items())),
                ),
                (_lights_figure(story),),
            ),
            Section(
                "Its tints",
                (
                    "How each tint of the recipe absorbs and scatters, as the panels of the bank tell it; the band "
                    "holds the truth 95 times in 100.",
                ),
                figures=(_tints_figure(story, [name for name, _ in recipe.parts]),),
                folded=(("Every tint of the bank", _tints_figure(story, story.fitted.fit.optics.names)),),
            ),
            Section(
                "Sprayed out and corrected",
                (_told("Card 1", story.verdict(1)), correction.why[0].upper() + correction.why[1:] + "."),
                (
                    Table(
                        f"Add, growth {correction.growth:.1%}",
                        ("tint", "grams"),
                        tuple((tint, f"{grams:g}") for tint, grams in correction.additions),
                    ),
                    _verdict_table(story),
                ),
            ),
            Section("The verdict", (_told("Card 2", story.verdict(2)),)),
            _roof_section(story),
        ),
        cautions=(ISOCYANATES, SOLVENTS, OLD_PAINT, DEFER),
    )


def _sample(name: str, reading: Reading) -> Sample:
    lab = reading.lab_in("D65", 10)
    return Sample(name, lab, lab_to_hex(lab), reading.reflectance)


def _predicted(name: str, lab: Floats, reflectance: Floats) -> Sample:
    return Sample(name, lab, lab_to_hex(lab), reflectance)


def _told(name: str, verdict: Verdict) -> str:
    words = ", ".join(verdict.words) or "not to be told from the target by eye"
    side = "inside" if verdict.within else "outside"
    return f"{name} is {words}: ΔE00 {max(verdict.lights.values()):.2f} in the worst light, {side} the tolerance."


def _lights_figure(story: DemoStory) -> str:
    from finishmatch.dossier.lights_plot import lights_svg
    from finishmatch.steps.mix import every_light

    recipe, target = story.recipes.recipes[0], story.target.reflectance
    assert target is not None  # the demo's target was read as a spectrum
    return lights_svg(every_light(story.target, recipe), story.target.name, target, recipe.reflectance)


def _tints_figure(story: DemoStory, names: Sequence[str]) -> str:
    from finishmatch.dossier.bank_plot import bank_svg
    from finishmatch.optics import predicted_reflectance

    optics = story.fitted.fit.optics
    shades = {}
    for name in names:
        masstone = predicted_reflectance(optics.chosen([name]), np.ones(1))
        shades[name] = lab_to_hex(reflectance_to_lab(masstone))
    return bank_svg(story.fitted.fit, shades, names)


def _evidence_table(story: DemoStory) -> Table:
    from finishmatch.correct.verdict import judge

    tin = story.evidence["tin"]
    rows = []
    for name, reading in story.evidence.items():
        lab = reading.lab_in("D65", 10)
        difference = judge(tin, reading, ("D65",), 10).de00
        spread = reading.spread_de00 or 0.0
        rows.append((name, *(f"{v:.2f}" for v in lab), str(len(reading.repeats)), f"{spread:.2f}", f"{difference:.2f}"))
    return Table("What survives", ("sample", "L*", "a*", "b*", "readings", "spread", "ΔE00 to the tin"), tuple(rows))


def _verdict_table(story: DemoStory) -> Table:
    one, two = story.verdict(1).lights, story.verdict(2).lights
    rows = tuple(
        (light, f"{one[light]:.2f}", f"{story.correction.lights[light]:.2f}", f"{two[light]:.2f}") for light in one
    )
    return Table("ΔE00 to the target", ("light", "card 1", "expected after adding", "card 2"), rows)


def _roof_section(story: DemoStory) -> Section:
    advice = story.advice
    rows = tuple(
        (
            option.name,
            percent(option.breakthrough),
            percent(option.chance_of_success) if option.chance_of_success else "ruled out",
            f"{option.left.mean_um:.0f}",
            "-" if option.expected_cost is None else f"{option.expected_cost:.0f}",
        )
        for option in advice.options
        if is_shown(option, advice)
    )
    film = tuple(
        (
            layer.layer,
            ", ".join(f"{build:g}" for build in layer.builds_um),
            f"{sum(layer.builds_um) / len(layer.builds_um):.0f}",
        )
        for layer in story.film
    )
    return Section(
        "Craters on the roof",
        (
            f"{advice.seen.count} craters with a rim and a bare middle, open to the {advice.seen.layer_reached}; "
            f"likeliest: {advice.causes[0]} ({percent(advice.diagnosis.causes[0].chance)}).",
            f"Decided: {advice.chosen.name}. {advice.reason}",
            advice.then[0].upper() + advice.then[1:] + ".",
        ),
        (
            Table("The film there, from the metal up", ("layer", "readings, µm", "mean"), film),
            Table("What can be done", ("option", "breaks through", "succeeds", "film left, µm", "expected cost"), rows),
        ),
    )
