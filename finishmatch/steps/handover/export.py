"""A job leaves as open data: the record, spectra, photographs and files, and the dossier, in one zip."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import (
    EntryView,
    ReadingEntry,
    SprayOutEntry,
    TargetEntry,
    bundled_job,
    open_ledger,
)
from finishmatch.photo.without_place import is_picture, without_place
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.spectra_files import SpectrumToWrite, cgats_text, cxf_text
from finishmatch.steps.handover.bundle_file import as_json, packed
from finishmatch.steps.handover.job_form import SCHEMA, job_document, job_schema
from finishmatch.steps.handover.kept_job import Formula, KeptJob, kept_in

JOB_FILE = "job.json"
CGATS_FILE, CXF_FILE, FORMULA_FILE, README_FILE = "spectra.cgats.txt", "spectra.cxf", "formula.csv", "README.txt"
_WHAT = {"target": "Standard", "spray-out": "Trial"}
_EXTENSIONS = (
    ".csv",
    ".txt",
    ".xlsx",
    ".toml",
    ".jpg",
    ".jpeg",
    ".png",
    ".tif",
    ".tiff",
    ".heic",
    ".dng",
    ".cxf",
    ".xml",
)
_LEFT = "its place can't be taken out with certainty"
README = """\
A job of finishmatch, the colour and finish bench of a restoration painter, as open data.

job.json             the whole record, replaced and struck entries included; its form: {schema}
{spectra}formula.csv          the formula in grams and shares
dossier.html, .pdf   the job as a document, to read
sources/             the files its entries were found with, by the SHA-256 of what they were
manifest.json        every file of this bundle with its SHA-256

finishmatch import takes it into another record, and refuses it when anything in it was changed.
Seal: {seal}
"""


@dataclass(frozen=True)
class Exported:
    """A bundle that was written.

    Parameters
    ----------
    kept : KeptJob
    file : str
    files : tuple of str
        The names in it.
    spectra : int
        How many spectra it holds.
    stripped : tuple of str
        Photographs that left without what their files say.
    left_out : tuple of str
        Photographs that didn't leave, since that can't be taken out.
    """

    kept: KeptJob
    file: str
    files: tuple[str, ...]
    spectra: int
    stripped: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is to be borne in mind."""
        return tuple(f"{name} is left out: {_LEFT}; to take it along as it is: `keep_place`" for name in self.left_out)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "job": self.kept.job.as_dict(),
            "file": self.file,
            "files": list(self.files),
            "entries": self.kept.entries,
            "spectra": self.spectra,
            "stripped": list(self.stripped),
            "left_out": list(self.left_out),
            "seal": self.kept.seal,
            "warnings": list(self.warnings),
        }


Draw = Callable[[KeptJob], Mapping[str, bytes]]


def export_job(job: str, *, keep_place: bool, draw: Draw, write: Callable[[bytes], str]) -> Exported:
    """Write a job as a bundle.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    keep_place : bool
        Whether photographs leave as they are, with what their files say of place and time.
    draw : callable
        Is given what the record holds, and returns the files of the document.
    write : callable
        Is given the bundle, writes it, and returns where.

    Raises
    ------
    InputError
        No such job, or one with nothing in it.
    """
    with open_ledger(create=False) as ledger:
        kept = kept_in(ledger, ledger.find_job(job))
        if not kept.entries:
            raise InputError(
                f"job {kept.job.ref}", "holds nothing yet that could be exported", "record something first"
            )
        views = ledger.entries(kept.job)
        known = {sha256: content for sha256, (_, content) in kept.files.items()}
        every = {sha256: name for view in views for name, sha256 in view.sources}
        contents = {sha256: known.get(sha256) or ledger.source_bytes(sha256) for sha256 in every}
        bundled = bundled_job(ledger, kept.job, kept.bank, tuple(kept.tints.values()))
        stamp = ledger.stamp()
    sources = _sources(every, contents, keep_place)
    spectra = _spectra(kept.views)
    title = f"{kept.job.title}, {kept.job.ref}"
    files: dict[str, bytes] = {
        JOB_FILE: as_json(job_document(bundled, kept.job.ref, {sha: one.document for sha, one in sources.items()})),
        SCHEMA: job_schema(),
        README_FILE: _readme(kept, bool(spectra)).encode(),
    }
    if spectra:
        files[CGATS_FILE] = cgats_text(spectra, title, stamp[:10]).encode()
        files[CXF_FILE] = cxf_text(spectra, title, stamp).encode()
    if kept.formula is not None:
        files[FORMULA_FILE] = _formula_table(kept.formula).encode()
    files |= {one.file: one.content for one in sources.values() if one.file is not None}
    files |= draw(kept)
    return Exported(
        kept=kept,
        file=write(packed(files, stamp)),
        files=tuple(files),
        spectra=len(spectra),
        stripped=tuple(one.name for one in sources.values() if one.left and one.file is not None),
        left_out=tuple(one.name for one in sources.values() if one.file is None),
    )


@dataclass(frozen=True)
class _Source:
    """A file of the record as it leaves: its name, where it lies in the bundle (None: left out), its content."""

    name: str
    file: str | None
    content: bytes
    left: bool

    @property
    def document(self) -> dict[str, Any]:
        """Its JSON form."""
        digest = hashlib.sha256(self.content).hexdigest()
        return {"name": self.name, "file": self.file, "sha256": digest, "without_metadata": self.left}


def _sources(named: Mapping[str, str], contents: Mapping[str, bytes], keep_place: bool) -> dict[str, _Source]:
    found = {}
    for sha256, name in named.items():
        content = contents[sha256]
        if not keep_place and is_picture(name, content):
            bare = without_place(name, content)
            if bare is None:
                found[sha256] = _Source(name, None, b"", True)
                continue
            content = bare
        suffix = Path(name).suffix.lower()
        file = f"sources/{sha256}{suffix if suffix in _EXTENSIONS else ''}"
        found[sha256] = _Source(name, file, content, hashlib.sha256(content).hexdigest() != sha256)
    return found


def _spectra(views: tuple[EntryView, ...]) -> list[SpectrumToWrite]:
    """Return the spectra that were read: of samples, targets and cards that stand."""
    found = []
    for view in views:
        entry = view.entry
        if not isinstance(entry, ReadingEntry | TargetEntry | SprayOutEntry) or entry.reflectance is None:
            continue
        name = " ".join(f"{entry.name or view.kind} #{view.number}".split())
        geometry = "" if isinstance(entry, TargetEntry) else entry.geometry
        what = _WHAT.get(view.kind, "Sample")
        found.append(
            SpectrumToWrite(name, what, view.made_at, entry.reflectance, geometry, entry.light, entry.observer)
        )
    return found


def _formula_table(formula: Formula) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["tint", "colour_index", "grams", "share", "lot"])
    for part in formula.parts:
        names = (guarded(part.tint), guarded(part.colour_index))
        writer.writerow([*names, f"{part.grams:g}", f"{part.share:.6f}", guarded(part.lot)])
    return text.getvalue()


def _readme(kept: KeptJob, spectra: bool) -> str:
    line = (
        f"{CGATS_FILE}, {CXF_FILE}\n                     the spectra, as CGATS.17 (ISO 28178) and CxF3 (ISO 17972-1)\n"
    )
    return README.format(schema=SCHEMA, spectra=line if spectra else "", seal=kept.seal)
