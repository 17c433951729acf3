"""How a step says what takes long: by a manager of context that the face gives, or by nothing."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

Progress = Callable[[str], AbstractContextManager[None]]
"""Called with what is being done, as in ``with progress("fitting 40 panels of Bench 3"):``."""


def quiet(_doing: str) -> AbstractContextManager[None]:
    """Say nothing."""
    return nullcontext()
