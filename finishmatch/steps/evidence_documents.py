"""What weighed evidence says, in its JSON form."""

from __future__ import annotations

from typing import Any

from finishmatch.evidence import Colour
from finishmatch.evidence.ageing import Shift
from finishmatch.evidence.weighed import WeighedSample


def sample_document(item: WeighedSample) -> dict[str, Any]:
    """Return a sample as it was weighed."""
    return {
        "name": item.piece.name,
        "kind": item.piece.kind.name,
        "readings": len(item.piece.sample.reading.repeats),
        "effects": list(item.piece.effects),
        "lab": item.piece.lab,
        "lab_as_it_was": item.lab_as_it_was,
        "weight": item.weight,
        "de00_to_target": item.de00_to_target,
        "pull": item.pull,
        "pull_words": list(item.pull_words),
        "outlier": item.outlier,
        "colour": item.colour or None,
    }


def colour_document(colour: Colour) -> dict[str, Any]:
    """Return one of the colours that samples are evidence of."""
    return {
        "number": colour.number,
        "samples": list(colour.names),
        "lab": colour.lab,
        "u95": colour.u95,
        "between_samples_de00": colour.between_de00,
        "tolerance": colour.tolerance.value,
    }


def shift_document(shift: Shift) -> dict[str, Any]:
    """Return what age did to a colour."""
    return {
        "effect": shift.effect,
        "what": shift.what,
        "shift_lab": shift.lab,
        "de00": shift.de00,
        "u95": shift.u95,
        "words": list(shift.words),
        "pairs": list(shift.pairs),
    }
