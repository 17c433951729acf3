"""The film of a panel: its layers from the metal up, each with repeated build readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.near_names import plain_key

METAL = "metal"
METAL_INDEX = -1
MAX_UM = 20_000.0  # 20 mm; more is a slip of the unit
MAX_PANEL_MM = 20_000.0
MIN_UM = 1.0  # a film thinner than this was typed in mm or mils

# words a layer's name may hold, and its role; the first role that has a word in the name is taken
_COLOUR = "colour color base single topcoat finish enamel lacquer cellulose paint"
ROLE_WORDS = (
    ("primer", ("primer", "surfacer", "sealer", "filler", "undercoat", "etch", "epoxy", "putty", "stopper")),
    ("clear", ("clear", "varnish")),
    ("colour", tuple(_COLOUR.split())),
)
METAL_WORDS = ("metal", "substrate", "steel", "aluminium", "aluminum", "zinc", "bare", "panel", "wood", "timber")


def layer_role(name: str) -> str:
    """Return what a layer is, "primer", "colour" or "clear", by the words in its name.

    Raises
    ------
    InputError
        When the name holds no word for what a layer is.
    """
    small = plain_key(name)
    for role, words in ROLE_WORDS:
        if any(word in small for word in words):
            return role
    raise InputError(
        f"layer {name.strip()[:40]!r}",
        "its name doesn't say what it is",
        "name it with a word such as primer, surfacer, sealer, colour, basecoat, single-stage or clear",
    )


@dataclass(frozen=True)
class FilmLayer:
    """One layer and its build readings near the defect, in µm; `role` is primer, colour or clear.

    places_mm holds where each was read, across and down the panel, or nothing where that is not known.
    """

    name: str
    role: str
    builds_um: tuple[float, ...]
    places_mm: tuple[tuple[float, float], ...] = ()

    @property
    def mean_um(self) -> float:
        """The mean of its readings."""
        return math.fsum(self.builds_um) / len(self.builds_um)


def read_place(text: str) -> tuple[float, float] | None:
    """Return a place typed as X/Y, mm across and down the panel ("120/340"); None for one in words."""
    across, slash, down = text.partition("/")
    try:
        place = (float(across), float(down))
    except ValueError:
        return None
    return place if slash and all(math.isfinite(value) and abs(value) <= MAX_PANEL_MM for value in place) else None


def film_layer(
    name: str, builds_um: Sequence[float], places_mm: Sequence[tuple[float, float] | None] = ()
) -> FilmLayer:
    """Return a checked layer.

    Parameters
    ----------
    name : str
        As the shop calls it; its role is taken from it (`layer_role`).
    builds_um : sequence of float
        At least one build reading in µm.
    places_mm : sequence of (float, float) or None
        Where each was read; kept only when every place is known.

    Raises
    ------
    InputError
        No readings, or one that is no length a film can have.
    """
    name = " ".join(name.split())
    role = layer_role(name)
    where = f"layer {name!r}"
    if not builds_um:
        raise InputError(where, "has no build readings", "read it at least once, three times is better")
    for build in builds_um:
        if not math.isfinite(build):
            raise InputError(where, f"{build} is not a build", "write a number of µm")
        if build <= 0:
            raise InputError(where, f"a build of {build:g} µm is not possible", "a reading is above 0")
        if build < MIN_UM:
            raise InputError(where, f"a build of {build:g} µm is too thin for paint", "builds are in µm: is it in mm?")
        if build > MAX_UM:
            raise InputError(where, f"a build of {build:g} µm is too thick for paint", "builds are in µm")
    known = tuple(place for place in places_mm if place is not None)
    builds = tuple(float(build) for build in builds_um)
    return FilmLayer(name, role, builds, known if len(known) == len(builds) else ())


@dataclass(frozen=True)
class Film:
    """The layers of a film from the metal up; the last one is a topcoat (colour or clear)."""

    layers: tuple[FilmLayer, ...]

    @property
    def top_start(self) -> int:
        """Index of the lowest layer of the topcoat: the run of one role that ends at the surface."""
        start = len(self.layers) - 1
        while start and self.layers[start - 1].role == self.layers[-1].role:
            start -= 1
        return start

    @property
    def topcoat(self) -> tuple[FilmLayer, ...]:
        """The layers that may be rubbed: clear over a basecoat, or a colour that is its own topcoat."""
        return self.layers[self.top_start :]

    @property
    def primer_index(self) -> int:
        """Index of the uppermost primer, or METAL_INDEX where none was read."""
        return max((i for i, layer in enumerate(self.layers) if layer.role == "primer"), default=METAL_INDEX)

    @property
    def mean_um(self) -> float:
        """The whole film by the means of its readings."""
        return math.fsum(layer.mean_um for layer in self.layers)

    @property
    def thickest_um(self) -> float:
        """The whole film by the thickest reading of each layer."""
        return math.fsum(max(layer.builds_um) for layer in self.layers)

    def names(self) -> str:
        """Return the names of the layers from the metal up, for a message."""
        return ", ".join(layer.name for layer in self.layers)


def make_film(layers: Sequence[FilmLayer]) -> Film:
    """Return the film of layers given from the metal up.

    Raises
    ------
    InputError
        No layers, a name that stands twice, or a primer at the surface.
    """
    if not layers:
        raise InputError("film", "there are no build readings", "read the film around the defect, layer by layer")
    seen: set[str] = set()
    for layer in layers:
        if plain_key(layer.name) in seen:
            raise InputError(
                f"layer {layer.name!r}",
                "is given twice",
                "put its readings together, or name its coats differently",
            )
        seen.add(plain_key(layer.name))
    if layers[-1].role == "primer":
        raise InputError(
            f"layer {layers[-1].name!r}",
            "a primer lies on top, so there is no topcoat to judge",
            "name the layers from the metal up, the topcoat last",
        )
    return Film(tuple(layers))


def is_metal(name: str) -> bool:
    """Return whether a layer reached means the metal (or wood) under all paint."""
    return any(word in name.casefold() for word in METAL_WORDS) and not any(
        word in name.casefold() for _, words in ROLE_WORDS for word in words
    )


def reached_layer(film: Film, name: str) -> int:
    """Return the index of the layer that lies bare at the bottom of a defect; METAL_INDEX for the metal.

    Parameters
    ----------
    film : Film
    name : str
        A layer's name, or its role, which stands for the uppermost layer of that role; or metal, steel, substrate.

    Raises
    ------
    InputError
        For a layer the film doesn't have.
    """
    key = plain_key(name)
    for index, layer in enumerate(film.layers):
        if plain_key(layer.name) == key:
            return index
    if is_metal(name):
        return METAL_INDEX
    try:
        role = layer_role(name)
    except InputError:
        role = ""
    # only a bare role ("primer") stands for any layer of it: "sealer" is not the primer below it
    plain_role = key in (plain_key(role), "color") if role else False
    if plain_role:
        for index in range(len(film.layers) - 1, -1, -1):
            if film.layers[index].role == role:
                return index
    raise InputError(
        f"layer {name.strip()[:40]!r}", "the film here has no such layer", f"it has {film.names()}, and metal below"
    )
