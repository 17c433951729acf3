"""What cameras saw of panels in the photographs of a bank, kept beside the colours that were read of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import count
from pathlib import Path
from typing import Literal

from finishmatch.optics.camera_look import CameraLook
from finishmatch.photo.looks import WORKED, panel_look, why_no_look
from finishmatch.photo.read import PhotoReading
from finishmatch.readings.looks_file import FILE, picture_of_looks, read_looks, write_looks
from finishmatch.steps.photo.read_with_lamps import ReadInLights

OfPanel = tuple[str, str]  # what its picture is called, and the panel
LooksOfSamples = Mapping[tuple[int, str], Sequence[CameraLook]]
"""What cameras saw, by the photograph, counted from 0 over those that serve, and the sample."""


def looks_seen(
    lit: ReadInLights, windows: Mapping[str, str], serving: Sequence[str | Literal[False]]
) -> dict[OfPanel, list[CameraLook]]:
    """Return what cameras saw of each panel, by picture and panel.

    Parameters
    ----------
    lit : ReadInLights
        Each photograph counts as it was read by itself; what was seen under lamps stands with the first that serves.
    windows : mapping of str to str
        The panel in each window that is named.
    serving : sequence of str
        What each photograph is called; False of one that can't serve.
    """
    found: dict[OfPanel, list[CameraLook]] = {}
    first = next((name for name in serving if name), "")
    of_each = [(one, name) for one, name in zip(lit.alone, serving, strict=True) if name]
    of_each += [(lamp, first) for lamp in lit.lamps if first and not lamp.why_not]
    for reading, name in of_each:
        for region in reading.regions:
            look = panel_look(reading, region)
            if look is not None:
                found.setdefault((name, windows.get(region.name, region.name)), []).append(look)
    return found


def looks_of_samples(lit: ReadInLights) -> LooksOfSamples:
    """Return what cameras saw of each sample; of those under lamps with the first photograph that serves."""
    places = count()
    serving: list[str | Literal[False]] = [False if one.why_not else str(next(places)) for one in lit.readings]
    return {(int(name), sample): looks for (name, sample), looks in looks_seen(lit, {}, serving).items()}


def without_looks(readings: Sequence[PhotoReading], names: Sequence[str]) -> tuple[str, ...]:
    """Return a note of each photograph that serves and whose camera has worked on it too much to say what it saw."""
    return tuple(
        f"{name}: its colours are kept, and not what the camera saw besides: {WORKED}"
        for reading, name in zip(readings, names, strict=True)
        if not reading.why_not and why_no_look(reading) == WORKED
    )


def keep_looks(
    bank: Path,
    looks: Mapping[OfPanel, Sequence[CameraLook]],
    colours: Mapping[OfPanel, tuple[float, float, float]],
    stay: Collection[str],
) -> None:
    """Keep the looks of panels that were read now in place of what was kept of these.

    Parameters
    ----------
    bank : Path
    looks : mapping
        Of `looks_seen`.
    colours : mapping
        CIELAB of those that were read now.
    stay : collection of str
        The pictures that rows of seen.csv are of: what was kept of others goes.
    """
    kept = {name: one for name, one in read_looks(bank / FILE)[0].items() if name in stay}
    for picture in dict.fromkeys(picture for picture, _ in colours):
        now = {panel: (lab, looks.get((picture, panel), ())) for (its, panel), lab in colours.items() if its == picture}
        new, old = picture_of_looks(now), kept.get(picture, {"lights": {}, "panels": {}})
        panels = {name: one for name, one in (old["panels"] | new["panels"]).items() if one["looks"]}
        used = {look["of"] for one in panels.values() for look in one["looks"]}
        lights = {key: one for key, one in (old["lights"] | new["lights"]).items() if key in used}
        kept[picture] = {"lights": lights, "panels": panels}
    write_looks(bank / FILE, kept)


def forget_looks(bank: Path, panel: str) -> None:
    """Take away what was kept of a panel, in whichever pictures."""
    kept = read_looks(bank / FILE)[0]
    for one in kept.values():
        one["panels"].pop(panel, None)
    write_looks(bank / FILE, kept)
