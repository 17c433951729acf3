"""From evidence that disagrees to a target: kinds, consensus, strangers, tolerance, ageing, spectra."""

from finishmatch.evidence.kinds import (
    EvidenceCatalogue,
    EvidenceKind,
    Use,
    common_catalogue,
    shop_catalogue,
)
from finishmatch.evidence.weigh import weigh_evidence
from finishmatch.evidence.weighed import Colour, Weighed

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
