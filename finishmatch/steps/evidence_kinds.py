"""The kinds of evidence there are, and what is taken of each."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.evidence import EvidenceCatalogue, common_catalogue, shop_catalogue
from finishmatch.ledger.home import ledger_home
from finishmatch.readings.table_file import read_text

SHOP_FILE = "evidence-kinds.toml"


@dataclass(frozen=True)
class EvidenceKinds:
    """The kinds of evidence, and what is taken of each."""

    catalogue: EvidenceCatalogue

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of the kinds."""
        catalogue = self.catalogue
        return {
            "shop_file": catalogue.shop_file or None,
            "shops_own": sorted(catalogue.shops_own),
            "kinds": [
                {
                    "name": kind.name,
                    "also": list(kind.also),
                    "what": kind.what,
                    "spread": kind.spread,
                    "vehicle_spread": kind.vehicle_spread,
                    "effects": list(kind.effects),
                    "conditions": [
                        {
                            "column": c.column,
                            "limit": c.limit,
                            "effects": dict(c.effects),
                            "only_of": list(c.only_of),
                        }
                        for c in kind.conditions
                    ],
                }
                for kind in catalogue.kinds
            ],
            "effects": {
                name: {
                    "what": e.what,
                    "L": e.L,
                    "chroma": e.chroma,
                    "b": e.b,
                    "b_white": e.b_at(100.0),
                    "ageing": e.ageing,
                    "replaces": list(e.replaces),
                }
                for name, e in catalogue.effects.items()
            },
            "uses": {name: {"what": use.what, "largest": use.largest} for name, use in catalogue.uses.items()},
        }


def evidence_kinds(kinds: Path | str | None = None) -> EvidenceKinds:
    """Return the kinds of evidence, with the shop's own figures where there are some."""
    return EvidenceKinds(catalogue_of(kinds))


def catalogue_of(kinds: Path | str | None = None) -> EvidenceCatalogue:
    """Return the kinds: with a shop's own figures where a file is named, or lies in the home."""
    if kinds is None:
        at_home = ledger_home() / SHOP_FILE
        if not os.path.lexists(at_home):
            return common_catalogue()
        kinds = at_home
    return shop_catalogue(read_text(Path(kinds)), str(kinds))
