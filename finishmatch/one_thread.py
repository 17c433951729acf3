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
        loaded = _loaded(len(sys.modules))
        if all(one.num_threads == 1 for one in loaded.lib_controllers if one.user_api == "blas"):
            return function(*args, **kwargs)  # as it is already: to set and reset it takes as long as a small solve
        with loaded.limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return alone


@cache
def _loaded(_modules: int) -> ThreadpoolController:
    """Return the libraries that are loaded, looked for again only where modules came since."""
    return ThreadpoolController()
