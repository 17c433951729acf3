"""A card seen beside a photographed piece as a bank has the two: by what the camera saw, and by what was poured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.pair_by_looks import pair_by_looks
from finishmatch.optics.camera_look import CameraLook
from finishmatch.readings import Reading
from finishmatch.readings.reading import DifferenceByBank
from finishmatch.readings.seen import by_itself, told_by_bank
from finishmatch.steps.matching import Match, Parts
from finishmatch.steps.piece_by_bank import WHOLE


def pair_by_bank(matched: Match, card: SprayedCard, poured: Parts) -> Match:
    """Return a match whose card differs from its target as the bank has the two; as it was where that tells nothing.

    Parameters
    ----------
    matched : Match
        With a card, as it was seen.
    card : SprayedCard
        The same, with its film and what was known of its tins.
    poured : tuple of (tint, grams)
        What it was sprayed of.

    Raises
    ------
    InputError
        A tint of the batch that the bank doesn't know well enough, a batch without colour.
    """
    kept, trial, target = matched.sprayed, matched.sprayed_alike, matched.target
    if kept is None or trial is None or not trial.seen or by_itself(trial):
        return matched
    pairs = [pair for one in trial.seen for pair in one.looks]
    optics, observer = matched.fitted.usable_optics, target.observer
    found: Mapping[str, DifferenceByBank] = {}
    saw, weighed = _saw(matched.standard), matched.standard.target is not None and matched.standard.target.weighed
    if pairs and (saw or not weighed):  # what was weighed from several survivors is none of them
        found = pair_by_looks(target, optics, card, poured, saw, pairs)

    def with_bank(reading: Reading) -> Reading:
        by_light = {one.light: found.get(one.light) if one.observer == observer else None for one in reading.seen}
        return replace(reading, seen=tuple(replace(one, by_bank=by_light[one.light]) for one in reading.seen))

    return replace(matched, sprayed=with_bank(kept), sprayed_alike=told_by_bank(with_bank(trial)))


def _saw(standard: Reading) -> tuple[CameraLook, ...]:
    """Return what a camera saw of the piece, where its colour was read of one sample."""
    return next((saw.looks for saw in standard.camera_saw if saw.share >= WHOLE), ())
