"""Invented pigments for the virtual booth: smooth, physically plausible absorption and scattering spectra.

No curve here was measured on a real pigment; the shapes and sizes are «common practice» guesses at what the kinds of
pigment look like (an inorganic colour scatters and has an absorption edge; an organic one absorbs in strong bands and
hardly scatters). Scattering is isotropic (g = 0) unless asked otherwise: the coefficients are the reduced ones, which
is all that a pale paint shows of its anisotropy.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

WAVELENGTHS_NM: Floats = np.arange(400.0, 701.0, 10.0)


@dataclass(frozen=True)
class Pigment:
    """What a dry film of one tint does to light, per unit of its volume fraction.

    Parameters
    ----------
    name : str
    mu_a, mu_s : ndarray, shape (31,)
        Absorption and scattering coefficients of the tint's own dry film, 1/µm, at 400 to 700 nm by 10 nm.
    g : ndarray, shape (31,)
        Anisotropy of the scattering (Henyey-Greenstein), -1 to 1.
    """

    name: str
    mu_a: Floats
    mu_s: Floats
    g: Floats

    def strengthened(self, factor: float) -> Pigment:
        """Return the pigment of a tin that is `factor` times as strong."""
        return Pigment(self.name, self.mu_a * factor, self.mu_s * factor, self.g)

    def scattering_forward(self, g: float) -> Pigment:
        """Return the pigment with another anisotropy and the same reduced scattering mu_s (1 - g)."""
        return Pigment(self.name, self.mu_a, self.mu_s * (1 - self.g) / (1 - g), np.full_like(self.mu_a, g))


Band = tuple[float, float, float]


def edge(centre_nm: float, width_nm: float) -> Floats:
    """Return a smooth step, shape (31,), from 1 at short wavelengths to 0 at long ones."""
    return 1 / (1 + np.exp((WAVELENGTHS_NM - centre_nm) / width_nm))


def bands(parts: Sequence[Band]) -> Floats:
    """Return a sum of Gaussians, shape (31,), each (height, centre in nm, standard deviation in nm)."""
    total = np.zeros_like(WAVELENGTHS_NM)
    for height, centre, width in parts:
        total += height * np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2)
    return total


def power(value: float, exponent: float) -> Floats:
    """Return a power law of the wavelength, shape (31,), with its value at 550 nm."""
    law: Floats = value * (WAVELENGTHS_NM / 550) ** -exponent
    return law


def _pigment(name: str, mu_a: Floats, mu_s: Floats) -> Pigment:
    return Pigment(name, mu_a, mu_s, np.zeros_like(mu_a))


def white(name: str = "white", scatter: float = 0.22, floor: float = 3e-5, edge_nm: float = 396.0) -> Pigment:
    """Return a white: strong scattering and the tail of an absorption edge near 400 nm."""
    return _pigment(name, floor + 0.018 * np.exp(-(WAVELENGTHS_NM - edge_nm) / 5.6), power(scatter, 0.8))


def black(name: str = "black", absorb: float = 2.2, scatter: float = 0.02, slope: float = 0.25) -> Pigment:
    """Return a black: strong absorption and little scattering; the larger `slope`, the browner its letdowns."""
    return _pigment(name, power(absorb, slope), power(scatter, 1.0))


def oxide(
    name: str,
    edge_nm: float,
    width_nm: float = 10.0,
    absorb: float = 0.4,
    floor: float = 0.004,
    scatter: float = 0.1,
    extra: Sequence[Band] = (),
) -> Pigment:
    """Return an inorganic colour: absorption up to an edge, a duller floor beyond it, substantial scattering."""
    return _pigment(name, absorb * edge(edge_nm, width_nm) + floor + bands(extra), power(scatter, 0.5))


def organic(
    name: str, parts: Sequence[Band], floor: float = 0.003, scatter: float = 0.014, step: Band | None = None
) -> Pigment:
    """Return an organic colour: strong absorption bands and little scattering.

    `step` adds an absorption edge (height, centre in nm, width in nm).
    """
    mu_a = floor + bands(parts)
    if step is not None:
        mu_a = mu_a + step[0] * edge(step[1], step[2])
    return _pigment(name, mu_a, power(scatter, 1.5))


def _yellow_oxide(name: str, r: np.random.Generator) -> Pigment:
    absorb = r.uniform(0.24, 0.4)
    extra = [(0.5 * absorb, 430.0, 40.0), (r.uniform(0.001, 0.004), 650.0, 40.0)]
    return oxide(name, r.uniform(506, 516), r.uniform(8.5, 10.5), absorb, r.uniform(0.0016, 0.003), 0.1, extra)


def _red_oxide(name: str, r: np.random.Generator) -> Pigment:
    absorb = r.uniform(0.36, 0.56)
    extra = [(1.1 * absorb, 425.0, 60.0), (0.008, 660.0, 40.0)]
    return oxide(name, r.uniform(567, 575), r.uniform(6.5, 8.5), absorb, r.uniform(0.006, 0.01), 0.12, extra)


def _ochre(name: str, r: np.random.Generator) -> Pigment:
    extra = [(0.08, 430.0, 50.0), (0.006, 650.0, 60.0)]
    floor = r.uniform(0.004, 0.008)
    return oxide(name, r.uniform(510, 522), r.uniform(12, 15), r.uniform(0.12, 0.2), floor, 0.08, extra)


def _blue(name: str, r: np.random.Generator) -> Pigment:
    shift, size = r.uniform(-10, 6), r.uniform(0.9, 1.4)
    parts = [(size, 612 + shift, 40.0), (0.85 * size, 680 + shift, 38.0), (0.1 * size, 550 + shift, 30.0)]
    return organic(name, [*parts, (0.05 * size, 390.0, 25.0)], 0.006)


def _green(name: str, r: np.random.Generator) -> Pigment:
    shift, size = r.uniform(-8, 8), r.uniform(0.8, 1.3)
    parts = [(size, 642 + shift, 42.0), (0.5 * size, 705.0, 32.0), (0.45 * size, 405 + shift, 38.0)]
    return organic(name, parts, 0.006)


def _violet(name: str, r: np.random.Generator) -> Pigment:
    shift, size = r.uniform(-6, 6), r.uniform(0.8, 1.2)
    parts = [(size, 530 + shift, 36.0), (0.9 * size, 590 + shift, 34.0), (0.1 * size, 400.0, 40.0)]
    return organic(name, parts, 0.024)


def _magenta(name: str, r: np.random.Generator) -> Pigment:
    shift, size = r.uniform(-6, 6), r.uniform(0.6, 0.9)
    parts = [(size, 525 + shift, 30.0), (0.7 * size, 562 + shift, 16.0), (0.25 * size, 410.0, 50.0)]
    return organic(name, parts, 0.004)


def _clean_yellow(name: str, r: np.random.Generator) -> Pigment:
    step = (r.uniform(0.6, 0.9), r.uniform(484, 494), r.uniform(5, 6.5))
    return organic(name, [], 0.0008, r.uniform(0.05, 0.07), step)


def _red(name: str, r: np.random.Generator) -> Pigment:
    size = r.uniform(0.4, 0.6)
    step = (size, r.uniform(576, 588), r.uniform(5, 6.5))
    return organic(name, [(0.5 * size, 440.0, 50.0)], 0.0016, r.uniform(0.04, 0.06), step)


_KINDS: tuple[tuple[str, Callable[[str, np.random.Generator], Pigment]], ...] = (
    ("yellow oxide", _yellow_oxide),
    ("blue", _blue),
    ("red oxide", _red_oxide),
    ("green", _green),
    ("clean yellow", _clean_yellow),
    ("magenta", _magenta),
    ("red", _red),
    ("violet", _violet),
    ("ochre", _ochre),
)


def random_pigments(seed: int, count: int, anisotropy: float = 0.0) -> list[Pigment]:
    """Return invented pigments: a white, a black, then inorganic and organic colours of many hues in turn.

    Parameters
    ----------
    seed : int
    count : int
        At least 2.
    anisotropy : float
        g of the scattering, below 1. The reduced scattering, mu_s (1 - g), is the same at any g, so that pale paints
        look alike; strongly absorbing ones stray from Kubelka-Munk the more, the farther g is from 0.

    Returns
    -------
    list of Pigment
        With names of their own; the same seed gives the same pigments.
    """
    r = np.random.default_rng(seed)
    made = [
        white("white", r.uniform(0.18, 0.25), r.uniform(2e-5, 6e-5), r.uniform(393, 398)),
        black("black", r.uniform(1.6, 2.6), r.uniform(0.014, 0.03), r.uniform(0.0, 0.4)),
    ]
    for i in range(max(count - 2, 0)):
        kind, make = _KINDS[i % len(_KINDS)]
        turn = i // len(_KINDS)
        made.append(make(kind if turn == 0 else f"{kind} {turn + 1}", r))
    return [pigment.scattering_forward(anisotropy) for pigment in made[:count]]
