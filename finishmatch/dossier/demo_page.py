"""The demo's page: its story with swatches, plots and tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.cautions import DEFER, ISOCYANATES, OLD_PAINT, SOLVENTS
from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.colour.display import lab_to_hex
from finishmatch.correct.verdict import Verdict
from finishmatch.defects import Option, percent
from finishmatch.dossier.bank_plot import bank_svg
from finishmatch.dossier.lights_plot import lights_svg
from finishmatch.dossier.match_page import Page, Sample, Section, render_page
from finishmatch.dossier.tables import Table, weigh_out_table
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.steps.demo import COLOUR, OBSERVER, TITLE, TOLERANCE, Demo


def render_demo(demo: Demo) -> str:
    """Return the page of the demo's job as HTML text, everything inline."""
    recipe = demo.mixed.recipes[0]
    first, second = demo.cards
    *_, door = demo.evidence
    page = Page(
        title=f"{TITLE}: {COLOUR}",
        lede="An invented car, shop, colour and bank of tints: every reading on this page was generated, not measured.",
        samples=(
            _sample(COLOUR, demo.goal.reading),
            _swatch("recipe, predicted", recipe.lab, recipe.reflectance),
            _sample("card 1", first.reading),
            _sample("card 2, corrected", second.reading),
            _sample("faded door", door.reading),
        ),
        conditions=f"D65, {OBSERVER}° observer",
        tolerance=TOLERANCE,
        sections=(
            _target_section(demo),
            _recipe_section(demo),
            _tints_section(demo),
            _correction_section(demo),
            Section("The verdict", (_verdict_words("Card 2", second.verdict),)),
            _roof_section(demo),
        ),
        cautions=(ISOCYANATES, SOLVENTS, OLD_PAINT, DEFER),
    )
    return render_page(page)


def _sample(name: str, reading: Reading) -> Sample:
    return _swatch(name, reading.lab_in("D65", OBSERVER), reading.reflectance)


def _swatch(name: str, lab: Floats, reflectance: Floats | None) -> Sample:
    return Sample(name, lab, lab_to_hex(lab), reflectance)


def _verdict_words(name: str, verdict: Verdict) -> str:
    words = ", ".join(verdict.words) or "the same as the target to the eye"
    side = "inside" if verdict.within else "outside"
    return f"{name} is {words}: ΔE00 {max(verdict.lights.values()):.2f} in the worst light, {side} the tolerance."


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _target_section(demo: Demo) -> Section:
    rows = []
    for one in demo.evidence:
        lab, spread = one.reading.lab_in("D65", OBSERVER), one.reading.spread_de00 or 0.0
        numbers = (*(f"{value:.2f}" for value in lab), str(len(one.reading.repeats)), f"{spread:.2f}")
        rows.append((one.reading.name, *numbers, f"{one.against_tin.de00:.2f}"))
    header = ("sample", "L*", "a*", "b*", "readings", "spread", "ΔE00 to the tin")
    words = (
        "The leftover tin, stirred and sprayed out, and the paint sheltered under a bracket agree; the exposed door is "
        "set aside. The target is the mean of the two."
    )
    return Section("The target", (words,), (Table("What survives", header, tuple(rows)),))


def _recipe_section(demo: Demo) -> Section:
    recipe, target = demo.mixed.recipes[0], demo.mixed.target
    assert target.reflectance is not None  # the demo's target was read as a spectrum
    cups = [one.tint for one in recipe.letdowns]
    promised = Table("Promised", ("", "ΔE00"), tuple((light, f"{de:.2f}") for light, de in recipe.lights.items()))
    return Section(
        "The recipe",
        (_sentence(demo.mixed.found.searched.in_words),),
        (weigh_out_table(f"Weigh out, {recipe.grams:g} g", recipe.parts, cups), promised),
        (lights_svg(demo.mixed.every_light, target.name, target.reflectance, recipe.reflectance),),
    )


def _tints_section(demo: Demo) -> Section:
    words = (
        "How each tint of the recipe absorbs and scatters, as estimated from the panels of the bank; the band "
        "holds the truth 95 times in 100."
    )
    own = [name for name, _ in demo.mixed.recipes[0].parts]
    every = demo.fitted.fit.optics.names
    return Section(
        "Its tints",
        (words,),
        figures=(_curves(demo, own),),
        folded=(("Every tint of the bank", _curves(demo, every)),),
    )


def _curves(demo: Demo, names: Sequence[str]) -> str:
    """Return the curves of some tints, each in the colour of its masstone."""
    optics = demo.fitted.fit.optics
    masstones = {name: predicted_reflectance(optics.chosen([name]), np.ones(1)) for name in names}
    shades = {name: lab_to_hex(reflectance_to_lab(masstone)) for name, masstone in masstones.items()}
    return bank_svg(demo.fitted.fit, shades, names)


def _correction_section(demo: Demo) -> Section:
    correction, (first, second) = demo.correction, demo.cards
    added = tuple((tint, f"{grams:g}") for tint, grams in correction.additions)
    one, two = first.verdict.lights, second.verdict.lights
    rows = tuple((light, f"{one[light]:.2f}", f"{correction.lights[light]:.2f}", f"{two[light]:.2f}") for light in one)
    return Section(
        "Sprayed out and corrected",
        (_verdict_words("Card 1", first.verdict), _sentence(correction.why)),
        (
            Table(f"Add {100 * correction.growth:.1f} % to the tin", ("tint", "grams"), added),
            Table("ΔE00 to the target", ("light", "card 1", "expected after adding", "card 2"), rows),
        ),
    )


def _roof_section(demo: Demo) -> Section:
    advice = demo.advised.advice
    film = tuple(
        (
            layer.layer,
            ", ".join(f"{build:g}" for build in layer.builds_um),
            f"{sum(layer.builds_um) / len(layer.builds_um):.0f}",
        )
        for layer in demo.film
    )
    options = tuple(_option_row(option) for option in advice.worth_showing)
    likeliest = f"{advice.causes[0]} ({percent(advice.diagnosis.causes[0].chance)})"
    return Section(
        "Craters on the roof",
        (
            f"{advice.seen.count} craters with a rim and a bare middle, open to the {advice.seen.layer_reached}; "
            f"likeliest: {likeliest}.",
            f"Decided: {advice.chosen.name}. {advice.reason}",
            _sentence(advice.then),
        ),
        (
            Table("The film there, from the metal up", ("layer", "readings, µm", "mean"), film),
            Table(
                "What can be done",
                ("option", "breaks through", "succeeds", "film left, µm", "expected cost"),
                options,
            ),
        ),
    )


def _option_row(option: Option) -> tuple[str, ...]:
    return (
        option.name,
        percent(option.breakthrough),
        percent(option.chance_of_success) if option.chance_of_success else "ruled out",
        f"{option.left.mean_um:.0f}",
        "-" if option.expected_cost is None else f"{option.expected_cost:.0f}",
    )
