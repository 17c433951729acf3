"""Small solves keep to one thread, whatever else the machine does."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

P = ParamSpec("P")
R = TypeVar("R")


def one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Return a function that holds the libraries of linear algebra to one thread while it runs.

    Its solves are small: two threads that wait for a busy core take many times as long as one.
    """

    @wraps(function)
    def alone(*args: P.args, **kwargs: P.kwargs) -> R:
        with _loaded(len(sys.modules)).limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return alone


@cache
def _loaded(_modules: int) -> ThreadpoolController:
    """Return the libraries that are loaded, looked for again only where modules came since."""
    return ThreadpoolController()
