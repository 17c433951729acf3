"""The shop's own record: how often each way came right, counted from the outcomes recorded."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from finishmatch.defects.evidence import Evidence
from finishmatch.defects.kinds import find_kind
from finishmatch.defects.observed import SeenDefect
from finishmatch.defects.options import NAMES
from finishmatch.defects.rework_figures import Record, ReworkFigures
from finishmatch.errors import InputError

RIGHT, FAILED, BROKE_THROUGH = "right", "failed", "broke through"
_KEYS = {name: key for key, name in NAMES.items()}


def with_record(figures: ReworkFigures, outcomes: Iterable[tuple[str, str, str, tuple[str, ...]]]) -> ReworkFigures:
    """Return figures that know how the shop's work came out.

    Parameters
    ----------
    figures : ReworkFigures
    outcomes : iterable of (chosen, result, kind, signs)
        The option chosen by its full name; "right", "failed" or "broke through"; the defect's kind and signs, which say
        whether contamination was suspected. An option or kind that is not known any more is passed over.
    """
    counts: dict[tuple[str, bool], Record] = {}
    for chosen, result, kind, signs in outcomes:
        try:
            contaminated = SeenDefect(find_kind(kind), evidence=Evidence(signs)).contamination
            key = (_KEYS[chosen], contaminated)
        except (InputError, KeyError):
            continue
        counts[key] = _counted(counts.get(key, Record()), result)
    return replace(figures, record=counts)


def _counted(record: Record, result: str) -> Record:
    counted: Mapping[str, Record] = {
        RIGHT: replace(record, right=record.right + 1),
        FAILED: replace(record, failed=record.failed + 1),
        BROKE_THROUGH: replace(record, broke_through=record.broke_through + 1),
    }
    return counted.get(result, record)
