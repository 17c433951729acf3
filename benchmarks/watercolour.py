"""A two-constant film over its ground, fitted on real watercolour washes.

What is modelled. A wash is a film of pigments whose K and S add by volume (Duncan 1940), lying on white paper whose
reflectance was read bare. With A = Σ c·K and B = Σ c·S of the whole film, and z² = A(A + 2B), Kubelka and Munk give

    R = [B - Rg (A + B - z coth z)] / [A + B - B Rg + z coth z].

The film has a surface (Saunderson 1942): k1 = 0.040 and k2 = 0.596, Fresnel's for an index of 1.5, the binder's; the
readings go down to 0.0001 on black, so they hold no specular part. The paper's reading is taken inside the same surface.

What the plain film leaves out, each one number that can be left at its neutral value (`KNOBS`):

crowding      scattering per mL goes as total^crowding: crowded particles scatter each other's light and lose strength
power         each pigment acts as volume^power (settling, loss into the brush and the paper)
total_power   the same of the whole wash
spread        the film is uneven over the spot read: its thickness is log-normal with this coefficient of variation
penetration   paint that sank into the paper adds to the paper's own absorption, relative to its scattering

K and S of every pigment at every wavelength (13 × 2 × 41) are the fit's other unknowns; nothing is learnt of any pair.

The fit. Each swatch counts as often as it stands in the training list. What is least is the colour difference ΔE*ab
(D65, 2°), and beside it, less strongly, the misfit at each wavelength over (0.2 + reflectance), which decides among
spectra of one colour; both under a pseudo-Huber loss of scale 6, so that a mislabelled swatch pulls little. Weak priors: ln K
and ln S are smooth in wavelength and near a middling pigment's. Levenberg-Marquardt on all unknowns at once.

References
----------
Kubelka and Munk 1931; Duncan, Proc. Phys. Soc. 52 (1940) 390; Saunderson, J. Opt. Soc. Am. 32 (1942) 727; dependent
scattering and sunken paint: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from benchmarks.watercolour_data import Floats, Samples, lab, tristimulus_weights
from finishmatch.optics.beam import film_reading_slopes
from finishmatch.optics.surface import Surface, fresnel_diffuse_internal, fresnel_normal, internal, measured

FRESNEL = Surface(fresnel_normal(1.5), fresnel_diffuse_internal(1.5), specular=False)
NO_SURFACE = Surface(0.0, 0.0, specular=False)
MIDDLE_ML = 0.04  # volumes are counted from here where a power acts on them
KNOBS = {  # neutral value, least, most, SD of the prior
    "crowding": (0.0, -0.6, 0.6, 0.5),
    "power": (1.0, 0.4, 1.5, 0.4),
    "total_power": (1.0, 0.4, 1.5, 0.4),
    "spread": (0.0, 1e-3, 1.0, 0.5),
    "penetration": (0.0, 1e-3, 20.0, 5.0),
    "beam_back": (0.39, 1e-3, 1.5, 0.5),
}
START = {"spread": 0.3, "penetration": 0.5}  # where the slope at the neutral value is nil, or K and S must find it
_NORMAL_AT, _NORMAL_WEIGHT = np.polynomial.hermite_e.hermegauss(5)
_PRIOR = np.array([3.0, 1.0])  # ln K and ln S per mL of a middling pigment


@dataclass(frozen=True)
class Form:
    """Which physics a fit uses: the surface, whether light enters as a beam, and the knobs that are free."""

    name: str
    surface: Surface = NO_SURFACE
    beam: bool = False
    free: tuple[str, ...] = ()


@dataclass(frozen=True)
class Loss:
    """What a fit makes least: weight of ΔE*ab, of the misfit by wavelength (over 0.2 + R, or plain), and the priors."""

    colour: float = 1.0
    spectral: float = 2.0
    relative: bool = True
    scale: float = 6.0
    smooth: float = 5e-5
    middling: float = 1e-5


@dataclass(frozen=True)
class Washes:
    """Fitted optics: ln K and ln S per mL, shape (2, 13, 41), the free knobs' values, and the paper they lie on."""

    form: Form
    paper: Floats
    log_ks: Floats
    knobs: Floats

    def knob(self, name: str) -> float:
        """Return a knob's value, neutral when it isn't free."""
        return float(self.knobs[self.form.free.index(name)]) if name in self.form.free else KNOBS[name][0]


def film_over_ground(A: Floats, B: Floats, ground: Floats) -> tuple[Floats, Floats, Floats, Floats]:
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
    absorbing, scattering = _amounts(washes, millilitres)
    return _read(washes, absorbing @ K, scattering @ S)[0]


