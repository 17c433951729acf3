"""What was seen of a card beside its standard, as it is kept in the record, and back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from finishmatch.readings import Reading
from finishmatch.readings.look_form import pair_document, pairs_again
from finishmatch.readings.reading import DifferenceByBank, SeenDifference, TargetFacts
from finishmatch.readings.seen import of_one_light, told_apart_from


def kept_seen(trial: Reading) -> list[dict[str, Any]]:
    """Return what was seen of a trial as it is kept."""
    return [
        {
            "light": one.light,
            "observer": one.observer,
            "difference": one.delta.tolist(),
            "u95": one.u95,
            "covariance": None if one.covariance is None else one.covariance.tolist(),
            "pictures": one.pictures,
            "geometry": one.geometry,
            "u95_more": one.u95_more,
            "standard": None if one.standard is None else one.standard.tolist(),
            "standard_covariance": None if one.standard_covariance is None else one.standard_covariance.tolist(),
            "marks": list(one.marks),
            "alike_u95": one.alike_u95,
            "moved": None if one.moved is None else one.moved.tolist(),
            "own_colour": None if one.by_itself is None else _kept_facts(one.by_itself),
            "looks": [pair_document(pair) for pair in one.looks],
            "by_bank": None if one.by_bank is None else _kept_by_bank(one.by_bank),
        }
        for one in trial.seen
    ]


def pigments_not_compared(kept: Sequence[Any]) -> bool:
    """Return whether photographs told it, as it is kept, that don't show how unlike the pigments of the two are."""
    return of_one_light(seen_again(kept))


def told_from(kept: Sequence[Any]) -> tuple[float, ...]:
    """Return the ΔE00 from which each difference is told from none, of what was seen as it is kept."""
    return tuple(map(told_apart_from, seen_again(kept)))


def known_within_by_light(kept: Sequence[Any]) -> dict[str, float]:
    """Return the ΔE00 that each difference is known within, of what was seen as it is kept; the bank's where it has."""
    return {one.light: one.u95 if one.by_bank is None else one.by_bank.u95 for one in seen_again(kept)}


def seen_again(kept: Sequence[Any]) -> tuple[SeenDifference, ...]:
    """Return what was seen, from how it is kept."""

    def array(values: Any) -> Any:
        return None if values is None else np.array(values, dtype=float)

    return tuple(
        SeenDifference(
            delta=np.array(one["difference"], dtype=float),
            u95=float(one["u95"]),
            light=str(one["light"]),
            observer=int(one["observer"]),
            covariance=array(one.get("covariance")),
            pictures=int(one.get("pictures") or 0),
            geometry=str(one.get("geometry") or ""),
            u95_more=one.get("u95_more"),
            standard=array(one.get("standard")),
            standard_covariance=array(one.get("standard_covariance")),
            marks=tuple(map(str, one.get("marks") or ())),
            alike_u95=one.get("alike_u95"),
            by_itself=_facts(one.get("own_colour")),
            moved=array(one.get("moved")),
            looks=pairs_again(one.get("looks") or ()),
            by_bank=_by_bank(one.get("by_bank")),
        )
        for one in kept
    )


def _kept_facts(facts: TargetFacts) -> dict[str, Any]:
    return {"u95": facts.u95, "u95_own": facts.u95_own, "pictures": list(facts.pictures)}


def _kept_by_bank(by: DifferenceByBank) -> dict[str, Any]:
    return {"difference": by.delta.tolist(), "covariance": by.covariance.tolist(), "u95": by.u95}


def _by_bank(kept: Any) -> DifferenceByBank | None:
    if not kept:
        return None
    delta, covariance = (np.array(kept[name], dtype=float) for name in ("difference", "covariance"))
    return DifferenceByBank(delta, covariance, float(kept["u95"]))


def _facts(kept: Any) -> TargetFacts | None:
    if not kept:
        return None
    pictures = tuple(map(str, kept.get("pictures") or ()))
    return TargetFacts(u95=kept.get("u95"), u95_own=kept.get("u95_own"), pictures=pictures)
