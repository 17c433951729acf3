"""The JSON form of a job in a bundle, there and back; job-1.schema.json describes it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from jsonschema import Draft202012Validator

from finishmatch.errors import InputError
from finishmatch.ledger import BankTint, BundledEntry, BundledJob, entry_document, entry_from
from finishmatch.steps.handover.bundle_file import check_version

FORMAT, VERSION = "finishmatch job", 1
SCHEMA = "job-1.schema.json"
_CHANGED = "don't trust it: ask for it again"


@cache
def job_schema() -> bytes:
    """Return the JSON Schema of the form, as it is published and packed."""
    return resources.files("finishmatch.steps").joinpath("data", SCHEMA).read_bytes()


def job_document(job: BundledJob, ref: str, sources: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """Return a job as JSON.

    Parameters
    ----------
    job : BundledJob
    ref : str
        Its name where it comes from.
    sources : mapping
        Of each SHA-256 the entries name, where the file lies in the bundle.
    """
    return {
        "format": FORMAT,
        "version": VERSION,
        "job": {
            "ref": ref,
            "title": job.title,
            "vehicle": job.vehicle,
            "colour_name": job.colour_name,
            "note": job.note,
            "made_at": job.made_at,
            "hashed_as": job.hashed_as,
        },
        "seal": job.seal,
        "bank": job.bank,
        "tints": [{**vars(tint), "hazards": list(tint.hazards)} for tint in job.tints],
        "sources": {sha256: dict(found) for sha256, found in sources.items()},
        "entries": [_entry_document(one) for one in job.entries],
    }


def _entry_document(one: BundledEntry) -> dict[str, Any]:
    return {
        "number": one.number,
        "hashed_as": one.hashed_as,
        "kind": one.entry.KIND,
        "made_at": one.made_at,
        "follows": one.follows,
        "reason": one.reason,
        "sources": [{"name": name, "sha256": sha256} for name, sha256 in one.sources],
        "entry": entry_document(one.entry),
        "sha256": one.sha256,
    }


def read_job(document: Any, where: str) -> BundledJob:
    """Return the job that a JSON document holds.

    Raises
    ------
    InputError
        It isn't of the form, or of a newer one; or an entry makes no sense.
    """
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise InputError(where, "holds no job", _CHANGED)
    check_version(document.get("version"), VERSION, where)
    _check_form(document, where)
    job = document["job"]
    try:
        entries = tuple(_entry(one, where) for one in document["entries"])
        tints = tuple(BankTint(**{**tint, "hazards": tuple(tint["hazards"])}) for tint in document["tints"])
    except InputError:
        raise
    except (TypeError, KeyError, ValueError) as error:
        raise InputError(where, f"an entry isn't of its form ({str(error)[:60]})", _CHANGED) from None
    texts = {name: job[name] for name in ("title", "vehicle", "colour_name", "note", "made_at", "hashed_as")}
    found = BundledJob(**texts, entries=entries, bank=document["bank"], tints=tints)
    if found.seal != document["seal"]:
        raise InputError(where, "its seal isn't the hash of its last entry", _CHANGED)
    return found


def _check_form(document: Any, where: str) -> None:
    """See that a document is of the published form."""
    validator = Draft202012Validator(json.loads(job_schema()))
    wrong = next(iter(validator.iter_errors(document)), None)
    if wrong is not None:
        place = ".".join(str(part) for part in list(wrong.absolute_path)[:6]) or "it"
        raise InputError(where, f"isn't of the form of a job ({place[:80]}: {wrong.validator})", _CHANGED)


def _entry(one: Mapping[str, Any], where: str) -> BundledEntry:
    try:
        entry = entry_from(one["kind"], one["entry"])
    except LookupError as error:
        what = f"entry #{one['number']} is of a kind this program doesn't know ({str(error)[:40]})"
        raise InputError(where, what, "bring finishmatch up to date") from None
    return BundledEntry(
        one["number"],
        one["hashed_as"],
        one["made_at"],
        one["follows"],
        one["reason"],
        tuple((source["name"], source["sha256"]) for source in one["sources"]),
        entry,
        one["sha256"],
    )
