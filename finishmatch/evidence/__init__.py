"""From evidence that disagrees to a target: kinds, consensus, strangers, tolerance, ageing, spectra."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from finishmatch.evidence.kinds import (
    EvidenceCatalogue,
    EvidenceKind,
    Use,
    common_catalogue,
    shop_catalogue,
)

if TYPE_CHECKING:
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

_LATER = {"Colour": "weighed", "Weighed": "weighed", "weigh_evidence": "weigh"}


def __getattr__(name: str) -> Any:
    """Import the weighing when it is asked for, so that who wants a target alone doesn't wait for SciPy."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"finishmatch.evidence.{_LATER[name]}"), name)
