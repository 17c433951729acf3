"""Target and spray-out as they were told, and as a bank has them."""

from __future__ import annotations

from finishmatch.readings import Reading
from finishmatch.readings.convert_geometry import Conversion
from finishmatch.steps.by_own_photograph import is_by_itself, seen_by_itself
from finishmatch.steps.colour_inputs import Viewing, read_alike
from finishmatch.steps.piece_by_bank import PieceByBank
from finishmatch.steps.seen import SeenCard


def told_and_alike(
    wanted: Viewing, standard: Reading, piece: PieceByBank, trial: Reading | None, seen: SeenCard | None
) -> tuple[list[Reading], list[Reading], list[Conversion]]:
    """Return target and spray-out as told and as the bank has them, both as its instrument would have read them.

    What was converted is returned as well.
    """
    told, conversions = _alike(wanted, standard, trial, seen)
    if piece.moved is None:
        return told, told, conversions
    return told, _alike(wanted, piece.reading, piece.trial(trial), seen)[0], conversions


def _alike(
    wanted: Viewing, standard: Reading, trial: Reading | None, seen: SeenCard | None
) -> tuple[list[Reading], list[Conversion]]:
    """Return target and spray-out as the bank's instrument would have read them, and what was converted."""
    if seen is None:
        alike, conversions = read_alike(wanted, *(reading for reading in (standard, trial) if reading is not None))
        if trial is not None and is_by_itself(trial):
            alike[1] = seen_by_itself(alike[0], alike[1])
        return alike, conversions
    (read,), conversions = read_alike(wanted, standard)
    return [read, seen.beside(read, (wanted.light, wanted.observer), wanted)], conversions
