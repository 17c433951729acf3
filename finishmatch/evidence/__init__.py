"""From evidence that disagrees to a target: kinds, consensus, strangers, tolerance, ageing, spectra.

The weighing is imported when it is asked for, so that a target that is known doesn't wait for it; the types of the
names stand in `__init__.pyi`.
"""

from finishmatch.lazy import offered_later

_HOMES = {
    "Colour": "weighed",
    "EvidenceCatalogue": "kinds",
    "EvidenceKind": "kinds",
    "Use": "kinds",
    "Weighed": "weighed",
    "common_catalogue": "kinds",
    "doubt_of_two": "pictures",
    "shared_with_next": "pictures",
    "shop_catalogue": "kinds",
    "weigh_evidence": "weigh",
}

__all__ = list(_HOMES)
__getattr__ = offered_later(__name__, _HOMES)
