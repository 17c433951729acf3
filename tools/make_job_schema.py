"""Write the JSON Schema of a job in a bundle, from the kinds of entry as the ledger has them.

Run: python tools/make_job_schema.py. The form that is published is never made narrower: what was exported is read for
decades.
"""

from __future__ import annotations

import json
import sys
import types
import typing
from collections.abc import Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from finishmatch.ledger.entries import ENTRY_KINDS
from finishmatch.ledger.views import MEMBERS
from finishmatch.steps.handover.job_form import FORMAT, SCHEMA, VERSION

TARGET = Path(__file__).resolve().parent.parent / "finishmatch/steps/data" / SCHEMA
PLAIN = {str: "string", int: "integer", float: "number", bool: "boolean"}
TEXT, WHOLE = {"type": "string"}, {"type": "integer", "minimum": 1}
SHA = {"type": "string", "pattern": "^[0-9a-f]{64}$"}


def of_type(hint: Any) -> dict[str, Any]:
    """Return the schema of a field of an entry by its type."""
    if hint in PLAIN:
        return {"type": PLAIN[hint]}
    if hint is Any:
        return {}
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        (one,) = (part for part in inner if part is not types.NoneType)
        return {"anyOf": [of_type(one), {"type": "null"}]}
    if origin is Mapping:
        return {"type": "object", "additionalProperties": of_type(inner[1])}
    if origin is Sequence:
        return {"type": "array", "items": of_type(inner[0])}
    raise TypeError(hint)


def of_kind(kind: str) -> dict[str, Any]:
    """Return the schema of the entries of a kind."""
    hints, found = typing.get_type_hints(ENTRY_KINDS[kind]), {}
    for field in fields(ENTRY_KINDS[kind]):
        if field.name in MEMBERS:
            of_each = typing.get_args(typing.get_args(hints[field.name])[0])
            members = zip(MEMBERS[field.name], of_each, strict=True)
            items = obj({name: of_type(value) for name, value in members})
            found[field.name] = {"type": "array", "items": items}
        else:
            found[field.name] = of_type(hints[field.name])
    return {"type": "object", "properties": found}


def obj(properties: dict[str, Any], optional: Sequence[str] = ()) -> dict[str, Any]:
    """Return the schema of an object with these properties."""
    return {"type": "object", "properties": properties, "required": [n for n in properties if n not in optional]}


def schema() -> dict[str, Any]:
    """Return the schema of a job."""
    source = obj({"name": TEXT, "sha256": SHA})
    entry = obj(
        {
            "number": WHOLE,
            "hashed_as": WHOLE,
            "kind": TEXT,
            "made_at": TEXT,
            "follows": {"anyOf": [WHOLE, {"type": "null"}]},
            "reason": TEXT,
            "sources": {"type": "array", "items": source},
            "entry": {"type": "object"},
            "sha256": SHA,
        }
    )
    entry["allOf"] = [
        {"if": {"properties": {"kind": {"const": kind}}}, "then": {"properties": {"entry": of_kind(kind)}}}
        for kind in ENTRY_KINDS
    ]
    texts = dict.fromkeys(("ref", "title", "vehicle", "colour_name", "note", "made_at"), TEXT)
    tint = dict.fromkeys(("tint", "role", "colour_index"), TEXT)
    tint |= {"density_kg_l": {"type": "number"}, "lot": TEXT, "hazards": {"type": "array", "items": TEXT}}
    kept = {"name": TEXT, "file": {"type": ["string", "null"]}, "sha256": SHA, "without_metadata": {"type": "boolean"}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A job of finishmatch",
        **obj(
            {
                "format": {"const": FORMAT},
                "version": {"const": VERSION},
                "job": obj({**texts, "hashed_as": WHOLE}),
                "seal": SHA,
                "bank": TEXT,
                "tints": {
                    "type": "array",
                    "items": obj({**tint, "hazards_by": TEXT}) | {"additionalProperties": False},
                },
                "sources": {"type": "object", "propertyNames": SHA, "additionalProperties": obj(kept)},
                "entries": {"type": "array", "minItems": 1, "items": entry},
            }
        ),
    }


def written() -> str:
    """Return the schema as it is published."""
    return json.dumps(schema(), indent=1) + "\n"


if __name__ == "__main__":
    TARGET.write_text(written(), "utf-8")
