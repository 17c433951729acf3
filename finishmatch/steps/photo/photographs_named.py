"""What is said of photographs by their names: the lamp that one was taken under, and where samples lie in one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from finishmatch.colour import light_name
from finishmatch.errors import InputError
from finishmatch.photo.find.regions import Region, typed_region

_OF_PHOTO = re.compile(r"\s*([^=:]+\.(?:jpe?g|png|tiff?|hei[cf]|dng))\s*:", re.IGNORECASE)


def under_lamp(option: str, text: str) -> tuple[str, Path]:
    """Return the light and the photograph meant by "LIGHT=PHOTO".

    Parameters
    ----------
    option : str
        Names the option in what is raised.
    text : str

    Raises
    ------
    InputError
        It isn't that, or there is no such light.
    """
    light, sign, photo = text.partition("=")
    if not sign or not photo.strip():
        mend = "name the lamp and its photograph, for example A=lamp.jpg"
        raise InputError(f"`{option}` {text[:60]!r}", "is not LIGHT=PHOTO", mend)
    return light_name(light.strip()), Path(photo.strip())


def lamps_beside(under: Sequence[str], light: str) -> list[tuple[str, Path]]:
    """Return light and photograph of each lamp, beside photographs read for another light.

    Parameters
    ----------
    under : sequence of str
        LIGHT=PHOTO.
    light : str
        That the colours are given for.

    Raises
    ------
    InputError
        One isn't that, or is in the very light.
    """
    lamps = [under_lamp("under", one) for one in under]
    for (its, _), text in zip(lamps, under, strict=True):
        if its == light:
            mend = "name it with the others, or the lamp it was taken under"
            raise InputError(f"`under` {text[:60]!r}", f"is in {light}, for which the colours are given", mend)
    return lamps


def regions_of_each(given: Sequence[str | Region], photographs: Sequence[Path]) -> dict[Path, list[Region]]:
    """Return where samples lie in each photograph: what is said of one by its name goes before what is said of all.

    Parameters
    ----------
    given : sequence of str or Region
        "NAME=x,y,w,h", or "PHOTO:NAME=x,y,w,h" of one photograph, called by its path or the name of its file.
    photographs : sequence of Path

    Raises
    ------
    InputError
        It isn't that, is of a photograph that isn't among them, or a sample is named twice.
    """
    of_all, of_one = dict[str, Region](), {path: dict[str, Region]() for path in photographs}
    for one in given:
        text = one if isinstance(one, str) else one.name
        whose = {path: said for path in photographs for said in (f"{path}:", f"{path.name}:") if text.startswith(said)}
        unnamed = None if whose or isinstance(one, Region) else _OF_PHOTO.match(text)
        if unnamed:
            what = f"is of {unnamed[1][:60]}, which isn't one of the photographs"
            raise InputError(
                f"`region` {text[:60]!r}", what, f"they are {', '.join(path.name for path in photographs)}"
            )
        region = one if isinstance(one, Region) else typed_region(text[max(map(len, whose.values()), default=0) :])
        for places in [of_one[path] for path in whose] or [of_all]:
            if region.name in places:
                raise InputError(f"`region` {region.name[:40]}", "is named twice", "say once where each sample lies")
            places[region.name] = region
    return {path: list((of_all | places).values()) for path, places in of_one.items()}
