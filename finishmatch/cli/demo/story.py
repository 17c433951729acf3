"""The demo's job from the evidence to the rework, each step computed by its command's code, told and recorded."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import click

from finishmatch.cautions import MIXING, REWORK
from finishmatch.cli.common import say_cautions, stage, swatch, table
from finishmatch.cli.correct.shown import show_correction
from finishmatch.cli.defect.advice import show_advice
from finishmatch.cli.job.next_command import next_command
from finishmatch.cli.mix.shown import show_recipe
from finishmatch.colour.display import lab_to_hex
from finishmatch.correct.correct import Correction, correct_batch
from finishmatch.correct.verdict import Verdict, judge
from finishmatch.defects import Advice, Evidence, SeenDefect, advise, film_layer, find_kind, make_film
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.files import write_file
from finishmatch.ledger import (
    BatchEntry,
    DecisionEntry,
    DefectEntry,
    Entry,
    FilmLayerEntry,
    JobView,
    NoteEntry,
    Nth,
    describe_strengths,
    open_ledger,
    remember_bank,
)
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import RecipeList
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.readings import Reading, read_batch, read_readings
from finishmatch.readings.film_file import LayerReadings, read_film
from finishmatch.steps.bank import FittedBank, open_bank
from finishmatch.steps.correct import correction_entry
from finishmatch.steps.defect.advise import Advised, option_document
from finishmatch.steps.defect.logged import DefectCase
from finishmatch.steps.entries import reading_entry, sources_of, spray_out_entry, verdict_entry
from finishmatch.steps.mix import recipe_entry, target_entry
from finishmatch.steps.todays_tins import tins_in

Parts = Sequence[tuple[str, float]]
Sources = Sequence[Path] | Mapping[int, Sequence[Path]]

LIGHTS = ("D65", "A", "F11")
OBSERVER = 10
TOLERANCE = 0.5
BATCH_G = 500.0
MAX_TINTS = 4
TITLE = "Tarnbeck Six drophead coupé, 1934"
COLOUR = "Saltmarsh Blue"
EXPOSURES = (
    ("air line", "bay 2, drained last week"),
    ("gun", "gravity gun 1"),
    ("polish in the room", "silicone glaze"),
)
SIGNS = ("rim", "bare centre", "scattered")
CHECKS = (("air line", "clean"),)
CRATERS, CRATER_MM = 14, 1.5


class DemoStory:
    """The scenario and what is found on the way; each finding is computed once and kept."""

    def __init__(self, swatches: Path, folder: Path) -> None:
        self.swatches = swatches
        self.folder = folder
        self.job: JobView
        self.recipe_number = 0
        self.batch_number = 0

    @cached_property
    def evidence(self) -> dict[str, Reading]:
        """The readings of what survives."""
        return read_readings(self.swatches / "evidence.csv")

    @cached_property
    def target_reading(self) -> Reading:
        """The tin and the sheltered paint, averaged."""
        return next(iter(read_readings(self.swatches / "target.csv").values()))

    @cached_property
    def target(self) -> ColourTarget:
        """What is to be matched."""
        return colour_target(self.target_reading, LIGHTS, OBSERVER)

    @cached_property
    def fitted(self) -> FittedBank:
        """The bank, copied into the results so that its fit can be kept beside it."""
        copied = self.folder / "bank"
        copied.mkdir(exist_ok=True)
        for source in sorted((self.swatches / "bank").iterdir()):
            write_file(copied / source.name, source.read_bytes())
        return open_bank(copied, stage)

    @cached_property
    def recipes(self) -> RecipeList:
        """The recipes for the batch."""
        with stage("searching the recipes"):
            return propose_recipes(
                self.target, self.fitted.fit.optics, self.fitted.bank.tints, BATCH_G, RecipeRequest(max_tints=MAX_TINTS)
            )

    @cached_property
    def poured(self) -> tuple[tuple[str, float], ...]:
        """What the painter poured."""
        return read_batch(self.swatches / "batch1.csv", self.fitted.bank.tint_names)

    @cached_property
    def poured_after(self) -> tuple[tuple[str, float], ...]:
        """What was in the tin after the correction."""
        return read_batch(self.swatches / "batch2.csv", self.fitted.bank.tint_names)

    def card(self, number: int) -> Reading:
        """The reading of a sprayed-out card."""
        return next(iter(read_readings(self.swatches / f"card{number}.csv").values()))

    def verdict(self, number: int) -> Verdict:
        """The verdict on a card."""
        return judge(self.target_reading, self.card(number), LIGHTS, OBSERVER, TOLERANCE)

    @cached_property
    def correction(self) -> Correction:
        """What to add to the first batch."""
        return correct_batch(
            self.target, self.fitted.fit.optics, self.fitted.bank.tints, self.poured, self.card(1), TOLERANCE
        )

    @cached_property
    def film(self) -> tuple[LayerReadings, ...]:
        """The build of the roof."""
        return read_film(self.swatches / "roof.csv")

    @cached_property
    def advice(self) -> Advice:
        """What to do about the craters."""
        film = make_film([film_layer(layer.layer, layer.builds_um) for layer in self.film])
        seen = SeenDefect(
            find_kind("fish eyes"),
            CRATERS,
            CRATER_MM,
            layer_reached=self.film[0].layer,
            evidence=Evidence(SIGNS, CHECKS, EXPOSURES),
        )
        return advise(seen, film)

    def tell(self) -> None:
        """Tell the story, recording each step."""
        with open_ledger(self.folder) as ledger:
            self.job = ledger.new_job(TITLE, vehicle="Tarnbeck Six", colour_name=COLOUR, note="invented scenario")
        click.echo(click.style(f"{TITLE}: {COLOUR}", bold=True))
        click.echo("  An invented car, colour, shop and bank of tints; every reading was generated.")
        for number, (heading, step) in enumerate(self._steps(), start=1):
            click.echo("\n" + click.style(f"{number}. {heading}", bold=True))
            step()
        self._say_open()

    def as_document(self) -> dict[str, Any]:
        """Return what the story came to, for the JSON object."""
        return {
            "job": self.job.ref,
            "recipe": [{"tint": tint, "grams": grams} for tint, grams in self.recipes.recipes[0].parts],
            "first_card": self.verdict(1).lights,
            "additions": [{"tint": tint, "grams": grams} for tint, grams in self.correction.additions],
            "second_card": self.verdict(2).lights,
            "tolerance": TOLERANCE,
            "defect": self.advice.seen.kind.name,
            "advice": self.advice.chosen.name,
        }

    def _steps(self) -> list[tuple[str, Callable[[], None]]]:
        return [
            ("What survives", self._tell_evidence),
            ("The bank of tints", self._tell_bank),
            ("A recipe", self._tell_recipe),
            ("Poured, sprayed out and read", lambda: self._tell_card(1, self.poured)),
            ("Corrected by adding", self._tell_correction),
            ("Sprayed out again", lambda: self._tell_card(2, self.poured_after)),
            ("Craters on the roof", self._tell_roof),
        ]

    def record(self, entries: Sequence[Entry], sources: Sources = ()) -> list[int]:
        """Record entries of this job, all or nothing."""
        with open_ledger(self.folder, create=False) as ledger:
            return ledger.record_all(self.job, entries, sources=sources)

    def _tell_evidence(self) -> None:
        tin = self.evidence["tin"]
        rows = []
        for reading in (*self.evidence.values(), self.target_reading):
            lab = reading.lab_in("D65", OBSERVER)
            against = judge(tin, reading, ("D65",), OBSERVER, TOLERANCE)
            told = "" if reading is tin else f"{against.de00:.2f}"
            spread = "" if reading is self.target_reading else f"{reading.spread_de00 or 0:.2f}"
            rows.append(
                [
                    swatch(lab_to_hex(lab), 6), reading.name, *(f"{v:.2f}" for v in lab), str(len(reading.repeats)),
                    spread, told, "" if reading is tin else ", ".join(against.words) or "no visible difference",
                ]
            )  # fmt: skip
        header = ["", "D65, 10°", "L*", "a*", "b*", "readings", "spread", "ΔE00 to the tin", ""]
        click.echo("\n".join(table(header, rows)))
        click.echo(
            "  The leftover tin, stirred and sprayed out, and the paint that lay sheltered under a bracket agree; the\n"
            "  door has seen ninety summers. The target is the mean of tin and bracket."
        )
        roles = {"tin": "leftover tin", "bracket": "sheltered paint", "door": "exposed paint"}
        entries: list[Entry] = [reading_entry(reading, roles[name]) for name, reading in self.evidence.items()]
        goal = replace(target_entry(self.target, TOLERANCE), evidence=["tin", "bracket"])
        files = {i: [self.swatches / "evidence.csv"] for i in range(len(entries))}
        self.record([*entries, goal], files | {len(entries): [self.swatches / "target.csv"]})

    def _tell_bank(self) -> None:
        fit = self.fitted.fit
        residuals = sorted(panel.residual_de00 for panel in fit.panels)
        click.echo(
            f"  {self.fitted.bank.name}: {len(fit.usable)} tints, {len(fit.panels)} panels; k2 "
            f"{fit.optics.surface.k2:.2f}; residual ΔE00 median {residuals[len(residuals) // 2]:.2f}, worst "
            f"{residuals[-1]:.2f}"
        )

    def _tell_recipe(self) -> None:
        click.echo(f"  {self.recipes.searched.in_words}; {len(self.recipes.recipes)} worth a look")
        show_recipe(1, self.recipes.recipes[0])
        say_cautions(MIXING)
        entries = [
            recipe_entry(recipe, rank, self.fitted.bank, self.target)
            for rank, recipe in enumerate(self.recipes.recipes[:3], start=1)
        ]
        self.recipe_number = self.record(entries)[0]

    def _tell_card(self, number: int, batch: Parts) -> None:
        verdict = self.verdict(number)
        for name, lab in ((COLOUR, verdict.standard_lab), (f"card {number}", verdict.trial_lab)):
            click.echo(f"  {swatch(lab_to_hex(lab), 24)}  {name}")
        told = "   ".join(f"{light} {de:.2f}" for light, de in verdict.lights.items())
        side = "inside" if verdict.within else "outside"
        click.echo(f"  ΔE00 {told}; {side} the tolerance of {TOLERANCE:g}")
        click.echo(f"  the card is {', '.join(verdict.words) or 'not to be told from the target by eye'}")
        files = {
            0: [self.swatches / f"batch{number}.csv"],
            1: sources_of(self.card(number)),
        }
        self.batch_number = self.record(
            [
                BatchEntry(list(batch), self.recipe_number),
                spray_out_entry(self.card(number), Nth(0)),
                verdict_entry(self.target_reading, self.card(number), verdict),
            ],
            files,
        )[0]
        self._learn()

    def _learn(self) -> None:
        """Keep what the card shows of its tins, as every command does that records a spray-out."""
        with open_ledger(self.folder, create=False) as ledger:
            remember_bank(ledger, self.job, self.fitted.bank.name, (self.folder / "bank").absolute())
            tins = tins_in(ledger, self.job, self.fitted)
        self.record(tins.caught_up)
        assert tins.prior is not None
        poured = tins.prior.chosen([name for name, _ in self.poured])
        strengths = describe_strengths(poured.names, poured.log_mean.tolist(), poured.sd.tolist())
        click.echo(f"  learnt of today's tins: {strengths}")

    def _tell_correction(self) -> None:
        show_correction(self.correction, sum(grams for _, grams in self.poured))
        self.record([correction_entry(self.correction, self.batch_number)])

    def _tell_roof(self) -> None:
        builds: list[Entry] = [
            FilmLayerEntry("roof", layer.position, layer.layer, layer.builds_um, layer.places) for layer in self.film
        ]
        defect = DefectEntry(
            self.advice.seen.kind.name, "roof", "all over the front half", CRATERS, CRATER_MM, None,
            self.film[0].layer, date.today().isoformat(), EXPOSURES, seen=SIGNS, checks=CHECKS,
        )  # fmt: skip
        number = self.record([*builds, defect], {i: [self.swatches / "roof.csv"] for i in range(len(builds))})[-1]
        seen = self.advice.seen
        film = make_film([film_layer(layer.layer, layer.builds_um) for layer in self.film])
        show_advice(Advised(self.advice, DefectCase(seen, film, self.job.ref, number, "on the roof")))
        options = [option_document(option) for option in self.advice.options]
        why = "the craters are open to the surfacer; the glaze polish is out of the room until the cause is known"
        decision = DecisionEntry(number, options, self.advice.chosen.name, why, "")
        self.record(
            [
                decision,
                NoteEntry("silicone glaze taken out of the paint room; a wet plate to be stood in it as a check"),
            ]
        )
        click.echo(f"  Decided: {self.advice.chosen.name}; {why}.")
        say_cautions(REWORK)

    def _say_open(self) -> None:
        with open_ledger(self.folder, create=False) as ledger:
            story = ledger.story(self.job)
        click.echo("\n" + click.style("Still open", bold=True))
        for item in story.open:
            click.echo(f"  {item.what}: {next_command(self.job, item)}")
