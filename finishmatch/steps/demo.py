"""The whole job on the bundled, invented scenario, from the evidence to the rework, recorded in a ledger of its own."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from finishmatch.correct.correction import Correction
from finishmatch.correct.verdict import Verdict, judge
from finishmatch.defects import Evidence, SeenDefect, film_layer, find_kind, make_film
from finishmatch.defects import advise as judge_defect
from finishmatch.errors import InputError
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
    OpenItem,
    describe_strengths,
    ledger_exists,
    open_ledger,
)
from finishmatch.outputs import check_output
from finishmatch.readings import Reading, read_batch, read_readings
from finishmatch.readings.film_file import LayerReadings, read_film
from finishmatch.readings.fit_file import FIT_FILE
from finishmatch.readings.scenario import swatches_folder
from finishmatch.steps.bank import FittedBank, open_bank
from finishmatch.steps.bank_kept import remember_mixed_from
from finishmatch.steps.compare import CompareRequest, compare
from finishmatch.steps.correct import correct
from finishmatch.steps.corrected import CorrectRequest
from finishmatch.steps.correction_forms import correction_entry
from finishmatch.steps.defect.advise import Advised, option_document
from finishmatch.steps.defect.logged import DefectCase
from finishmatch.steps.entries import reading_entry, sources_of, spray_out_entry, verdict_entry
from finishmatch.steps.mix import Mixed, MixRequest, mix
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.recipe_entries import recipe_entry, target_entry
from finishmatch.steps.todays_tins import tins_in

Parts = Sequence[tuple[str, float]]
Sources = Sequence[Path] | Mapping[int, Sequence[Path]]

OBSERVER = 10
TOLERANCE = 0.5
BATCH_G = 500.0
MAX_TINTS = 4
TITLE = "Tarnbeck Six drophead coupé, 1934"
COLOUR = "Saltmarsh Blue"
NOTE_OF_JOB = "invented scenario"
ROLES = {"tin": "leftover tin", "bracket": "sheltered paint", "door": "exposed paint"}
WEIGHTS = (("tin", 0.5), ("bracket", 0.5))
LEFT_OUT = ("door", "ninety summers of daylight have faded it")
EXPOSURES = (
    ("air line", "bay 2, drained last week"),
    ("gun", "gravity gun 1"),
    ("polish in the room", "silicone glaze"),
)
SIGNS = ("rim", "bare centre", "scattered")
CHECKS = (("air line", "clean"),)
CRATERS, CRATER_MM = 14, 1.5
OUT = "demo-out"  # the folder, where none is named
PAGE = "match.html"  # in the folder, where a face puts the page
WHY = "the craters are open to the surfacer; the glaze polish is out of the room until the cause is known"
NOTE = "silicone glaze taken out of the paint room; a wet plate to be stood in it as a check"

_ANOTHER = "name another folder with `out`"


@dataclass(frozen=True)
class Survivor:
    """A reading of what survives, or their mean: its role ("" for the mean), and how it differs from the tin."""

    reading: Reading
    role: str
    against_tin: Verdict


@dataclass(frozen=True)
class SprayedCard:
    """A spray-out card: its reading, the verdict on it, and what is known of the tins after it, in words."""

    reading: Reading
    verdict: Verdict
    strengths: str


@dataclass(frozen=True)
class Demo:
    """The job and what was found in it.

    Parameters
    ----------
    job : JobView
    evidence : tuple of Survivor
        The tin, the sheltered paint and the exposed paint.
    goal : Survivor
        The mean of the first two, which is matched.
    fitted : FittedBank
    mixed : Mixed
    cards : tuple of two SprayedCard
        Of the first batch, and of the corrected one.
    poured_g : float
        Weight of the first batch.
    correction : Correction
    film : tuple of LayerReadings
        On the roof.
    advised : Advised
        On the craters there.
    open : tuple of OpenItem
        In the job.
    """

    job: JobView
    evidence: tuple[Survivor, ...]
    goal: Survivor
    fitted: FittedBank
    mixed: Mixed
    cards: tuple[SprayedCard, SprayedCard]
    poured_g: float
    correction: Correction
    film: tuple[LayerReadings, ...]
    advised: Advised
    open: tuple[OpenItem, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object; the face adds where it left page and ledger."""
        advice = self.advised.advice
        return {
            "job": self.job.ref,
            "recipe": [{"tint": tint, "grams": grams} for tint, grams in self.mixed.recipes[0].parts],
            "first_card": self.cards[0].verdict.lights,
            "additions": [{"tint": tint, "grams": grams} for tint, grams in self.correction.additions],
            "second_card": self.cards[1].verdict.lights,
            "tolerance": TOLERANCE,
            "defect": advice.seen.kind.name,
            "advice": advice.chosen.name,
        }


