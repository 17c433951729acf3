"""How near a match must come: what the evidence allows, between what readings can show and what the eye accepts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.evidence.kinds import EvidenceCatalogue, Use
from finishmatch.evidence.model import Piece
from finishmatch.readings.seen import USUAL_U95


@dataclass(frozen=True)
class Tolerance:
    """A tolerance, ΔE00, and what it rests on: the target's u95, the least readings can show, the use.

    `bound` says which of the three it is: "evidence", "readings" or "eye".
    """

    value: float
    evidence: float
    least: float
    use: Use
    bound: str

    @property
    def why(self) -> str:
        """Which of the three it is, in a painter's words."""
        if self.bound == "eye":
            return f"the evidence is less certain than that, but the eye accepts no more on {self.use.what}"
        if self.bound == "evidence":
            return "nearer than that, a match can't be told from the evidence's own scatter"
        if self.least > self.use.largest:
            return "the readings can't show a smaller difference, though the eye would ask for it: read more often"
        return "the readings can't show a smaller difference"


def single_reading_var(pieces: tuple[Piece, ...]) -> float:
    """Return the variance of a single reading, ΔE00² in each direction: the middle one of the samples."""
    return float(np.median([piece.reading_var * len(piece.sample.reading.repeats) for piece in pieces]))


def _least_shown(pieces: tuple[Piece, ...], catalogue: EvidenceCatalogue) -> float:
    """Return the smallest ΔE00 that a card can be told to be off by.

    What a file says of a colour's own doubt, as a photograph's, is no scatter of readings: it has no part in how a card
    differs from its standard, when the two are seen in one photograph.
    """
    read = tuple(piece for piece in pieces if piece.sample.u95 is None)
    least = WITHIN_95 * float(np.sqrt(single_reading_var(read or pieces) / catalogue.settings.card_readings))
    return least if read else min(least, USUAL_U95)


def tolerance_for(u95: float, pieces: tuple[Piece, ...], catalogue: EvidenceCatalogue, use: Use) -> Tolerance:
    """Return the tolerance that can be defended.

    Parameters
    ----------
    u95 : float
        Of the target, ΔE00: within it the truth may lie anywhere.
    pieces : tuple of Piece
        The samples it rests on; their repeats show how well a card can be read.
    catalogue : EvidenceCatalogue
    use : Use
    """
    least = _least_shown(pieces, catalogue)
    bounds = {"readings": least, "evidence": u95, "eye": use.largest}
    bound = "eye" if u95 > use.largest else "evidence"
    if bounds[bound] < least:
        bound = "readings"
    # to a hundredth, as it is shown and written; what readings can't show is never rounded away
    value = np.ceil(100 * least) / 100 if bound == "readings" else round(bounds[bound], 2)
    return Tolerance(float(value), u95, least, use, bound)
