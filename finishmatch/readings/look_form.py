"""What a camera saw of a sample, as it is written: in JSON, by itself or in a cell of a table."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.optics.camera_look import CameraLook, CameraSaw, PairLook

MOST_LOOKS = 6  # of one sample in one picture: daylight, and lamps
MOST_PICTURES = 40  # of one sample
_SAME = 6e-4  # CIELAB: a colour that stands in a table, to three places, is the one it was written with
_LARGEST = 1e4  # of any number that stands in it
_DIGITS = 6
_OF_PICTURE = ("light", "misfit", "response")  # of a look, what all samples of a picture have alike
_FAULTS = (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError)


def look_document(look: CameraLook) -> dict[str, Any]:
    """Return what is written of a look."""
    return {
        "light": look.light,
        "misfit": look.misfit,
        "response": _rounded(look.response),
        "values": _rounded(look.values),
        "to_lab": _rounded(look.to_lab),
        "lab": _rounded(look.lab),
    }


def look_from(document: Mapping[str, Any]) -> CameraLook:
    """Return a look as it was written.

    Raises
    ------
    ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError
        It isn't as `look_document` writes it.
    """
    names = ("response", "values", "to_lab", "lab")
    response, values, to_lab, lab = (np.array(document[name], dtype=float) for name in names)
    look = CameraLook(document["light"], response, values, to_lab, lab, float(document["misfit"]))
    shapes = response.shape, values.shape, to_lab.shape, lab.shape
    if shapes != ((SIZE, 3), (3,), (3, 3), (3,)) or not isinstance(look.light, str):
        raise ValueError(document)
    every = np.concatenate([part.ravel() for part in (response, values, to_lab, lab)])
    if not np.isfinite(every).all() or np.abs(every).max() > _LARGEST or not 0 <= look.misfit < 1:
        raise ValueError(document)
    return look


def pair_document(pair: PairLook) -> dict[str, Any]:
    """Return what is written of a standard and a trial in one picture: what is the camera's, once."""
    both = {"standard": look_document(pair.standard), "trial": look_document(pair.trial)}
    return {
        **{name: both["trial"][name] for name in _OF_PICTURE},
        "noise": _rounded(pair.noise),
        **{which: {name: look[name] for name in look if name not in _OF_PICTURE} for which, look in both.items()},
    }


def pairs_again(kept: Sequence[Mapping[str, Any]]) -> tuple[PairLook, ...]:
    """Return what cameras saw of two from how the record keeps it; none where that isn't as it was written."""
    try:
        return tuple(_pair_from(one) for one in kept)
    except _FAULTS:
        return ()


def _pair_from(document: Mapping[str, Any]) -> PairLook:
    shared = {name: document[name] for name in _OF_PICTURE}
    standard, trial = (look_from({**document[which], **shared}) for which in ("standard", "trial"))
    noise = np.array(document["noise"], dtype=float)
    if noise.shape != (3, 3) or not np.abs(noise).max() <= _LARGEST or np.linalg.eigvalsh(noise).min() < -_SAME:
        raise ValueError(document)
    return PairLook(standard, trial, noise)


def saw_document(saw: CameraSaw) -> dict[str, Any]:
    """Return what is written of what cameras saw of a sample."""
    looks = [look_document(look) for look in saw.looks]
    return {"lab": [round(float(value), 4) for value in saw.lab], "share": saw.share, "looks": looks}


def saw_from(document: Mapping[str, Any]) -> CameraSaw:
    """Return what cameras saw of a sample as it was written; raises as `look_from`."""
    lab, share = np.array(document["lab"], dtype=float), float(document["share"])
    if lab.shape != (3,) or not np.isfinite(lab).all() or not 0 < share <= 1:
        raise ValueError(document)
    if not 0 < len(document["looks"]) <= MOST_LOOKS * MOST_PICTURES:
        raise ValueError(document)
    return CameraSaw(lab, tuple(look_from(look) for look in document["looks"]), share)


def saw_again(kept: Sequence[Mapping[str, Any]]) -> tuple[CameraSaw, ...]:
    """Return what cameras saw from how the record keeps it; none where that isn't as it was written."""
    try:
        return tuple(saw_from(one) for one in kept)
    except _FAULTS:
        return ()


def saw_cell(lab: Sequence[float] | Floats, saw: Sequence[CameraSaw]) -> str:
    """Return the cell of a table that holds what cameras saw beside a colour; "" where that is nothing.

    Parameters
    ----------
    lab : sequence of float
        CIELAB that stands in the row.
    saw : sequence of CameraSaw
    """
    if not saw:
        return ""
    document = {"lab": [round(float(value), 4) for value in lab], "of": [saw_document(one) for one in saw]}
    return json.dumps(document, separators=(",", ":"))


def saw_in_cell(cell: str, lab: Floats) -> tuple[CameraSaw, ...] | None:
    """Return what a cell of a table holds; none where the colour beside it was changed since, None where it is no such.

    Parameters
    ----------
    cell : str
        As `saw_cell` writes it.
    lab : ndarray, shape (3,)
        The colour that stands in its row.
    """
    try:
        document = json.loads(cell)
        saw = tuple(saw_from(one) for one in document["of"])
        away = np.abs(np.array(document["lab"], dtype=float) - lab)
    except _FAULTS:
        return None
    if not saw or away.shape != (3,):
        return None
    return saw if float(away.max()) <= _SAME else ()


def _rounded(values: Floats) -> list[Any]:
    """Return numbers to the places they are written with."""
    found: list[Any] = np.round(values, _DIGITS).tolist()
    return found
