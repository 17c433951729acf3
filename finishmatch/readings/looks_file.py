"""looks.json of a bank folder: what cameras saw of its panels, beside the colours in seen.csv."""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.files import read_file, write_file
from finishmatch.optics.camera_look import CameraLook
from finishmatch.readings.look_form import MOST_LOOKS, look_document, look_from

FILE = "looks.json"
MAX_BYTES = 8_000_000
_FORM = 1
_KEY = 12  # digits by which what a camera makes of a light is called
_SAME = 6e-4  # CIELAB: a colour of seen.csv, to three places, is the one the looks were written with

Looks = Mapping[tuple[str, str], tuple[CameraLook, ...]]


def looks_of(kept: Mapping[str, Any], picture: str, panel: str, lab: Floats) -> tuple[CameraLook, ...]:
    """Return what cameras saw of a panel in a picture whose colour stands in seen.csv.

    Parameters
    ----------
    kept : mapping
        Of `read_looks`.
    picture, panel : str
    lab : ndarray, shape (3,)
        As it stands there: a colour that was changed since isn't the one that was looked at.
    """
    found = kept.get(picture, {}).get("panels", {}).get(panel)
    if found is None or float(np.abs(np.array(found["lab"]) - lab).max()) > _SAME:
        return ()
    return tuple(_look(kept[picture]["lights"], one) for one in found["looks"])


def read_looks(path: Path) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return what is kept of looks by picture, and a note where the file isn't what the program wrote: it is left out.

    Nothing of a bank hangs on it but how much its photographs tell.
    """
    if not os.path.lexists(path):
        return {}, ()
    try:
        found = path.lstat()
        if not stat.S_ISREG(found.st_mode) or found.st_size > MAX_BYTES:
            raise ValueError(path)
        document = json.loads(read_file(path, MAX_BYTES))
        if document["form"] != _FORM:
            raise ValueError(path)
        pictures = document["pictures"]
        for one in pictures.values():
            _check(one)
    except (OSError, ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError):
        said = f"{path.name} isn't as it was written, and is left out: read the photographs into the bank again"
        return {}, (said,)
    return dict(pictures), ()


def write_looks(path: Path, kept: Mapping[str, Any]) -> None:
    """Write looks by picture; where there are none, there is no file.

    Raises
    ------
    InputError
        It can't be written.
    """
    pictures = {name: one for name, one in kept.items() if one["panels"]}
    if pictures:
        write_file(path, json.dumps({"form": _FORM, "pictures": pictures}) + "\n")
    elif os.path.lexists(path):
        path.unlink()


def picture_of_looks(panels: Mapping[str, tuple[Sequence[float], Sequence[CameraLook]]]) -> dict[str, Any]:
    """Return what is kept of a picture: of each panel its colour as seen.csv has it, and its looks."""
    lights: dict[str, Any] = {}
    shown: dict[str, Any] = {}
    for panel, (lab, looks) in panels.items():
        listed = []
        for look in looks:
            written = look_document(look)
            camera = {name: written.pop(name) for name in ("light", "misfit", "response")}
            key = hashlib.sha256(json.dumps(camera).encode()).hexdigest()[:_KEY]
            lights.setdefault(key, camera)
            listed.append({"of": key} | written)
        shown[panel] = {"lab": [round(float(value), 3) for value in lab], "looks": listed}
    return {"lights": lights, "panels": shown}


def _look(lights: Mapping[str, Any], one: Mapping[str, Any]) -> CameraLook:
    return look_from(one | lights[one["of"]])


def _check(picture: Mapping[str, Any]) -> None:
    """See that all of a picture has the shapes and bounds of what was written, or raise one of `read_looks`' errors."""
    for panel in picture["panels"].values():
        if len(panel["looks"]) > MOST_LOOKS or np.shape(panel["lab"]) != (3,):
            raise ValueError(panel)
        for one in panel["looks"]:
            _look(picture["lights"], one)
