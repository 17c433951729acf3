"""What a test looks at isn't how a recipe is searched or a figure drawn: of the same inputs that is done once for all.

What is asked anew with the very same values is answered with what was found then, by whichever process of the run;
anything else is computed. Nothing is kept from one run to the next.
"""

from __future__ import annotations

import hashlib
import io
import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from finishmatch.dossier import demo_page
from finishmatch.steps import bank as steps_bank
from finishmatch.steps import bank_with_cards as steps_bank_with_cards
from finishmatch.steps import correct as steps_correct
from finishmatch.steps import mix as steps_mix

COMPUTING = (
    (steps_mix, "propose_recipes"),
    (steps_bank, "fit_bank"),
    (steps_bank_with_cards, "bank_today"),
    (steps_correct, "correct_batch"),
    (steps_correct, "correct_seen"),
    (steps_correct, "fresh_batch"),
    (demo_page, "bank_svg"),
    (demo_page, "lights_svg"),
)
_COMPUTED: dict[str, Any] = {}


@pytest.fixture(scope="package", autouse=True)
def computed_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Search recipes, fit banks and draw figures once for all tests of a run whose room or file imports this."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "computed"
    folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        for module, name in COMPUTING:
            does = getattr(module, name)
            if not isinstance(does, partial):  # another room's may stand still
                patch.setattr(module, name, partial(_once, folder, does))
        yield


def _once(folder: Path, does: Callable[..., Any], *given: Any, **named: Any) -> Any:
    written = io.BytesIO()
    pickler = pickle.Pickler(written)
    pickler.fast = True  # alike for what is equal, whether it is one object or two
    pickler.dump((does.__name__, given, sorted(named.items())))
    key = hashlib.blake2b(written.getbuffer(), digest_size=24).hexdigest()
    if key not in _COMPUTED:
        try:  # another process may have found it
            _COMPUTED[key] = pickle.loads((folder / key).read_bytes())
        except OSError:
            _COMPUTED[key] = does(*given, **named)
            _keep(folder / key, _COMPUTED[key])
    return _COMPUTED[key]


def _keep(path: Path, found: Any) -> None:
    """Keep for the other processes what was found, where this one may write."""
    with suppress(OSError):
        beside = path.with_suffix(f".{os.getpid()}")
        beside.write_bytes(pickle.dumps(found))
        beside.replace(path)
