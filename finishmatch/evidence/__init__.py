"""From evidence that disagrees to a target: kinds, consensus, strangers, tolerance, ageing, spectra."""

from finishmatch.evidence.kinds import (
    EvidenceCatalogue,
    EvidenceKind,
    Use,
    common_catalogue,
    shop_catalogue,
)
from finishmatch.evidence.weigh import Colour, Weighed, weigh_evidence

__all__ = [
    "Colour",
    "EvidenceCatalogue",
    "EvidenceKind",
    "Use",
    "Weighed",
    "common_catalogue",
    "shop_catalogue",
    "weigh_evidence",
]
