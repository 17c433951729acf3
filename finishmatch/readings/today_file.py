"""A bank with the cards of a record, kept beside the ledger so that it isn't worked out at every command."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.optics import BankFit, BankToday, CardPanel, Surface, today_agrees
from finishmatch.optics.strength import StrengthEvidence, StrengthPrior
from finishmatch.readings.fit_file import FIT_MODEL, bounded, own_digest, packed_draws, unpacked_draws

FOLDER = "bank-today"
# raised when the same cards would be put to a bank otherwise, so that what is kept is worked out anew
_MODEL = 2
_KEPT = 12  # files: of several banks and jobs, and of a card judged again


def today_key(
    fit: BankFit,
    cards: Sequence[CardPanel],
    today: Mapping[str, str],
    spread: float,
    of_panels: Collection[str] = (),
    letdowns: Sequence[StrengthEvidence] = (),
) -> str:
    """Return the SHA-256, in hex, of all that a bank with its cards is worked out from; the parameters are as there."""
    optics = fit.optics
    whole = hashlib.sha256(json.dumps([_MODEL, FIT_MODEL, spread, sorted(of_panels), sorted(today.items())]).encode())
    for values in (optics.K, optics.S, optics.draws if optics.draws is not None else np.zeros(0)):
        whole.update(np.asarray(values, dtype="<f4").tobytes())
    for card in sorted(cards, key=lambda card: card.key):
        film = None if card.backing is None else [card.backing.build_um, card.backing.ground.tolist()]
        whole.update(json.dumps([*card.key, card.reading_sd.tolist(), card.pour_sd_g, film]).encode())
        if (seen := card.seen) is not None:
            own = [seen.lab.tolist(), seen.covariance.tolist(), seen.picture, seen.shared.tolist()]
            whole.update(json.dumps(own).encode())
    told = sorted([list(one.names), one.precision.tolist(), one.information.tolist()] for one in letdowns)
    whole.update(json.dumps(told).encode())
    return whole.hexdigest()


def store_today(home: Path, key: str, found: BankToday) -> None:
    """Keep a bank with its cards; where that can't be done it is worked out anew each time."""
    fit, tins = found.fit, found.tins
    document: dict[str, Any] = {
        "made_from_sha256": key,
        "K": fit.optics.K.tolist(),
        "S": fit.optics.S.tolist(),
        "K_sd": fit.K_sd.tolist(),
        "S_sd": fit.S_sd.tolist(),
        "surface": vars(fit.optics.surface),
        "draws": packed_draws(fit.optics.draws),
        "tins": {name: float(value) for name, value in zip(tins.names, tins.log_mean, strict=True)},
        "covariance": tins.log_covariance.tolist(),
        "spread": tins.spread,
        "cards": found.cards,
        "doubted": list(found.doubted),
        "left_aside": list(found.left_aside),
    }
    document["sha256"] = own_digest(document)
    path = _path(home, key)
    try:
        write_file(path, json.dumps(document), make_folder=True, private=True)
        others = sorted(path.parent.glob("*.json"), key=lambda other: other.stat().st_mtime, reverse=True)
        for old in others[_KEPT:]:
            old.unlink(missing_ok=True)
    except (InputError, OSError):
        return


def load_today(home: Path, key: str, fit: BankFit) -> BankToday | None:
    """Return what was kept of a bank with its cards; None: nothing, or it is damaged, or made from something else."""
    try:
        document = json.loads(bounded(_path(home, key)))
        if document.pop("sha256") != own_digest(document) or document["made_from_sha256"] != key:
            return None
        found = _from_document(document, fit)
        return found if today_agrees(fit, found) else None
    except (OSError, ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError):
        return None


def _path(home: Path, key: str) -> Path:
    return home / FOLDER / f"{key[:32]}.json"


def _from_document(document: dict[str, Any], fit: BankFit) -> BankToday:
    K, S, K_sd, S_sd = (np.array(document[name], dtype=float) for name in ("K", "S", "K_sd", "S_sd"))
    draws = unpacked_draws(document["draws"], len(fit.optics.names))
    optics = replace(fit.optics, K=K, S=S, draws=draws, surface=Surface(**document["surface"]))
    tins = StrengthPrior(
        tuple(document["tins"]),
        np.array(list(document["tins"].values()), dtype=float),
        np.array(document["covariance"], dtype=float).reshape(len(document["tins"]), len(document["tins"])),
        float(document["spread"]),
    )
    doubted, aside = (tuple(int(i) for i in document[name]) for name in ("doubted", "left_aside"))
    return BankToday(replace(fit, optics=optics, K_sd=K_sd, S_sd=S_sd), tins, int(document["cards"]), doubted, aside)
