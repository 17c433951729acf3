"""A bank of the booth that is well known, of twelve tints, and its fit: once for all tests of a process."""

from __future__ import annotations

from booth.banks import booth_bank, tint_specs
from finishmatch.optics import fit_bank

BANK = booth_bank(tint_specs(12, 9))
OPTICS = fit_bank(BANK).optics
