"""The bench's own facts, recorded in a job: what was poured, sprayed, measured on the panel, noted, how it came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from finishmatch.cautions import MIXING
from finishmatch.cli.common import json_option, say_cautions
from finishmatch.cli.recording import record_one, replace_options
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.ledger import EntryView, FilmLayerEntry, JobView, Ledger


@click.command(
    "pour",
    epilog="""\b
Example:
  printf 'tint,grams\\nwhite,300\\nblue,120\\n' > batch.csv
  finishmatch job pour J1 batch.csv
""",
)
@click.argument("job")
@click.argument("batch", type=click.Path(path_type=Path))
@click.option(
    "--recipe",
    metavar="N",
    type=click.IntRange(min=1),
    help="The recipe it was poured by [default: the one of the job it agrees with].",
)
@click.option(
    "--bank",
    metavar="FOLDER",
    help="The bank it was poured from, which the job then knows: the names of its tints are seen to.",
)
@replace_options
@json_option
def pour(
    job: str, batch: Path, recipe: int | None, bank: str | None, supersedes: int | None, why: str, as_json: bool
) -> None:
    """Record in JOB what is in the tin: BATCH is a file of `tint,grams` in the order poured, additions included."""
    from finishmatch.ledger import BatchEntry, RecipeEntry, open_ledger, remember_bank
    from finishmatch.ledger.pouring import recipe_poured
    from finishmatch.readings import read_bank, read_batch

    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        poured_from = None if bank is None else read_bank(Path(bank))
        parts = read_batch(batch, None if poured_from is None else poured_from.tint_names)
        if recipe is None:
            recipe = recipe_poured(parts, ledger.entries(found, current_only=True, kind=RecipeEntry))
        entry = BatchEntry(parts, recipe)
        record_one(ledger, found, entry, supersedes=supersedes, why=why, as_json=as_json, sources=[batch])
        if poured_from is not None:
            remember_bank(ledger, found, poured_from.name, Path(bank or "").absolute())
    if not as_json:
        say_cautions(MIXING)


@click.command(
    "film",
    epilog="""\b
Example:
  finishmatch job film J1 --panel roof --layer primer --position 1 --build 62 --build 58,60
  finishmatch job film J1 --panel roof --layer "colour coat" --build 41,44,39
""",
)
@click.argument("job")
@click.option("--panel", metavar="TEXT", required=True, help="The panel, for example roof.")
@click.option("--layer", metavar="TEXT", required=True, help="The layer, for example primer.")
@click.option(
    "--build",
    "builds",
    metavar="UM",
    multiple=True,
    required=True,
    help="Build of this layer alone, µm; repeat, or part by commas.",
)
@click.option(
    "--place",
    "places",
    metavar="TEXT",
    multiple=True,
    help="Where on the panel, in words or as X/Y in mm (120/340); once for each --build reading, in order.",
)
@click.option(
    "--position",
    metavar="N",
    type=click.IntRange(min=1, max=99),
    help="Counted from the metal up, 1 lies on it [default: on top of the panel's layers, or the layer's own].",
)
@replace_options
@json_option
def film(
    job: str,
    panel: str,
    layer: str,
    builds: Sequence[str],
    places: Sequence[str],
    position: int | None,
    supersedes: int | None,
    why: str,
    as_json: bool,
) -> None:
    """Record in JOB the build readings of one layer of a panel, in µm."""
    from finishmatch.ledger import FilmLayerEntry, open_ledger

    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        numbers = [number for text in builds for number in _builds(text)]
        panel, layer = " ".join(panel.split()), " ".join(layer.split())
        standing = _film_of(ledger, found)
        if position is None:
            position = next((entry.position for number, entry in standing if number == supersedes), None)
        others = [
            (number, entry)
            for number, entry in standing
            if number != supersedes and entry.panel.casefold() == panel.casefold()
        ]
        entry = FilmLayerEntry(panel, _position(panel, layer, position, others), layer, numbers, tuple(places))
        record_one(ledger, found, entry, supersedes=supersedes, why=why, as_json=as_json)


def _builds(text: str) -> list[float]:
    numbers = []
    for part in text.split(","):
        try:
            number = float(part)
        except ValueError:
            raise InputError(f"--build '{text}'", f"'{part.strip()}' is not a number", "give µm, as in 62,58") from None
        if not 0 < number <= 5000:
            raise InputError(f"--build '{text}'", f"{number:g} µm is no film build", "give µm above 0 and up to 5000")
        numbers.append(number)
    return numbers


def _film_of(ledger: Ledger, job: JobView) -> list[tuple[int, FilmLayerEntry]]:
    """Return number and entry of the film readings that have not been replaced."""
    from finishmatch.ledger import FilmLayerEntry

    views = ledger.entries(job, current_only=True, kind=FilmLayerEntry)
    return [(view.number, view.entry) for view in views if isinstance(view.entry, FilmLayerEntry)]


def _position(panel: str, layer: str, wanted: int | None, others: Sequence[tuple[int, FilmLayerEntry]]) -> int:
    """Return where a layer lies; one position of a panel holds one layer, which may be read several times."""
    if wanted is None:
        own = [entry.position for _, entry in others if entry.layer.casefold() == layer.casefold()]
        return own[-1] if own else max((entry.position for _, entry in others), default=0) + 1
    for number, entry in others:
        if entry.position == wanted and entry.layer.casefold() != layer.casefold():
            raise InputError(
                f"--position {wanted}",
                f"layer {wanted} of the {panel} is already '{entry.layer}' (#{number})",
                f"choose another position, or replace it: --supersedes {number} --why TEXT",
            )
    return wanted


@click.command(
    "note",
    epilog="""\b