def _amounts(washes: Washes, millilitres: Floats) -> tuple[Floats, Floats]:
    """Return the volumes as they absorb and as they scatter, each (n, 13)."""
    share = millilitres / MIDDLE_ML
    acting = np.where(share > 0, np.maximum(share, 1e-12) ** washes.knob("power"), 0.0) * MIDDLE_ML
    total = share.sum(axis=1, keepdims=True)
    acting = acting * total ** (washes.knob("total_power") - 1)
    return acting, acting * total ** washes.knob("crowding")


def _read(washes: Washes, A: Floats, B: Floats) -> tuple[Floats, Floats, Floats]:
    """Return what is read of films of some A = K·X and B = S·X, (n, 41), and its slopes per A and B."""
    form = washes.form
    surface = replace(form.surface, beam_back=washes.knob("beam_back"))
    bare = internal(washes.paper, surface)
    spread = washes.knob("spread")
    nodes = [(1.0, 1.0)]
    if spread:
        sigma = np.sqrt(np.log1p(spread**2))
        weight = _NORMAL_WEIGHT / _NORMAL_WEIGHT.sum()
        nodes = list(zip(np.exp(sigma * _NORMAL_AT - sigma**2 / 2), weight, strict=True))
    total = [np.zeros_like(A) for _ in range(3)]
    for thick, weight in nodes:
        if form.beam:
            found = film_reading_slopes(A * thick, B * thick, np.float64(1.0), bare, surface)
        else:
            found = _diffuse_reading_slopes(A * thick, B * thick, bare, surface, washes.knob("penetration") / thick)
        for into, part, factor in zip(total, found, (1.0, thick, thick), strict=True):
            into += weight * factor * part
    return total[0], total[1], total[2]


def _diffuse_reading_slopes(
    A: Floats, B: Floats, bare: Floats, surface: Surface, sunk: float
) -> tuple[Floats, Floats, Floats]:
    """Return what is read of films lit diffusely, over paper that took in `sunk` of their paint, and its slopes."""
    ground, per_A_below = bare, np.zeros_like(A)
    if sunk:
        q = (1 - bare) ** 2 / (2 * bare) + sunk * A
        root = np.sqrt(q * (q + 2))
        ground = 1 / (1 + q + root)
        per_A_below = -sunk * ground / root
    inner, per_A, per_B, per_ground = film_over_ground(A, B, ground)
    out = (1 - surface.k1) * (1 - surface.k2) / (1 - surface.k2 * inner) ** 2
    return measured(inner, surface), out * (per_A + per_ground * per_A_below), out * per_B


def _lab_slope(reflectance: Floats) -> Floats:
    """Return dLab/dR, shape (n, 3, 41), of ISO/CIE 11664-4 under D65, 2°."""
    table = tristimulus_weights()
    white = table.sum(axis=0)
    ratio, knee = reflectance @ table / white, (6 / 29) ** 3
    slope = np.where(ratio > knee, 1 / (3 * np.cbrt(np.maximum(ratio, knee)) ** 2), 1 / (3 * (6 / 29) ** 2)) / white
    x, y, z = (slope[:, i, None] * table[:, i] for i in range(3))
    return np.stack([116 * y, 500 * (x - y), 200 * (y - z)], axis=1)


