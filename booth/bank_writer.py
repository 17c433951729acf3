"""A bank folder from the virtual booth: tints, the panels drawn of them, and what an instrument reads of those."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from booth.pigments import WAVELENGTHS_NM, Floats, Pigment
from booth.virtual_booth import (
    INDEX,
    bare_ground_reading,
    dry_volume_fractions,
    film_reflectance,
)

PANEL_G = 100.0
_NUMBERS = ("density_kg_l", "volume_solids", "price_per_kg", "stock_g")
_CARD_EDGE = np.exp(-(WAVELENGTHS_NM - 400) / 12)
# reflectance in contact with the film, invented: a lacquered black and white drawdown card
BLACK_GROUND: Floats = np.full(WAVELENGTHS_NM.size, 0.012)
WHITE_GROUND: Floats = 0.92 - 0.25 * _CARD_EDGE
GROUNDS: dict[str, Floats] = {"black": BLACK_GROUND, "white": WHITE_GROUND}


@dataclass(frozen=True)
class TintSpec:
    """One tin of a bank to be written; its name is the pigment's.

    `strong` tints get a 1/99 letdown too, and more black in their shading.
    """

    pigment: Pigment
    role: str = "tint"
    colour_index: str = ""
    density_kg_l: float = 1.1
    volume_solids: float = 0.35
    price_per_kg: float = 40.0
    stock_g: float = 1000.0
    strong: bool = False

    @property
    def name(self) -> str:
        """The tint's name."""
        return self.pigment.name


@dataclass(frozen=True)
class PanelSpec:
    """A panel to draw: what is weighed, and the builds (none: one that hides) at which it lies over every ground."""

    name: str
    grams: Mapping[str, float]
    builds_um: tuple[float, ...] = ()


@dataclass(frozen=True)
class Noise:
    """How unsure the work is.

    Parameters
    ----------
    reading_sd : float
        SD of every reflectance value read.
    weighing_sd_g : float
        SD of the grams of each part of a mixed panel.
    repeats : int, or mapping of panel to int
        How often a panel is read; panels not named, once.
    """

    reading_sd: float = 0.0
    weighing_sd_g: float = 0.0
    repeats: Mapping[str, int] | int = 1

    def count(self, panel: str) -> int:
        """Return how often a panel is read."""
        return self.repeats if isinstance(self.repeats, int) else self.repeats.get(panel, 1)


def role_named(tints: Sequence[TintSpec], role: str) -> str | None:
    """Return the name of the first tint of a role."""
    return next((tint.name for tint in tints if tint.role == role), None)


def _two(first: str, share: float, second: str) -> dict[str, float]:
    return {first: round(PANEL_G * share, 6), second: round(PANEL_G * (1 - share), 6)}


def letdown_panels(tints: Sequence[TintSpec]) -> list[PanelSpec]:
    """Return the hiding panels of a bank.

    Masstones; of each chromatic tint letdowns with white 50/50, 20/80, 5/95 (1/99 when strong) by weight and a shading
    with black; greys of white and black.
    """
    light, dark = role_named(tints, "white"), role_named(tints, "black")
    panels = [PanelSpec(f"{tint.name} masstone", {tint.name: PANEL_G}) for tint in tints if tint.role != "clear"]
    if light and dark:
        panels += [PanelSpec(f"grey {p:g}/{100 - p:g}", _two(dark, p / 100, light)) for p in (50, 20, 5, 1)]
    for tint in tints:
        if tint.role != "tint":
            continue
        if light:
            shares = (50, 20, 5, 1) if tint.strong else (50, 20, 5)
            panels += [PanelSpec(f"{tint.name} {p}/{100 - p}", _two(tint.name, p / 100, light)) for p in shares]
        if dark:
            percent = 90 if tint.strong else 96
            panels.append(PanelSpec(f"{tint.name} shaded", _two(tint.name, percent / 100, dark)))
    return panels


def drawdown_panels(
    tints: Sequence[TintSpec], names: Iterable[str] | None = None, builds_um: tuple[float, ...] = (25.0, 50.0)
) -> list[PanelSpec]:
    """Return thin panels over every ground: the masstone and, but for white and black, a 20/80 letdown of each tint."""
    wanted = {tint.name for tint in tints} if names is None else set(names)
    light = role_named(tints, "white")
    panels = []
    for tint in tints:
        if tint.name not in wanted or tint.role == "clear":
            continue
        panels.append(PanelSpec(f"{tint.name} drawdown", {tint.name: PANEL_G}, builds_um))
        if light and tint.role == "tint":
            panels.append(PanelSpec(f"{tint.name} 20/80 drawdown", _two(tint.name, 0.2, light), builds_um))
    return panels


def mixture_fractions(tints: Sequence[TintSpec], grams: Mapping[str, float]) -> Floats:
    """Return the dry volume fractions, shape (n,), of a mixture weighed from a bank's tints."""
    weights = np.array([float(grams.get(tint.name, 0.0)) for tint in tints])
    solids = np.array([tint.volume_solids for tint in tints])
    return dry_volume_fractions(weights, np.array([tint.density_kg_l for tint in tints]), solids)


