"""What age did, from samples of one place in two states: sheltered and exposed, polished and not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, difference_words
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.errors import InputError
from finishmatch.evidence.kinds import EvidenceCatalogue
from finishmatch.evidence.model import Model, Piece
from finishmatch.evidence.pool import Pooled


@dataclass(frozen=True)
class Shift:
    """What an effect did to the colour, as pairs show it: CIELAB shift (3,), its u95 in ΔE00, words, and the pairs."""

    effect: str
    what: str
    lab: Floats
    de00: float
    u95: float
    words: tuple[str, ...]
    pairs: tuple[str, ...]


def pairs_of(pieces: Sequence[Piece]) -> dict[str, list[Piece]]:
    """Return the samples of each named pair, by its name as written."""
    pairs: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.sample.pair:
            pairs.setdefault(piece.place, []).append(piece)
    return {members[0].sample.pair: members for members in pairs.values()}


def _apart(members: Sequence[Piece], catalogue: EvidenceCatalogue) -> set[str]:
    """Return the effects of age that some of a pair have and others don't."""
    held = [set(piece.effects) for piece in members]
    every = {name for names in held for name in names}
    return {n for n in every if catalogue.effects[n].ageing and not all(n in names for names in held)}


def measured_effects(pieces: Sequence[Piece], catalogue: EvidenceCatalogue) -> frozenset[str]:
    """Return the effects of age that pairs can measure.

    Raises
    ------
    InputError
        When there is no pair, or none whose two differ in what age did to them.
    """
    pairs = {name: members for name, members in pairs_of(pieces).items() if len(members) > 1}
    mend = "give the exposed and the sheltered sample of one place the same text in the column pair"
    if not pairs:
        raise InputError("`ageing`", "no two samples are a pair", mend)
    found = {name for members in pairs.values() for name in _apart(members, catalogue)}
    if not found:
        raise InputError("`ageing`", "no pair holds one sample that aged and one that didn't", mend)
    return frozenset(found)


def shifts_found(
    model: Model, pooled: Pooled, measured: frozenset[str], catalogue: EvidenceCatalogue
) -> tuple[Shift, ...]:
    """Return what the pairs show of each effect, by the same least squares that give the consensus."""
    n = len(model.pieces)
    sigma = model.V + pooled.tau2 * np.kron(model.B, np.eye(3))
    inverse = np.linalg.inv(sigma)
    X = np.tile(np.eye(3), (n, 1))
    projector = inverse - inverse @ X @ pooled.covariance @ X.T @ inverse
    found = []
    pairs = pairs_of(model.pieces)
    for name in sorted(measured & set(model.loads)):
        load, prior = model.loads[name], np.diag(model.sds[name] ** 2)
        shift = prior @ load.T @ inverse @ (model.y - pooled.mean).reshape(-1)
        covariance = model.to_eye @ (prior - prior @ load.T @ projector @ load @ prior) @ model.to_eye.T
        u95 = WITHIN_95 * float(np.sqrt(np.trace(covariance) / 3))
        lab = model.lab(pooled.mean)
        shown = tuple(
            pair for pair, members in pairs.items() if len(members) > 1 and name in _apart(members, catalogue)
        )
        found.append(
            Shift(
                name,
                catalogue.effects[name].what,
                shift,
                float(np.linalg.norm(model.to_eye @ shift)),
                u95,
                tuple(difference_words(lab, lab + shift)),
                shown,
            )
        )
    return tuple(found)


def without_shifts(model: Model, shifts: Sequence[Shift]) -> Floats:
    """Return the samples, shape (n, 3) in the model's coordinates, with what pairs have measured taken off as well."""
    y: Floats = model.y.copy()
    for shift in shifts:
        y -= (model.loads[shift.effect] @ shift.lab).reshape(-1, 3)
    return y