class _Fit:
    """One least squares: its samples, loss and priors; cost and normal equations at some optics."""

    def __init__(self, samples: Samples, loss: Loss, form: Form):
        self.samples, self.loss, self.form = samples, loss, form
        self.weight = samples.rows / samples.rows.mean()
        self.lab = lab(samples.reflectance)
        floor = 0.2 + np.maximum(samples.reflectance, 0)
        self.per_band = loss.spectral / floor if loss.relative else np.full_like(floor, loss.spectral)
        bend = np.diff(np.eye(41), 2, axis=0)
        self.bend = loss.smooth * self.weight.sum() * bend.T @ bend
        self.middling = loss.middling * self.weight.sum()
        self.neutral = np.array([KNOBS[name][0] for name in form.free])
        self.certain = np.array([KNOBS[name][3] for name in form.free]) ** -2.0

    def cost(self, washes: Washes) -> float:
        R = predict(washes, self.samples.millilitres)
        off = ((lab(R) - self.lab) ** 2).sum(axis=1)
        bands = (self.per_band * (R - self.samples.reflectance)) ** 2
        total = self.loss.colour * (self.weight * self._huber(off)).sum()
        total += (self.weight[:, None] * self._huber(bands)).sum()
        total += np.einsum("aik,kl,ail->", washes.log_ks, self.bend, washes.log_ks)
        total += self.middling * ((washes.log_ks - _PRIOR[:, None, None]) ** 2).sum()
        return float(total + (self.certain * (washes.knobs - self.neutral) ** 2).sum())

    def _huber(self, square: Floats) -> Floats:
        rho = self.loss.scale**2
        return 2 * rho * (np.sqrt(1 + square / rho) - 1)

    def equations(self, washes: Washes) -> tuple[Floats, Floats]:
        """Return the Gauss-Newton matrix and slope over ln K, ln S (pigment by pigment) and the knobs."""
        n, tints, bands = len(self.weight), *washes.log_ks.shape[1:]
        K, S = np.exp(washes.log_ks)
        absorbing, scattering = _amounts(washes, self.samples.millilitres)
        R, per_A, per_B = _read(washes, absorbing @ K, scattering @ S)
        slope = np.concatenate(
            [per_A[:, None] * absorbing[:, :, None] * K, per_B[:, None] * scattering[:, :, None] * S], axis=1
        )  # (n, 2·tints, bands)
        knobs = self._knob_slopes(washes)
        size = 2 * tints * bands

        off = lab(R) - self.lab
        to_lab = _lab_slope(R)
        trust = self.loss.colour * self.weight / np.sqrt(1 + (off**2).sum(axis=1) / self.loss.scale**2)
        rows = np.concatenate(
            [
                (to_lab[:, :, None] * slope[:, None]).reshape(3 * n, size),
                np.matmul(to_lab, knobs).reshape(3 * n, -1),
            ],
            axis=1,
        )
        weighted = rows * np.repeat(trust, 3)[:, None]
        matrix, right = weighted.T @ rows, weighted.T @ off.ravel()

        miss = R - self.samples.reflectance
        square = self.per_band**2
        trust = self.weight[:, None] * square / np.sqrt(1 + square * miss**2 / self.loss.scale**2)
        for band in range(bands):
            columns = np.concatenate([slope[:, :, band], knobs[:, band]], axis=1)
            at = np.concatenate([np.arange(2 * tints) * bands + band, size + np.arange(knobs.shape[2])])
            weighted = columns * trust[:, band, None]
            matrix[np.ix_(at, at)] += weighted.T @ columns
            right[at] += weighted.T @ miss[:, band]

        for start in range(0, size, bands):
            matrix[start : start + bands, start : start + bands] += self.bend
        diagonal = matrix.ravel()[:: len(matrix) + 1]
        diagonal[:size] += self.middling
        diagonal[size:] += self.certain
        right[:size] += (washes.log_ks @ self.bend + self.middling * (washes.log_ks - _PRIOR[:, None, None])).ravel()
        right[size:] += self.certain * (washes.knobs - self.neutral)
        return matrix, right

    def _knob_slopes(self, washes: Washes) -> Floats:
        """Return dR/d(knob), shape (n, 41, knobs), by central differences."""
        found = np.zeros((*self.samples.reflectance.shape, len(washes.knobs)))
        for at in range(len(washes.knobs)):
            step = np.zeros(len(washes.knobs))
            step[at] = 1e-4
            up, down = (replace(washes, knobs=washes.knobs + s) for s in (step, -step))
            found[:, :, at] = (predict(up, self.samples.millilitres) - predict(down, self.samples.millilitres)) / 2e-4
        return found


def fit(samples: Samples, paper: Floats, form: Form, loss: Loss | None = None, rounds: int = 60) -> Washes:
    """Fit K and S of every pigment, and the form's free knobs, on painted swatches.

    Parameters
    ----------
    samples : Samples
    paper : ndarray, shape (41,)
        Reading of the bare paper.
    form : Form
    loss : Loss, optional
    rounds : int
        Bound on the steps; a fit rests after 10 to 30.

    Returns
    -------
    Washes
    """
    problem = _Fit(samples, loss or Loss(), form)
    shape = (2, samples.millilitres.shape[1], samples.reflectance.shape[1])
    knobs = np.array([START.get(name, KNOBS[name][0]) for name in form.free])
    least, most = (np.array([KNOBS[name][i] for name in form.free]) for i in (1, 2))
    washes = Washes(form, paper, np.broadcast_to(_PRIOR[:, None, None], shape).copy(), knobs)
    cost, damping = problem.cost(washes), 1e-2
    for _ in range(rounds):
        matrix, right = problem.equations(washes)
        scale = np.diag(np.diag(matrix) + 1e-9)
        before = cost
        for _ in range(14):
            step = np.linalg.solve(matrix + damping * scale, -right)
            moved = np.clip(step[: washes.log_ks.size], -1.5, 1.5).reshape(shape)
            tried = replace(
                washes,
                log_ks=washes.log_ks + moved,
                knobs=np.clip(washes.knobs + np.clip(step[washes.log_ks.size :], -0.3, 0.3), least, most),
            )
            found = problem.cost(tried)
            if found < cost:
                washes, cost, damping = tried, found, max(damping / 4, 1e-8)
                break
            damping *= 5
        if before - cost < 1e-6 * before:
            break
    return washes