@dataclass(frozen=True)
class _Bench:
    """Where the scenario is read from, where it is recorded, and the job."""

    swatches: Path
    folder: Path
    job: JobView

    def record(self, entries: Sequence[Entry], sources: Sources = ()) -> list[int]:
        """Record entries of the job, all or nothing."""
        with open_ledger(self.folder, create=False) as ledger:
            return ledger.record_all(self.job, entries, sources=sources)

    def reading(self, name: str) -> Reading:
        """Return the one reading of a file."""
        return next(iter(read_readings(self.swatches / name).values()))


def demo(folder: Path, *, progress: Progress = quiet) -> Demo:
    """Run the whole job, and record it in the ledger of a folder; a ledger that is there gets another job.

    Parameters
    ----------
    folder : Path
        Is made where there is none; the bank is copied into it, so that its fit can be kept.
    progress : Progress

    Raises
    ------
    InputError
        The folder can't be written; nothing is written then.
    """
    _see_writable(folder)
    with open_ledger(folder) as ledger:
        job = ledger.new_job(TITLE, vehicle="Tarnbeck Six", colour_name=COLOUR, note=NOTE_OF_JOB)
    bench = _Bench(swatches_folder(), folder, job)
    evidence, goal = _survivors(bench)
    fitted = _bank(bench, progress)
    # the tins are those of this job alone, whatever the user's own record knows of their lots
    mixed = mix(goal.reading, fitted, BATCH_G, MixRequest(max_tints=MAX_TINTS, fresh_tins=True), progress=progress)
    _record_goal(bench, evidence, mixed)
    recipe, *_ = bench.record(
        [recipe_entry(one, rank, fitted.bank, mixed.target) for rank, one in enumerate(mixed.recipes[:3], start=1)]
    )
    first, batch = _sprayed(bench, 1, goal.reading, fitted, recipe)
    poured = _batch(bench, 1, fitted)
    request = CorrectRequest(tolerance=TOLERANCE, fresh_tins=True)
    correction = correct(goal.reading, fitted, poured, first.reading, request, progress=progress).found
    bench.record([correction_entry(correction, batch)])
    second, _ = _sprayed(bench, 2, goal.reading, fitted, recipe)
    film = read_film(bench.swatches / "roof.csv")
    advised = _roof(bench, film)
    with open_ledger(folder, create=False) as ledger:
        still_open = tuple(ledger.story(job).open)
    return Demo(
        job=job,
        evidence=evidence,
        goal=goal,
        fitted=fitted,
        mixed=mixed,
        cards=(first, second),
        poured_g=sum(grams for _, grams in poured),
        correction=correction,
        film=film,
        advised=advised,
        open=still_open,
    )


def _see_writable(folder: Path) -> None:
    """Make the folder, and see that everything in it can be written before the first thing is."""
    bank, page = folder / "bank", folder / PAGE
    try:
        if bank.exists() and not bank.is_dir():
            raise InputError(str(bank), "is a file where the demo's bank should be", _ANOTHER)
        if page.is_dir():
            raise InputError(str(page), "is a folder where the demo's page should be", _ANOTHER)
        folder.mkdir(parents=True, exist_ok=True)
        for place in (folder, bank) if bank.exists() else (folder,):
            tempfile.TemporaryFile(dir=place).close()
        _see_ours(folder)
    except OSError as error:
        raise InputError(str(folder), f"can't be written: {error.strerror}", _ANOTHER) from None


def _see_ours(folder: Path) -> None:
    """See that a folder that holds anything is a demo's, and that nothing in it was changed that would be replaced."""
    if not folder.is_dir() or not any(folder.iterdir()):
        return
    # a folder whose demo was stopped at once holds a ledger and nothing else
    begun = all(item.name.startswith("ledger.db") for item in folder.iterdir())
    if ledger_exists(folder):
        with open_ledger(folder, create=False) as ledger:
            jobs = ledger.jobs()
        begun = (begun and not jobs) or any((job.title, job.note) == (TITLE, NOTE_OF_JOB) for job in jobs)
    if not begun or not ledger_exists(folder):
        raise InputError(str(folder), "isn't empty, and no demo was left there", _ANOTHER)
    for source in sorted((swatches_folder() / "bank").iterdir()):
        copied = folder / "bank" / source.name
        if source.name != FIT_FILE and copied.exists() and copied.read_bytes() != source.read_bytes():
            raise InputError(str(copied), "was changed since the demo wrote it", _ANOTHER)
    page = folder / PAGE
    try:
        check_output(page)
    except InputError:
        raise InputError(str(page), "was not written by the demo, or has been changed since", _ANOTHER) from None


