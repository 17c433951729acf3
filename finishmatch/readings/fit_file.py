"""The fit of a bank, stored beside it with the hash of what it was made from and a hash of its own."""

from __future__ import annotations

import base64
import hashlib
import json
import stat
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour.grid import SIZE, Floats
from finishmatch.files import read_file, write_file
from finishmatch.optics import Bank, BankFit, PanelResidual, Surface, TintOptics, fit_agrees
from finishmatch.optics.panel_model import amount_factors
from finishmatch.optics.panel_set import PanelSet, panel_set
from finishmatch.optics.posterior import Posterior
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.slips_named import PanelSlip
from finishmatch.optics.unknowns import Problem, State
from finishmatch.readings.known import Known

FIT_FILE = "fit.json"
MAX_BYTES = 16_000_000
# raised when the same bank would be fitted otherwise, so that stored fits are redone
FIT_MODEL = 13
_LOADED: Known[tuple[Bank, BankFit]] = Known()


def store_fit(folder: Path, bank: Bank, fit: BankFit) -> Path:
    """Write the fit beside its bank, whole or not at all.

    Raises
    ------
    InputError
        When the folder can't be written.
    """
    optics = fit.optics
    document: dict[str, Any] = {
        "made_from_sha256": bank.digest,
        "model": FIT_MODEL,
        "bank": bank.name,
        "surface": vars(optics.surface),
        "per_um": optics.per_um,
        "draws": packed_draws(optics.draws),
        "dispersal_sd": optics.dispersal_sd,
        "neighbour_sd": optics.neighbour_sd,
        "model_sd": optics.model_sd,
        "model_run": optics.model_run,
        "tints": {
            name: {
                "K": optics.K[i].tolist(),
                "S": optics.S[i].tolist(),
                "K_sd": fit.K_sd[i].tolist(),
                "S_sd": fit.S_sd[i].tolist(),
                "dry_ml_per_g": float(optics.dry_ml_per_g[i]),
                "panels": fit.panels_per_tint[name],
                "residual_de00": fit.residual_per_tint[name],
                "usable": name in fit.usable,
            }
            for i, name in enumerate(optics.names)
        },
        "panels": [vars(panel) for panel in fit.panels],
        "slips": [vars(slip) for slip in fit.slips],
        "warnings": list(fit.warnings),
        "posterior": None if fit.posterior is None else _posterior_document(fit.posterior),
    }
    document["sha256"] = own_digest(document)
    path = Path(folder) / FIT_FILE
    write_file(path, json.dumps(document), where=str(folder), mend="copy the bank to a folder of your own")
    return path


def load_fit(folder: Path, bank: Bank) -> BankFit | None:
    """Return the stored fit of a bank; None: there is none, it is damaged, out of date, or not what the panels say."""
    try:
        written = bounded(Path(folder) / FIT_FILE)
        made_of = hashlib.sha256(written).digest(), FIT_MODEL
        known = _LOADED.get(made_of)
        if known is not None and known[0] is bank:
            return known[1]
        document = json.loads(written)
        if document["made_from_sha256"] != bank.digest or document["model"] != FIT_MODEL:
            return None
        if document.pop("sha256") != own_digest(document):
            return None
        panels, _ = panel_set(bank)
        fit = _from_document(document, panels)
        if not fit_agrees(panels, fit):
            return None
        for values in (fit.optics.K, fit.optics.S, fit.K_sd, fit.S_sd, fit.optics.dry_ml_per_g):
            values.setflags(write=False)  # others are given it too
        _LOADED.keep(made_of, (bank, fit))
        return fit
    except (OSError, ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError):
        return None  # a fit that can't be read is made anew, as one that is out of date


def bounded(path: Path) -> bytes:
    """Return the bytes of a stored fit: of a regular file that is no link, and no more of it than a fit has.

    Raises
    ------
    OSError, ValueError
        There is none, or it is something else.
    """
    found = path.lstat()
    if not stat.S_ISREG(found.st_mode) or found.st_size > MAX_BYTES:
        raise ValueError(path)
    return read_file(path, MAX_BYTES)


