"""A two-constant film over its ground, for real watercolour washes; `watercolour_fit` finds its numbers.

A wash is a film of pigments whose K and S add by volume (Duncan 1940), lying on white paper whose reflectance was read
bare. With A = Σ c·K and B = Σ c·S of the whole film, and z² = A(A + 2B), Kubelka and Munk give

    R = [B - Rg (A + B - z coth z)] / [A + B - B Rg + z coth z].

A form may give the film a surface (Saunderson 1942): k1 = 0.040 and k2 = 0.596, Fresnel's for an index of 1.5, the
binder's. The readings go down to 0.0001 on black, so they hold no specular part. The paper is taken inside it too.

What the plain film leaves out, each at a neutral value unless a form sets it free (`KNOBS`):

power, each_power        a pigment acts as volume^power (settling, loss into the brush); one number, or one a pigment
total_power              the same of the whole wash
crowding, each_crowding  scattering goes as total^crowding: crowded particles scatter each other's light
spread                   the thickness over the spot read is log-normal with this coefficient of variation
bare_ml                  washes leave paper bare: the share exp(-total / bare_ml) of the spot
penetration              paint that sank into the paper adds to the paper's own absorption, relative to its scattering
k2                       light turned back inside the surface
beam_back                how the entering beam is turned back, where a form lets light in as a beam

References
----------
Kubelka and Munk 1931; Duncan, Proc. Phys. Soc. 52 (1940) 390; Saunderson, J. Opt. Soc. Am. 32 (1942) 727; dependent
scattering, bare spots and sunken paint: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from benchmarks.watercolour_data import PIGMENTS, Floats
from booth.kubelka_munk import measured
from finishmatch.optics.beam import film_reading_slopes
from finishmatch.optics.surface import Surface, fresnel_diffuse_internal, fresnel_normal, internal

FRESNEL = Surface(fresnel_normal(1.5), fresnel_diffuse_internal(1.5), specular=False)
NO_SURFACE = Surface(0.0, 0.0, specular=False)
MIDDLE_ML = 0.04  # volumes are counted from here where a power acts on them
KNOBS = {  # neutral value, least, most, SD of the prior
    "power": (1.0, 0.4, 1.5, 0.4),
    "each_power": (1.0, 0.4, 1.6, 0.2),
    "total_power": (1.0, 0.4, 1.5, 0.4),
    "crowding": (0.0, -0.6, 0.6, 0.5),
    "each_crowding": (0.0, -0.6, 0.6, 0.2),
    "spread": (0.0, 1e-3, 1.0, 0.5),
    "bare_ml": (0.0, 1e-4, 0.02, 0.01),
    "penetration": (0.0, 1e-3, 20.0, 5.0),
    "k2": (FRESNEL.k2, 0.0, 0.8, 0.2),
    "beam_back": (0.39, 1e-3, 1.5, 0.5),
}
START = {"spread": 0.3, "bare_ml": 0.004, "penetration": 0.5}  # where the slope at the neutral value is nil
_NORMAL_AT, _NORMAL_WEIGHT = np.polynomial.hermite_e.hermegauss(5)


@dataclass(frozen=True)
class Form:
    """Which physics a fit uses: the surface, whether light enters as a beam, and the knobs that are free."""

    surface: Surface = NO_SURFACE
    beam: bool = False
    free: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.beam and "penetration" in self.free:
            raise ValueError("the beam's film knows no sunken paint: leave out beam or penetration")

    @property
    def knob_names(self) -> list[str]:
        """The free knobs in order, one entry for each number: those of single pigments stand once a pigment."""
        return [name for name in self.free for _ in range(len(PIGMENTS) if name.startswith("each_") else 1)]


@dataclass(frozen=True)
class Washes:
    """Fitted optics: ln K and ln S per mL, shape (2, 13, 41), the free knobs' values, and the paper they lie on."""

    form: Form
    paper: Floats
    log_ks: Floats
    knobs: Floats

    def knob(self, name: str) -> Floats:
        """Return a knob's value, neutral when it isn't free: a scalar, or shape (13,)."""
        if name not in self.form.free:
            return np.float64(KNOBS[name][0])
        own = self.knobs[[at for at, other in enumerate(self.form.knob_names) if other == name]]
        return own if name.startswith("each_") else own[0]


