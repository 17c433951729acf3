"""A job that comes from another record is taken in: equal to what it was there, or not at all."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import BundledJob, JobView, job_with_seal, open_ledger, seal_of, take_in
from finishmatch.steps.handover.bundle_file import Bundle, read_bundle, read_json
from finishmatch.steps.handover.export import JOB_FILE
from finishmatch.steps.handover.job_form import read_job

_DISTRUST = "don't trust it: ask for it again"


@dataclass(frozen=True)
class TakenIn:
    """A job that was imported: as it is here, as it was called there, and what came with it."""

    job: JobView
    ref_there: str
    made_at: str
    entries: int
    files: int
    seal: str
    warnings: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "job": self.job.as_dict(),
            "ref_there": self.ref_there,
            "exported_at": self.made_at,
            "entries": self.entries,
            "files": self.files,
            "seal": self.seal,
            "warnings": list(self.warnings),
        }


def import_job(file: Path | str) -> TakenIn:
    """Take a job out of a bundle into the record of this machine.

    Parameters
    ----------
    file : Path or str

    Raises
    ------
    InputError
        The bundle can't be trusted, is of a newer form, or its job is here already; nothing is recorded then.
    """
    path = Path(file)
    bundle = read_bundle(path)
    where = str(path)
    if JOB_FILE not in bundle.files:
        raise InputError(where, f"has no {JOB_FILE}", _DISTRUST)
    document = read_json(bundle.files[JOB_FILE], f"{where}, {JOB_FILE}")
    job = read_job(document, f"{where}, {JOB_FILE}")
    files = _files(bundle, document["sources"], where)
    with open_ledger() as ledger:
        if (here := job_with_seal(ledger, job.seal)) is not None:
            raise InputError(where, f"its job is here already: {here.ref} {here.title}", "there is nothing to import")
        earlier = next((one for entry in reversed(job.entries) if (one := job_with_seal(ledger, entry.sha256))), None)
        taken = take_in(ledger, job, files, where, bundle.sha256)
        ledger.entries(taken)  # what was taken in is read once as it is kept
        seal = seal_of(ledger, taken)
    return TakenIn(
        taken, str(document["job"]["ref"]), bundle.made_at, len(job.entries), len(files), seal,
        tuple(_notes(job, document, earlier)),
    )  # fmt: skip


def _files(bundle: Bundle, sources: dict[str, dict[str, Any]], where: str) -> dict[str, bytes]:
    """Return the files of the record by the hash the entries name; what is no photograph must have that hash."""
    found: dict[str, bytes] = {}
    for sha256, one in sources.items():
        content = b"" if one["file"] is None else bundle.files.get(one["file"])
        if content is None:
            raise InputError(where, f"lacks {one['file'][:60]!r}, which its record names", _DISTRUST)
        digest = hashlib.sha256(content).hexdigest()
        if digest != one["sha256"] or (digest != sha256 and not one["without_metadata"]):
            raise InputError(where, f"{one['name'][:60]!r} in it isn't the file its record names", _DISTRUST)
        found[sha256] = content
    return found


def _notes(job: BundledJob, document: dict[str, Any], earlier: JobView | None) -> list[str]:
    notes = []
    if earlier is not None:
        notes.append(f"an earlier state of this job is here too: {earlier.ref}; this one holds more")
    bare = [one["name"] for one in document["sources"].values() if one["without_metadata"]]
    if bare:
        notes.append(f"came without what their files said of place and time: {', '.join(bare[:6])}")
    if job.bank:
        once = "finishmatch job use JOB `bank` FOLDER"
        notes.append(f"its bank, {job.bank}, isn't known by a folder here: say once where it lies, {once}")
    return notes
