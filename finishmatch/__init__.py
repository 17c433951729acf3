"""finishmatch: the colour and finish bench of a restoration painter, as a library; see docs/library.md.

A name is imported when it is asked for, so that ``import finishmatch`` costs nothing; the types of the names stand in
`__init__.pyi`.
"""

import sys
from types import ModuleType

from finishmatch.lazy import offered_later

__version__ = "0.2.0"

_HOMES = {
    "FittedBank": "steps.bank",
    "InputError": "errors",
    "Reading": "readings",
    "compare": "library",
    "correct": "library",
    "fit_bank": "library",
    "mix": "library",
    "predict": "library",
    "read_bank": "library",
    "read_photo": "library",
    "read_target": "library",
    "weigh_evidence": "library",
}

__all__ = list(_HOMES)
__getattr__ = offered_later(__name__, _HOMES)


class _Library(ModuleType):
    """The package: `mix` and `correct` are what a notebook calls, though two rooms of the house bear these names."""

    def __setattr__(self, name: str, value: object) -> None:
        """Take no room in the place of a function; Python binds every room it imports to the package."""
        if not (name in _HOMES and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Library
