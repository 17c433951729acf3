"""What a test looks at isn't how a recipe is searched or a photograph read: of the same that is done once for all.

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
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from finishmatch.dossier import demo_page
from finishmatch.errors import InputError
from finishmatch.optics import Bank, BankFit, fit_bank
from finishmatch.photo.card.chart_kept import registered_chart
from finishmatch.photo.card.register import registered_cards
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.read import PhotoReading
from finishmatch.steps import bank as steps_bank
from finishmatch.steps import bank_plan as steps_bank_plan
from finishmatch.steps import bank_with_cards as steps_bank_with_cards
from finishmatch.steps import blunders as steps_blunders
from finishmatch.steps import by_its_card as steps_by_its_card
from finishmatch.steps import correct as steps_correct
from finishmatch.steps import metamerism as steps_metamerism
from finishmatch.steps import mix as steps_mix
from finishmatch.steps import way_back as steps_way_back
from finishmatch.steps import weigh_evidence as steps_weigh_evidence
from finishmatch.steps.photo import bank_photo, read_photo, seen_in_photos

COMPUTING = (
    (steps_mix, "propose_recipes"),
    (steps_bank, "fit_bank"),
    (steps_bank_with_cards, "bank_today"),
    (steps_correct, "correct_batch"),
    (steps_correct, "correct_seen"),
    (steps_correct, "fresh_batch"),
    (steps_by_its_card, "correct_batch"),
    (steps_by_its_card, "correct_seen"),
    (steps_way_back, "correct_unsprayed"),
    (steps_blunders, "find_blunder"),
    (steps_metamerism, "likely_metamers"),
    (steps_bank_plan, "plan_panels"),
    (steps_weigh_evidence, "weigh_samples"),
    (demo_page, "bank_svg"),
    (demo_page, "lights_svg"),
)
READING = (bank_photo, read_photo, seen_in_photos)
_NO_FILE = Path("photograph")
_COMPUTED: dict[str, Any] = {}


@pytest.fixture(scope="package", autouse=True)
def computed_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Do what is slow once for all tests of a run whose room or file imports this."""
    folder = _kept_in(tmp_path_factory)
    with pytest.MonkeyPatch.context() as patch:
        for module, name in COMPUTING:
            does = getattr(module, name)
            if not isinstance(does, partial):  # another room's may stand still
                patch.setattr(module, name, partial(_once, folder, does))
        for module in READING:
            if not isinstance(module.read_photograph, partial):
                patch.setattr(module, "read_photograph", partial(_read_once, folder, module.read_photograph))
        yield


def fit_once(tmp_path_factory: pytest.TempPathFactory, bank: Bank) -> BankFit:
    """Return the fit of a bank, made once for all processes of a run: for fixtures of a session."""
    fit: BankFit = _once(_kept_in(tmp_path_factory), fit_bank, bank)
    return fit


def _kept_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "computed"
    folder.mkdir(exist_ok=True)
    return folder


def _once(folder: Path, does: Callable[..., Any], *given: Any, **named: Any) -> Any:
    return _found(folder, (does.__name__, given, sorted(named.items())), lambda: does(*given, **named))


def _read_once(
    folder: Path,
    does: Callable[..., PhotoReading],
    picture: Picture,
    *given: Any,
    home: Path | None = None,
    **named: Any,
) -> PhotoReading:
    """Read a photograph once, whatever its file is called and whichever home has the same prints and chart."""
    try:
        prints = None if home is None else (registered_cards(home), registered_chart(home))
    except InputError:  # damaged: where that is met is the program's
        return does(picture, *given, home=home, **named)
    shown = replace(picture, source=_NO_FILE)

    def read() -> PhotoReading:
        return replace(does(picture, *given, home=home, **named), picture=replace(shown, values=shown.values[:0]))

    reading = _found(folder, (does.__name__, shown, prints, given, sorted(named.items())), read)
    return replace(reading, picture=picture)


def _found(folder: Path, asked: Any, compute: Callable[[], Any]) -> Any:
    written = io.BytesIO()
    pickler = pickle.Pickler(written)
    pickler.fast = True  # alike for what is equal, whether it is one object or two
    pickler.dump(asked)
    key = hashlib.blake2b(written.getbuffer(), digest_size=24).hexdigest()
    if key not in _COMPUTED:
        try:  # another process may have found it
            _COMPUTED[key] = pickle.loads((folder / key).read_bytes())
        except OSError:
            _COMPUTED[key] = compute()
            _keep(folder / key, _COMPUTED[key])
    return _COMPUTED[key]


def _keep(path: Path, found: Any) -> None:
    """Keep for the other processes what was found, where this one may write."""
    with suppress(OSError):
        beside = path.with_suffix(f".{os.getpid()}")
        beside.write_bytes(pickle.dumps(found))
        beside.replace(path)