def own_digest(document: dict[str, Any]) -> str:
    """Return the SHA-256, in hex, of a fit as it is written, by which a damaged file is known."""
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


def _from_document(document: dict[str, Any], panels: PanelSet) -> BankFit:
    tints = document["tints"]
    optics = TintOptics(
        tuple(tints),
        np.array([tint["K"] for tint in tints.values()], dtype=float),
        np.array([tint["S"] for tint in tints.values()], dtype=float),
        np.array([tint["dry_ml_per_g"] for tint in tints.values()], dtype=float),
        Surface(**document["surface"]),
        per_um=bool(document["per_um"]),
        draws=unpacked_draws(document["draws"], len(tints)),
        dispersal_sd=float(document["dispersal_sd"]),
        neighbour_sd=float(document["neighbour_sd"]),
        model_sd=float(document["model_sd"]),
        model_run=float(document["model_run"]),
    )
    return BankFit(
        optics,
        tuple(PanelResidual(**panel) for panel in document["panels"]),
        {name: tint["panels"] for name, tint in tints.items()},
        {name: tint["residual_de00"] for name, tint in tints.items()},
        tuple(name for name, tint in tints.items() if tint["usable"]),
        tuple(document["warnings"]),
        np.array([tint["K_sd"] for tint in tints.values()], dtype=float),
        np.array([tint["S_sd"] for tint in tints.values()], dtype=float),
        tuple(PanelSlip(**(slip | {"panels": tuple(slip["panels"])})) for slip in document["slips"]),
        _posterior(document["posterior"], panels, optics.surface),
    )


def _posterior_document(posterior: Posterior) -> dict[str, Any]:
    """Return what a posterior is made again from, with the panels of its bank."""
    state = posterior.state
    return {
        "beliefs": vars(posterior.beliefs),
        "trusted": posterior.problem.trusted.tolist(),
        "free_surface": posterior.problem.free_surface,
        "shifted": "" if posterior.problem.shifted is None else _packed(posterior.problem.shifted),
        "field": _packed(state.field),
        "level": state.level.tolist(),
        "factors": state.factors.tolist(),
        "shared": state.shared.tolist(),
    }


def _posterior(document: dict[str, Any], panels: PanelSet, surface: Surface) -> Posterior:
    field, shifted = _unpacked(document["field"]), None
    if document["shifted"]:
        shifted = _unpacked(document["shifted"]).reshape(len(panels.names), SIZE)
    state = State(
        field.reshape(SIZE, 2 * len(panels.tints)),
        np.array(document["level"], dtype=float),
        np.array(document["factors"], dtype=float),
        surface,
        np.array(document["shared"], dtype=float).reshape(-1, 3),
    )
    trusted = np.array([value is True for value in document["trusted"]], dtype=bool)
    problem = Problem(panels, amount_factors(panels), trusted, document["free_surface"] is True, shifted=shifted)
    return Posterior(problem, _beliefs(document["beliefs"]), state)


def _packed(values: Floats) -> str:
    """Return numbers as text: base64 of little-endian 64-bit floats."""
    return base64.b64encode(values.astype("<f8").tobytes()).decode("ascii")


def _unpacked(text: str) -> Floats:
    return np.frombuffer(base64.b64decode(text), dtype="<f8").astype(float)


def _beliefs(document: dict[str, Any]) -> Beliefs:
    return Beliefs(**(document | {"kinds": tuple(map(str, document["kinds"]))}))


def packed_draws(draws: Floats | None) -> str:
    """Return draws of K and S as text: base64 of little-endian 32-bit floats."""
    return "" if draws is None else base64.b64encode(draws.astype("<f4").tobytes()).decode("ascii")


def unpacked_draws(text: str, tints: int) -> Floats | None:
    """Return draws of K and S from their text, shape (d, 2, n, 31)."""
    if not text:
        return None
    values = np.frombuffer(base64.b64decode(text), dtype="<f4").astype(float)
    return values.reshape(-1, 2, tints, SIZE)
