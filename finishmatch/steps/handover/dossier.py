"""A job is handed over as a document: what stands in the record, drawn by whoever is given it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from finishmatch.errors import InputError
from finishmatch.steps.handover.kept_job import KeptJob, kept_job


@dataclass(frozen=True)
class Written:
    """A document that was written: of which job, the files, by which standard its PDF is, its pages of notes."""

    kept: KeptJob
    files: tuple[str, ...]
    standard: str
    warnings: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        formula = self.kept.formula
        return {
            "job": self.kept.job.as_dict(),
            "files": list(self.files),
            "pdf_standard": self.standard,
            "formula": None if formula is None else formula.as_dict(),
            "seal": self.kept.seal,
            "warnings": list(self.warnings),
        }


Draw = Callable[[KeptJob], tuple[tuple[str, ...], str]]


def write_dossier(job: str, draw: Draw) -> Written:
    """Write a job as a document.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    draw : callable
        Is given what the record holds, writes the document, and returns its files and the standard of its PDF.

    Raises
    ------
    InputError
        No such job, or one with nothing in it.
    """
    kept = kept_job(job)
    if not kept.views:
        raise InputError(f"job {kept.job.ref}", "holds nothing yet that could be handed over", "record something first")
    files, standard = draw(kept)
    return Written(kept, files, standard, tuple(_lacking(kept)))


def write_spec(job: str, draw: Draw) -> Written:
    """Write the page for a paint shop that is to mix for a job; parameters as for `write_dossier`.

    Raises
    ------
    InputError
        No such job, or one without a target.
    """
    kept = kept_job(job, files=False)
    if kept.target is None:
        raise InputError(f"job {kept.job.ref}", "has no target yet", "weigh its evidence, or mix for it, first")
    files, standard = draw(kept)
    lacking = () if kept.target.reflectance is not None else ("the target has no spectrum: one light is given alone",)
    return Written(kept, files, standard, lacking)


def _lacking(kept: KeptJob) -> list[str]:
    """Return what who reads the document will miss."""
    lacking = []
    if kept.target is None:
        lacking.append("no target is recorded: the dossier can't say what the colour was")
    if kept.formula is None:
        lacking.append("no batch and no recipe is recorded: the dossier has no formula")
    elif unnamed := _unnamed(kept):
        once = f"finishmatch job use {kept.job.ref} `bank` FOLDER"
        mend = f"write them into the bank's tints.csv (colour_index), then {once}"
        if not kept.tints:
            mend = f"name the job's bank once, {once}"
        lacking.append(f"no Colour Index names are recorded of {', '.join(unnamed)}: {mend}")
    return lacking


def _unnamed(kept: KeptJob) -> list[str]:
    """Return the tints of a formula whose Colour Index names who reads it will miss; a clear holds no pigment."""
    clears = {tint.tint for tint in kept.tints.values() if tint.role == "clear"}
    parts = () if kept.formula is None else kept.formula.parts
    return [part.tint for part in parts if not part.colour_index and part.tint not in clears]