def film_and_slopes(A: Floats, B: Floats, ground: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the inner reflectance of a film over a ground and its slopes per A, B and ground; Kubelka and Munk 1931.

    Parameters
    ----------
    A, B : ndarray, one shape
        Absorption K·X and scattering S·X of the whole film.
    ground : ndarray
        Reflectance inside the film's surface.
    """
    z2 = np.maximum(A * (A + 2 * B), 1e-10)
    z = np.sqrt(z2)
    c = z / np.tanh(z)
    per_z2 = np.where(z2 < 1e-4, 1 / 3, (c - z2 / np.sinh(np.minimum(z, 300)) ** 2) / (2 * z2))
    c_a, c_b = per_z2 * 2 * (A + B), per_z2 * 2 * A
    below = A + B - B * ground + c
    R = (B - ground * (A + B - c)) / below
    per_A = (-ground * (1 - c_a) - R * (1 + c_a)) / below
    per_B = (1 - ground * (1 - c_b) - R * (1 - ground + c_b)) / below
    per_ground = (c - A - B + R * B) / below
    return R, per_A, per_B, per_ground


def predict(washes: Washes, millilitres: Floats) -> Floats:
    """Return the reflectance, shape (n, 41), of washes of some mL of each pigment, shape (n, 13)."""
    K, S = np.exp(washes.log_ks)
    absorbing, scattering = amounts(washes, millilitres)
    return read(washes, absorbing @ K, scattering @ S, millilitres.sum(axis=1))[0]


def amounts(washes: Washes, millilitres: Floats) -> tuple[Floats, Floats]:
    """Return the volumes as they absorb and as they scatter, each (n, 13)."""
    share = millilitres / MIDDLE_ML
    power = washes.knob("power") * washes.knob("each_power")
    acting = np.where(share > 0, np.maximum(share, 1e-12) ** power, 0.0) * MIDDLE_ML
    total = share.sum(axis=1, keepdims=True)
    acting = acting * total ** (washes.knob("total_power") - 1)
    return acting, acting * total ** (washes.knob("crowding") + washes.knob("each_crowding"))


def read(washes: Washes, A: Floats, B: Floats, total_ml: Floats) -> tuple[Floats, Floats, Floats]:
    """Return what is read of films of A = K·X and B = S·X, shape (n, 41), and its slopes per A and B.

    Parameters
    ----------
    washes : Washes
    A, B : ndarray, shape (n, 41)
    total_ml : ndarray, shape (n,)
        Volume of paint, which tells how much paper stays bare.
    """
    form = washes.form
    surface = replace(form.surface, beam_back=washes.knob("beam_back"))
    if "k2" in form.free:
        surface = replace(surface, k2=washes.knob("k2"))
    ground = internal(washes.paper, surface)
    R, per_A, per_B = (np.zeros_like(A) for _ in range(3))
    for thick, weight in _thicknesses(float(washes.knob("spread"))):
        if form.beam:
            found = film_reading_slopes(A * thick, B * thick, np.float64(1.0), ground, surface)
        else:
            found = _diffuse_reading_slopes(A * thick, B * thick, ground, surface, washes.knob("penetration") / thick)
        R += weight * found[0]
        per_A += weight * thick * found[1]
        per_B += weight * thick * found[2]
    if "bare_ml" in form.free:
        bare = np.exp(-total_ml / washes.knob("bare_ml"))[:, None]
        return bare * washes.paper + (1 - bare) * R, (1 - bare) * per_A, (1 - bare) * per_B
    return R, per_A, per_B


def _thicknesses(spread: float) -> list[tuple[float, float]]:
    """Return relative thicknesses and the share of the spot that has each: a log-normal of mean 1 at five places."""
    if not spread:
        return [(1.0, 1.0)]
    sigma = np.sqrt(np.log1p(spread**2))
    share = _NORMAL_WEIGHT / _NORMAL_WEIGHT.sum()
    return list(zip(np.exp(sigma * _NORMAL_AT - sigma**2 / 2), share, strict=True))


def _diffuse_reading_slopes(
    A: Floats, B: Floats, bare: Floats, surface: Surface, sunk: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return what is read of films lit diffusely, over paper that took in `sunk` of their paint, and its slopes."""
    ground, per_A_below = bare, np.zeros_like(A)
    if sunk:
        q = (1 - bare) ** 2 / (2 * bare) + sunk * A
        root = np.sqrt(q * (q + 2))
        ground = 1 / (1 + q + root)
        per_A_below = -sunk * ground / root
    inner, per_A, per_B, per_ground = film_and_slopes(A, B, ground)
    out = (1 - surface.k1) * (1 - surface.k2) / (1 - surface.k2 * inner) ** 2
    return measured(inner, surface), out * (per_A + per_ground * per_A_below), out * per_B
