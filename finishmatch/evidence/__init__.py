"""From evidence that disagrees to a target: kinds, consensus, strangers, tolerance, ageing, spectra."""

from finishmatch.evidence.kinds import (
    EvidenceKind,
    Practice,
    Use,
    common_practice,
    shop_practice,
)
from finishmatch.evidence.weigh import Colour, Weighed, weigh_evidence

__all__ = [
    "Colour",
    "EvidenceKind",
    "Practice",
    "Use",
    "Weighed",
    "common_practice",
    "shop_practice",
    "weigh_evidence",
]