def write_bank(
    folder: Path,
    tints: Sequence[TintSpec],
    panels: Sequence[PanelSpec] | None = None,
    *,
    name: str = "virtual booth",
    noise: Noise | None = None,
    seed: int = 0,
    grounds: Mapping[str, Floats] | None = None,
    specular_included: bool = True,
    note: str = "invented data, generated by radiative transfer (adding-doubling), no real paint",
) -> None:
    """Write a bank folder.

    Parameters
    ----------
    folder : Path
        Made when it isn't there; its files are replaced.
    tints : sequence of TintSpec
    panels : sequence of PanelSpec or None
        None: `letdown_panels` and `drawdown_panels` of all tints.
    name : str
    noise : Noise or None
        None: neither reading nor weighing errs.
    seed : int
        Of the noise.
    grounds : mapping of name to ndarray, shape (31,), or None
        Reflectance in contact with the film; None is the lacquered card. grounds.csv holds what is read of them bare,
        through their own surface of the film's index.
    specular_included : bool
        True writes geometry di8, False de8.
    note : str
        The comment at the head of each file.
    """
    folder = Path(folder)
    noise = noise or Noise()
    panels = [*letdown_panels(tints), *drawdown_panels(tints)] if panels is None else panels
    grounds = GROUNDS if grounds is None else grounds
    r = np.random.default_rng(seed)
    rows = _draw(tints, panels, noise, r, grounds, specular_included)
    folder.mkdir(parents=True, exist_ok=True)
    geometry = "di8" if specular_included else "de8"
    text = f'# {note}\nname = "{name}"\ngeometry = "{geometry}"\nbinder_index = {INDEX:g}\n'
    (folder / "bank.toml").write_text(text, encoding="utf-8")
    columns = ["tint", "role", "colour_index", *_NUMBERS]
    cells = [[t.name, t.role, t.colour_index, *(f"{getattr(t, column):g}" for column in _NUMBERS)] for t in tints]
    write_csv(folder / "tints.csv", columns, cells, note)
    weighed = [[panel.name, tint, f"{grams:g}"] for panel in panels for tint, grams in panel.grams.items()]
    write_csv(folder / "panels.csv", ["panel", "tint", "grams"], weighed, note)
    write_csv(folder / "readings.csv", ["panel", "ground", "build_um", *wavelength_names()], rows, note)
    bare = [
        [ground, *spectrum_cells(_noisy(bare_ground_reading(inner, specular_included), noise, r))]
        for ground, inner in grounds.items()
    ]
    write_csv(folder / "grounds.csv", ["ground", *wavelength_names()], bare, note)


def _draw(
    tints: Sequence[TintSpec],
    panels: Sequence[PanelSpec],
    noise: Noise,
    r: np.random.Generator,
    grounds: Mapping[str, Floats],
    specular_included: bool,
) -> list[list[str]]:
    """Return the rows of readings.csv: every panel weighed (with the scale's error), drawn and read."""
    pigments = [tint.pigment for tint in tints]
    fractions = []
    for panel in panels:
        mixed = len(panel.grams) > 1
        err = noise.weighing_sd_g * r.standard_normal(len(panel.grams)) * mixed
        true = {name: max(grams + e, 0.0) for (name, grams), e in zip(panel.grams.items(), err, strict=True)}
        fractions.append(mixture_fractions(tints, true))
    films: list[tuple[int, str, float | None]] = []
    for i, panel in enumerate(panels):
        films += [(i, ground, build) for build in panel.builds_um for ground in grounds] or [(i, "", None)]
    shares = np.stack([fractions[i] for i, _, _ in films])
    read = np.empty((len(films), WAVELENGTHS_NM.size))
    hides = np.array([build is None for _, _, build in films])
    if hides.any():
        read[hides] = film_reflectance(shares[hides], pigments, specular_included=specular_included)
    if not hides.all():
        build_um = np.array([build for _, _, build in films if build is not None])
        under = np.stack([grounds[ground] for _, ground, build in films if build is not None])
        read[~hides] = film_reflectance(shares[~hides], pigments, build_um, under, specular_included)
    return [
        [panels[i].name, ground, "" if build is None else f"{build:g}", *spectrum_cells(_noisy(spectrum, noise, r))]
        for (i, ground, build), spectrum in zip(films, read, strict=True)
        for _ in range(noise.count(panels[i].name))
    ]


def _noisy(spectrum: Floats, noise: Noise, r: np.random.Generator) -> Floats:
    noisy: Floats = np.clip(spectrum + noise.reading_sd * r.standard_normal(spectrum.size), 0.0, 1.2)
    return noisy


def wavelength_names() -> list[str]:
    """Return the column names of a spectrum."""
    return [f"{nm:.0f}" for nm in WAVELENGTHS_NM]


def spectrum_cells(spectrum: Floats) -> list[str]:
    """Return a spectrum as it is written."""
    return [f"{value:.6f}" for value in spectrum]


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]], note: str) -> None:
    """Write a CSV file with a comment line at its head."""
    with Path(path).open("w", newline="", encoding="utf-8") as handle:
        handle.write(f"# {note}\n")
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)
