"""What the steps found, as entries of the ledger."""

from __future__ import annotations

from pathlib import Path

from finishmatch import ledger  # a kind of entry is imported when something is recorded
from finishmatch.correct.verdict import Verdict
from finishmatch.readings import Reading
from finishmatch.readings.look_form import saw_document
from finishmatch.steps.seen_kept import kept_seen


def sources_of(*readings: Reading) -> list[Path]:
    """Return the files the readings came from, each once."""
    return list(dict.fromkeys(reading.source for reading in readings if reading.source is not None))


def reading_entry(reading: Reading, role: str) -> ledger.ReadingEntry:
    """Return a reading as it is kept: its mean, how many repeats, and their spread."""
    facts = reading.target
    return ledger.ReadingEntry(
        role=role,
        name=reading.name,
        lab=reading.lab_in(reading.light, reading.observer).tolist(),
        light=reading.light,
        observer=reading.observer,
        geometry=reading.geometry,
        reflectance=None if reading.reflectance is None else reading.reflectance.tolist(),
        repeats=len(reading.repeats),
        spread_de00=reading.spread_de00,
        u95=None if facts is None else facts.u95,
        u95_own=None if facts is None else facts.u95_own,
        camera_saw=[saw_document(one) for one in reading.camera_saw],
    )


def spray_out_entry(reading: Reading, batch: int | None) -> ledger.SprayOutEntry:
    """Return a spray-out that hides as it is kept."""
    return ledger.SprayOutEntry(
        batch=batch,
        lab=reading.lab_in(reading.light, reading.observer).tolist(),
        reflectance=None if reading.reflectance is None else reading.reflectance.tolist(),
        name=reading.name,
        light=reading.light,
        observer=reading.observer,
        geometry=reading.geometry,
        repeats=len(reading.repeats),
        spread_de00=reading.spread_de00,
        seen=kept_seen(reading),
    )


def verdict_entry(
    standard: Reading, trial: Reading, verdict: Verdict, spray_out: int | None = None
) -> ledger.VerdictEntry:
    """Return a verdict as it is kept, with the number of the spray-out that was judged, where it is one."""
    return ledger.VerdictEntry(
        standard=standard.name,
        trial=trial.name,
        de00=verdict.de00,
        de76=verdict.de76,
        lights=verdict.lights,
        metamerism=verdict.metamerism,
        words=list(verdict.words),
        tolerance=verdict.tolerance,
        verdict="within" if verdict.within else "outside",
        spray_out=spray_out,
        u95=verdict.u95,
    )
