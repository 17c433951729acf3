"""What the condition of a sample says was done to it: which effects it has."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from finishmatch.errors import InputError
from finishmatch.evidence.kinds import Condition, Effect, EvidenceKind
from finishmatch.near_names import plain_key
from finishmatch.readings.plain_number import plain_number

_YES, _NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")
# what counts as the same answer where a column is asked with before and after, or with yes and no
_ALIKE = {"yes": ("yes", "after"), "no": ("no", "before"), "before": ("before", "no"), "after": ("after", "yes")}


def effects_of(kind: EvidenceKind, conditions: Mapping[str, str], where: str) -> tuple[str, ...]:
    """Return the names of the effects a sample has, by its kind and its condition.

    Parameters
    ----------
    kind : EvidenceKind
    conditions : mapping of str to str
        Column to what stands there; a column that isn't there is unsaid.
    where : str
        File and line, for a message.

    Raises
    ------
    InputError
        For an answer that the column doesn't take.
    """
    found = list(kind.effects)
    for condition in kind.conditions:
        case = answer_of(condition, conditions.get(condition.column, ""), where)
        if condition.only_of and not set(condition.only_of) & set(found):
            continue
        effect = next((condition.effects[c] for c in _ALIKE.get(case, (case,)) if c in condition.effects), None)
        if effect is not None and effect not in found:
            found.append(effect)
    return tuple(found)


def waiting_for(kind: EvidenceKind, conditions: Mapping[str, str]) -> dict[str, str]:
    """Return the columns that a sample fills in for nothing, each with the empty column that decides whether it counts.

    Parameters
    ----------
    kind : EvidenceKind
    conditions : mapping of str to str
        Column to what stands there.
    """
    found = {}
    for condition in kind.conditions:
        if not condition.only_of or not conditions.get(condition.column, "").strip():
            continue
        deciding = [one for one in kind.conditions if set(condition.only_of) & set(one.effects.values())]
        said = any(conditions.get(one.column, "").strip() for one in deciding)
        if deciding and not said and not any(one.effects.get("unsaid") in condition.only_of for one in deciding):
            found[condition.column] = deciding[0].column
    return found


def not_replaced(names: Sequence[str], effects: Mapping[str, Effect]) -> tuple[str, ...]:
    """Return the effects of a sample without those that another of them stands for."""
    gone = {other for name in names for other in effects[name].replaces}
    return tuple(name for name in names if name not in gone)


def answer_of(condition: Condition, text: str, where: str) -> str:
    """Return which case of a condition is meant: one of `CASES`, or one of its own words."""
    text = text.strip().casefold()
    at = f"{where}, column {condition.column!r}" if where else condition.column
    if not text:
        return "unsaid"
    if condition.limit is not None:
        try:
            number = plain_number(text)
        except ValueError:
            number = math.nan
        if not 0 <= number < math.inf:
            raise InputError(at, f"{text[:40]!r} is not a number of 0 or more", "write a number, or leave it empty")
        return "below" if number < condition.limit else "above"
    if condition.words:
        known = {plain_key(word): word for word in condition.words}
        if plain_key(text) in known:
            return known[plain_key(text)]
        raise InputError(at, f"{text[:40]!r} is not known", f"use {', '.join(condition.words)}, or leave it empty")
    if text in ("before", "after"):
        return text
    if text in _YES or text in _NO:
        return "yes" if text in _YES else "no"
    mend = "write before or after" if condition.column == "polished" else "write yes or no"
    raise InputError(at, f"{text[:40]!r} is not understood", f"{mend}, or leave it empty")
