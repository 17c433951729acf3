"""Small solves keep to one thread, whatever else the machine does."""

from __future__ import annotations

import numpy as np
from threadpoolctl import ThreadpoolController

from finishmatch.one_thread import one_thread


def threads() -> set[int]:
    np.linalg.inv(np.eye(2))  # with it the library is loaded
    return {library.num_threads for library in ThreadpoolController().select(user_api="blas").lib_controllers}


@one_thread
def threads_within() -> set[int]:
    return threads()


def test_linear_algebra_has_one_thread_within_and_what_it_had_after() -> None:
    with ThreadpoolController().limit(limits=2, user_api="blas"):
        before = threads()
        assert threads_within() == {1}
        assert threads() == before
    assert before == {2}
