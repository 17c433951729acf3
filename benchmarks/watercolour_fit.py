"""The fit of `watercolour`'s film on painted swatches.

K and S of every pigment at every wavelength (13 × 2 × 41) are the unknowns, with the form's free knobs; nothing is
learnt of any pair. Each swatch counts as often as it stands in the training list. What is least is the colour
difference ΔE*ab (D65, 2°) and the misfit at each wavelength over (0.2 + reflectance), both under a pseudo-Huber loss,
so that a mislabelled swatch pulls little. Weak priors: ln K and ln S are smooth in wavelength and near a middling
pigment's. Levenberg-Marquardt on all at once.

The weight of the misfit by wavelength matters. With little of it K and S bend until colours match in one light, and
stop being K and S: the spectra are off, and so is every other light, and every pair the fit has not seen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from benchmarks.watercolour import KNOBS, START, Form, Washes, amounts, predict, read
from benchmarks.watercolour_data import Floats, Samples, lab, tristimulus_weights

_MIDDLING = np.array([3.0, 1.0])  # ln K and ln S per mL of a middling pigment


@dataclass(frozen=True)
class Loss:
    """What a fit makes least: weight of ΔE*ab, of the misfit by wavelength (over 0.2 + R, or plain), and the priors."""

    colour: float = 1.0
    spectral: float = 20.0
    relative: bool = True
    scale: float = 6.0
    smooth: float = 5e-5
    middling: float = 1e-5


def _lab_slope(reflectance: Floats) -> Floats:
    """Return dLab/dR, shape (n, 3, 41), of ISO/CIE 11664-4 under D65, 2°."""
    table = tristimulus_weights()
    white = table.sum(axis=0)
    ratio, knee = reflectance @ table / white, (6 / 29) ** 3
    slope = np.where(ratio > knee, 1 / (3 * np.cbrt(np.maximum(ratio, knee)) ** 2), 1 / (3 * (6 / 29) ** 2)) / white
    x, y, z = (slope[:, i, None] * table[:, i] for i in range(3))
    return np.stack([116 * y, 500 * (x - y), 200 * (y - z)], axis=1)


REFLECTANCE_ALONE = Loss(colour=0.0, spectral=100.0, relative=False, scale=1e3)


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
        self.neutral = np.array([KNOBS[name][0] for name in form.knob_names])
        self.certain = np.array([KNOBS[name][3] for name in form.knob_names]) ** -2.0

    def cost(self, washes: Washes) -> float:
        R = predict(washes, self.samples.millilitres)
        off = ((lab(R) - self.lab) ** 2).sum(axis=1)
        bands = (self.per_band * (R - self.samples.reflectance)) ** 2
        total = self.loss.colour * (self.weight * self._huber(off)).sum()
        total += (self.weight[:, None] * self._huber(bands)).sum()
        total += np.einsum("aik,kl,ail->", washes.log_ks, self.bend, washes.log_ks)
        total += self.middling * ((washes.log_ks - _MIDDLING[:, None, None]) ** 2).sum()
        return float(total + (self.certain * (washes.knobs - self.neutral) ** 2).sum())

    def _huber(self, square: Floats) -> Floats:
        rho = self.loss.scale**2
        return 2 * rho * (np.sqrt(1 + square / rho) - 1)

    def equations(self, washes: Washes) -> tuple[Floats, Floats]:
        """Return the Gauss-Newton matrix and slope over ln K, ln S (pigment by pigment) and the knobs."""
        n, tints, bands = len(self.weight), *washes.log_ks.shape[1:]
        K, S = np.exp(washes.log_ks)
        absorbing, scattering = amounts(washes, self.samples.millilitres)
        R, per_A, per_B = read(washes, absorbing @ K, scattering @ S, self.samples.millilitres.sum(axis=1))
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
        root = np.sqrt(np.repeat(trust, 3))
        rows *= root[:, None]
        matrix, right = rows.T @ rows, rows.T @ (root * off.ravel())

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
        right[:size] += (washes.log_ks @ self.bend + self.middling * (washes.log_ks - _MIDDLING[:, None, None])).ravel()
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


def fit(samples: Samples, paper: Floats, form: Form, loss: Loss | None = None, rounds: int = 40) -> Washes:
    """Fit K and S of every pigment, and the form's free knobs, on painted swatches.

    Parameters
    ----------
    samples : Samples
    paper : ndarray, shape (41,)
        Reading of the bare paper.
    form : Form
    loss : Loss, optional
    rounds : int
        Bound on the steps; after 40 the score no longer moves.

    Returns
    -------
    Washes
    """
    problem = _Fit(samples, loss or Loss(), form)
    shape = (2, samples.millilitres.shape[1], samples.reflectance.shape[1])
    knobs = np.array([START.get(name, KNOBS[name][0]) for name in form.knob_names])
    least, most = (np.array([KNOBS[name][i] for name in form.knob_names]) for i in (1, 2))
    washes = Washes(form, paper, np.broadcast_to(_MIDDLING[:, None, None], shape).copy(), knobs)
    cost, damping = problem.cost(washes), 1e-2
    for _ in range(rounds):
        matrix, right = problem.equations(washes)
        scale = np.diag(np.diag(matrix) + 1e-9)
        before = cost
        for _ in range(14):
            step = cho_solve(cho_factor(matrix + damping * scale, overwrite_a=True, check_finite=False), -right)
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
