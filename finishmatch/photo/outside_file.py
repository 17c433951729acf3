"""The error of a sample whose colour the photograph's file can't hold, apart from what reads one: others catch it."""

from __future__ import annotations

from finishmatch.errors import InputError


class OutsideFileError(InputError):
    """A photograph's file can't hold the colour of a sample, which is cut off in it."""
