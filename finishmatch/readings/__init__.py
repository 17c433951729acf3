"""A measurement comes in: typed Lab, readings files, instruments' files, batch files, bank folders.

Everything spectral is brought onto the house grid here, once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from finishmatch.readings.reading import Reading
from finishmatch.readings.resolve import resolve_reading, typed_lab

if TYPE_CHECKING:
    from finishmatch.readings.any_file import read_readings
    from finishmatch.readings.bank_folder import read_bank
    from finishmatch.readings.batch_file import read_batch
    from finishmatch.readings.fit_file import load_fit, store_fit

__all__ = [
    "Reading",
    "load_fit",
    "read_bank",
    "read_batch",
    "read_readings",
    "resolve_reading",
    "store_fit",
    "typed_lab",
]

_LATER = {
    "load_fit": "fit_file",
    "read_bank": "bank_folder",
    "read_batch": "batch_file",
    "read_readings": "any_file",
    "store_fit": "fit_file",
}


def __getattr__(name: str) -> Any:
    """Import the file readers when they are asked for, so that a typed colour doesn't wait for them."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"finishmatch.readings.{_LATER[name]}"), name)