Example:
  finishmatch job note J1 "Leftover tin found under the bench, half dried."
""",
)
@click.argument("job")
@click.argument("text")
@replace_options
@json_option
def note(job: str, text: str, supersedes: int | None, why: str, as_json: bool) -> None:
    """Record in JOB anything else worth remembering."""
    from finishmatch.ledger import NoteEntry, open_ledger

    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        record_one(ledger, found, NoteEntry(text.strip()), supersedes=supersedes, why=why, as_json=as_json)


@click.command(
    "outcome",
    epilog="""\b
Example:
  finishmatch job outcome J1 "Flatted and recoated; no crater came back." --came right
""",
)
@click.argument("job")
@click.argument("text")
@click.option(
    "--decision",
    metavar="N",
    type=click.IntRange(min=1),
    help="The decision it is the outcome of [default: the one of the job that has none yet].",
)
@click.option(
    "--came",
    "result",
    type=click.Choice(["right", "failed", "broke through"]),
    help="How the work came out; the next advice reckons with it.",
)
@json_option
def outcome(job: str, text: str, decision: int | None, result: str | None, as_json: bool) -> None:
    """Record in JOB how a decision came out: TEXT joins the decision, whose earlier form stays in the history."""
    from finishmatch.ledger import DecisionEntry, open_ledger

    if not text.strip():
        raise InputError("outcome", "is empty", "say how it came out")
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        view = _decision_meant(ledger.entries(found, current_only=True, kind=DecisionEntry), decision, found)
        assert isinstance(view.entry, DecisionEntry)
        entry = replace(view.entry, outcome=text.strip(), result=result or view.entry.result)
        why = "the outcome was told anew" if view.entry.outcome else "the outcome is known"
        record_one(ledger, found, entry, supersedes=view.number, why=why, as_json=as_json)


def _decision_meant(views: Sequence[EntryView], number: int | None, job: JobView) -> EntryView:
    from finishmatch.ledger import DecisionEntry

    if number is not None:
        for view in views:
            if view.number == number:
                return view
        standing = ", ".join(f"#{view.number}" for view in views) or "none"
        raise InputError(
            f"--decision {number}", f"is not a standing decision of {job.ref}", f"those that stand: {standing}"
        )
    waiting = [view for view in views if isinstance(view.entry, DecisionEntry) and not view.entry.outcome]
    if not waiting:
        raise InputError(f"job {job.ref}", "no decision waits for an outcome", "name one to tell anew: --decision N")
    if len(waiting) > 1:
        which = ", ".join(f"#{view.number}" for view in waiting)
        raise InputError(
            f"job {job.ref}", f"{len(waiting)} decisions wait for an outcome ({which})", "say --decision N"
        )
    return waiting[0]