def _survivors(bench: _Bench) -> tuple[tuple[Survivor, ...], Survivor]:
    """Return the readings of what survives, and the mean of tin and sheltered paint."""
    readings = read_readings(bench.swatches / "evidence.csv")
    tin, mean = readings["tin"], bench.reading("target.csv")

    def survivor(reading: Reading, role: str) -> Survivor:
        return Survivor(reading, role, judge(tin, reading, ("D65",), OBSERVER, TOLERANCE))

    return tuple(survivor(reading, ROLES[name]) for name, reading in readings.items()), survivor(mean, "")


def _bank(bench: _Bench, progress: Progress) -> FittedBank:
    """Return the bank, copied beside the ledger."""
    copied = bench.folder / "bank"
    copied.mkdir(exist_ok=True)
    for source in sorted((bench.swatches / "bank").iterdir()):
        write_file(copied / source.name, source.read_bytes())
    return open_bank(copied, progress)


def _record_goal(bench: _Bench, evidence: Sequence[Survivor], mixed: Mixed) -> None:
    entries: list[Entry] = [reading_entry(one.reading, one.role) for one in evidence]
    goal = replace(
        target_entry(mixed.target, TOLERANCE), evidence=["tin", "bracket"], weights=list(WEIGHTS), left_out=[LEFT_OUT]
    )
    files = {i: [bench.swatches / "evidence.csv"] for i in range(len(entries))}
    bench.record([*entries, goal], files | {len(entries): [bench.swatches / "target.csv"]})


def _batch(bench: _Bench, number: int, fitted: FittedBank) -> Parts:
    """Return what was in the tin when a card was sprayed."""
    return read_batch(bench.swatches / f"batch{number}.csv", fitted.bank.tint_names)


def _sprayed(bench: _Bench, number: int, goal: Reading, fitted: FittedBank, recipe: int) -> tuple[SprayedCard, int]:
    """Judge a card and record it with its batch, and what it shows of the tins; return it and the batch's number."""
    card, parts = bench.reading(f"card{number}.csv"), _batch(bench, number, fitted)
    verdict = compare(goal, card, CompareRequest(tolerance=TOLERANCE)).verdict
    batch, *_ = bench.record(
        [BatchEntry(list(parts), recipe), spray_out_entry(card, Nth(0)), verdict_entry(goal, card, verdict)],
        {0: [bench.swatches / f"batch{number}.csv"], 1: sources_of(card)},
    )
    with open_ledger(bench.folder, create=False) as ledger:
        remember_mixed_from(ledger, bench.job, fitted.bank, bench.folder / "bank")
        tins = tins_in(ledger, bench.job, fitted)
    bench.record(tins.caught_up)
    assert tins.prior is not None
    of_first = tins.prior.chosen([name for name, _ in _batch(bench, 1, fitted)])
    strengths = describe_strengths(of_first.names, of_first.log_mean.tolist(), of_first.sd.tolist())
    return SprayedCard(card, verdict, strengths), batch


def _roof(bench: _Bench, layers: Sequence[LayerReadings]) -> Advised:
    """Record the film of the roof and the craters in it, and decide what to do about them."""
    film = make_film([film_layer(layer.layer, layer.builds_um) for layer in layers])
    evidence = Evidence(SIGNS, CHECKS, EXPOSURES)
    seen = SeenDefect(find_kind("craters"), CRATERS, CRATER_MM, layer_reached=layers[0].layer, evidence=evidence)
    advice = judge_defect(seen, film)
    builds = [FilmLayerEntry("roof", layer.position, layer.layer, layer.builds_um, layer.places) for layer in layers]
    defect = DefectEntry(
        advice.seen.kind.name, "roof", "all over the front half", CRATERS, CRATER_MM, None,
        layers[0].layer, date.today().isoformat(), EXPOSURES, seen=SIGNS, checks=CHECKS,
    )  # fmt: skip
    *_, number = bench.record([*builds, defect], {i: [bench.swatches / "roof.csv"] for i in range(len(builds))})
    options = [option_document(option) for option in advice.options]
    bench.record([DecisionEntry(number, options, advice.chosen.name, WHY, ""), NoteEntry(NOTE)])
    return Advised(advice, DefectCase(advice.seen, film, bench.job.ref, number, "on the roof"))
