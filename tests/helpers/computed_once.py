"""What a test looks at isn't how a recipe is searched or a figure drawn: of the same inputs that is done once for all.

What is asked anew with the very same values is answered with what was found then; anything else is computed.
"""

from __future__ import annotations

import io
import pickle
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from finishmatch.dossier import demo_page
from finishmatch.steps import bank as steps_bank
from finishmatch.steps import correct as steps_correct
from finishmatch.steps import mix as steps_mix

COMPUTING = (
    (steps_mix, "propose_recipes"),
    (steps_bank, "fit_bank"),
    (steps_correct, "correct_batch"),
    (steps_correct, "correct_seen"),
    (steps_correct, "fresh_batch"),
    (demo_page, "bank_svg"),
    (demo_page, "lights_svg"),
)
_COMPUTED: dict[bytes, Any] = {}


@pytest.fixture
def computed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Search recipes, fit banks and draw figures once for all tests of a process that ask for this."""
    for module, name in COMPUTING:
        monkeypatch.setattr(module, name, partial(_once, getattr(module, name)))


def _once(does: Callable[..., Any], *given: Any, **named: Any) -> Any:
    written = io.BytesIO()
    pickler = pickle.Pickler(written)
    pickler.fast = True  # alike for what is equal, whether it is one object or two
    pickler.dump((does.__name__, given, sorted(named.items())))
    key = written.getvalue()
    if key not in _COMPUTED:
        _COMPUTED[key] = does(*given, **named)
    return _COMPUTED[key]
