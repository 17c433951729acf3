"""A plain camera: what it makes of each wavelength, and what its lens and file did, found together from a chart.

Values of known spectra are their spectra times the camera's response, in the light there was, with stray light and a
tone laid on. Of the response it is only taken that it is small and even from one wavelength to the next; so it needn't
be solved for: what it leaves open counts as noise that the patches share (a Gaussian process), and the few numbers of
`capture` are fitted by least squares within it. A file that a camera has much worked on isn't explained so; it
shows in how far the patches left out are missed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats, weights
from finishmatch.photo.correct.capture import SIZE, Known, Priors, undo, undo_raised, undo_slopes
from finishmatch.photo.correct.least_squares import damped_least_squares

# tuned on rendered pictures of other paints than those of the benchmarks
REACH_NM = 38.0  # how far along the response is alike
DEVIATION = 2.0  # how large it is, of an even one that sums to 1
# A print's four inks leave most of a response open: it is taken for a mixture of what the eye makes of the wavelengths
# in daylight and under a lamp, each up to so large, but for what it deviates by; at both ends it fades («common
# practice»: sensors behind filters that cut off ultraviolet and infrared).
EYE_LIGHTS, EYE_DEVIATION = ("D65", "A"), 1.0
EYE_REACH_NM, OFF_THE_EYE = 25.0, 1.0
FROM_NM, TO_NM, FADES_NM, LEAST_LEFT = 405.0, 690.0, (6.0, 8.0), 0.05
GRID_NM = 10.0
RELATIVE, LEAST_NOISE = 0.01, 4e-4  # what a value may be off by beside its own noise: of it, and of full scale
FAR = 2.5  # deviations from where a patch counts as odd: its noise is then taken by the square of the rest larger
PASSES = 2  # the second with odd patches counting less
ITERATIONS, TRIES = 15, 6
_DARK = 0.01


@dataclass(frozen=True)
class PlainCamera:
    """What was found of a camera and a picture.

    Parameters
    ----------
    numbers : ndarray, shape (SIZE,)
        Tone, flare, light: see `capture`.
    covariance : ndarray, shape (SIZE, SIZE)
        Of the numbers.
    response : ndarray, shape (31, 3)
        What the camera makes of each wavelength in this light.
    values : ndarray, shape (n, 3)
        The known colours' camera values with the numbers undone.
    misses : ndarray, shape (n, 3)
        By what these are off when each is predicted by the others.
    left_open : ndarray, shape (3, 31, 31)
        Covariance of the response, as far as the known colours leave it open.
    """

    numbers: Floats
    covariance: Floats
    response: Floats
    values: Floats
    misses: Floats
    left_open: Floats

    @property
    def misfit(self) -> float:
        """How far the values of colours left out are off, root mean square, relative to the value."""
        size = np.maximum(self.values.mean(axis=1), _DARK)[:, None]
        return float(np.sqrt(np.mean((self.misses / size) ** 2)))


def fit_plain_camera(known: Known, spectra: Floats, priors: Priors, inks: bool = False) -> PlainCamera:
    """Return the plain camera that explains known colours best.

    Parameters
    ----------
    known : Known
        With the noise of its values.
    spectra : ndarray, shape (n, 31)
        Of the known colours.
    priors : Priors
        What is known of the capture beforehand.
    inks : bool
        Whether the known colours are a print: then the response is taken for one that is much like the eye's.

    References
    ----------
    Rasmussen and Williams, Gaussian Processes for Machine Learning (2006), 2.7 and 5.4.2: basis functions with a prior
    beside the process, and leaving out in closed form.
    """
    problem = _Problem(known, spectra, priors, _like_the_eye() if inks else _evenness(spectra.shape[1]))
    numbers = np.zeros(SIZE)
    looser = np.ones(len(spectra))
    for _ in range(PASSES):
        problem.weigh(looser)
        numbers = problem.solve(numbers)
        misses, deviations = problem.left_out(numbers)
        looser = _looser(misses, deviations)
    return problem.found(numbers, misses, deviations)


def told_of_changes(
    known: Known, spectra: Floats, priors: Priors, camera: PlainCamera, changes: Floats
) -> tuple[Floats, Floats]:
    """Return what known colours tell of amounts by which something changed their values, beside the camera's numbers.

    Parameters
    ----------
    known : Known
        As they read with the change in them.
    spectra : ndarray, shape (n, 31)
    priors : Priors
    camera : PlainCamera
        As it was found so.
    changes : ndarray, shape (n, 3, m)
        By how much taking out an amount of each kind would change a value by the file's curve.

    Returns
    -------
    normal : ndarray, shape (m, m)
    pull : ndarray, shape (m,)
        Of amounts a, a' normal a − 2 pull' a is by how much the sum of squares grows (to first order), the numbers
        being solved for and the response left open.
    """
    problem = _Problem(known, spectra, priors, _evenness(spectra.shape[1]))
    looser = np.ones(len(spectra))
    for _ in range(PASSES):
        problem.weigh(looser)
        misses, deviations = problem.left_out(camera.numbers)
        looser = _looser(misses, deviations)
    scaled = camera.numbers / problem.deviations
    values, slopes = problem.slopes(scaled)
    step = 1e-4 * np.maximum(known.linear, _DARK)
    growth = (undo_raised(camera.numbers, known.linear, known.places, step) - values) / step.T[:, :, None]
    changed = np.einsum("cnk,ncm->nkm", growth, changes)
    rows = np.vstack([one @ changed[:, k] for k, one in enumerate(problem.inverses)])
    of_numbers = np.vstack([one @ slopes[:, k] for k, one in enumerate(problem.inverses)])
    normal, gradient = problem.normal(scaled)
    residuals = np.concatenate([one @ values[:, k] for k, one in enumerate(problem.inverses)])
    across = of_numbers.T @ rows
    solved = np.linalg.solve(normal, np.column_stack([across, gradient]))
    scatter = _scatter(misses, deviations)
    left = rows.T @ rows - across.T @ solved[:, :-1]
    return left / scatter, -(rows.T @ residuals - across.T @ solved[:, -1]) / scatter


def _looser(misses: Floats, deviations: Floats) -> Floats:
    """Return by how much larger the noise of each colour is taken, as a variance: odd ones count less."""
    odd = np.sqrt((misses**2 / deviations**2).mean(axis=1))
    return np.asarray(np.maximum(odd / FAR, 1.0) ** 4)


def _scatter(misses: Floats, deviations: Floats) -> float:
    """Return what colours left out scatter by, as a variance, of what was taken: it shows how sure the fit is."""
    return max(float(np.mean(np.minimum(misses**2 / deviations**2, FAR**2))), 0.02)


def _evenness(bands: int) -> Floats:
    apart = GRID_NM * (np.arange(bands)[:, None] - np.arange(bands))
    return np.asarray((DEVIATION / bands) ** 2 * np.exp(-0.5 * (apart / REACH_NM) ** 2))


def _like_the_eye() -> Floats:
    """Return the covariance of a response that is much like the eye's, shape (31, 31)."""
    eye = np.hstack([weights(light, 10) for light in EYE_LIGHTS])
    eye = EYE_DEVIATION * eye / eye.sum(axis=0)
    begins, ends = FADES_NM
    left = 1 / (1 + np.exp((FROM_NM - WAVELENGTHS_NM) / begins)) / (1 + np.exp((WAVELENGTHS_NM - TO_NM) / ends))
    left = OFF_THE_EYE / len(eye) * np.maximum(left, LEAST_LEFT)
    apart = WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM
    return np.asarray(eye @ eye.T + np.outer(left, left) * np.exp(-0.5 * (apart / EYE_REACH_NM) ** 2))


class _Problem:
    """The least squares of the numbers of the capture, each scaled by its deviation, within the process."""

    def __init__(self, known: Known, spectra: Floats, priors: Priors, response: Floats) -> None:
        self.known = known
        self.deviations = priors.deviations()
        self.response = response
        self.spread = response @ spectra.T
        self.shared = spectra @ self.spread
        relative = RELATIVE * np.maximum(known.linear.mean(axis=1), 0)[:, None]
        self.noise = relative**2 + LEAST_NOISE**2 + known.variances()

    def weigh(self, looser: Floats) -> None:
        """Take the noise of each colour by so much larger, as a variance, shape (n,)."""
        self.inverses = [
            np.linalg.inv(np.linalg.cholesky(self.shared + np.diag(self.noise[:, k] * looser))) for k in range(3)
        ]

    def undone(self, scaled: Floats) -> Floats:
        return undo(scaled * self.deviations, self.known.linear, self.known.places)

    def residuals(self, scaled: Floats, values: Floats) -> Floats:
        """Return what is to be made small, of the numbers and of the camera values that they undo."""
        paper = self.known.paper
        of_paper = np.zeros(0) if paper is None else paper.unevenness(scaled * self.deviations)
        return np.concatenate([*(self.inverses[k] @ values[:, k] for k in range(3)), scaled, of_paper])

    def prior_slopes(self, scaled: Floats) -> Floats:
        """Return how what is known beside the colours moves with the numbers, shape (n, SIZE): priors, and paper."""
        own, paper = np.eye(SIZE), self.known.paper
        if paper is None:
            return own
        return np.vstack([own, paper.slopes(scaled * self.deviations, self.deviations) * self.deviations])

    def prior(self, scaled: Floats) -> tuple[Floats, Floats]:
        """Return the mean and covariance of the numbers by what is known beside the colours, about where they stand."""
        paper = self.known.paper
        if paper is None:
            return np.zeros(SIZE), np.eye(SIZE)
        slopes = self.prior_slopes(scaled)[SIZE:]
        spread = np.linalg.inv(np.eye(SIZE) + slopes.T @ slopes)
        of_paper = slopes @ scaled - paper.unevenness(scaled * self.deviations)
        return np.asarray(spread @ slopes.T @ of_paper), np.asarray(spread)

    def slopes(self, scaled: Floats) -> tuple[Floats, Floats]:
        """Return the values undone, shape (n, 3), and how they move with the numbers, shape (n, 3, SIZE)."""
        step = 1e-4
        steps = step * self.deviations
        at, moved = undo_slopes(scaled * self.deviations, self.known.linear, self.known.places, steps)
        return at, np.asarray(np.moveaxis(moved - at, 0, -1) / step)

    def cost(self, scaled: Floats) -> float:
        residuals = self.residuals(scaled, self.undone(scaled))
        return float(residuals @ residuals)

    def normal(self, scaled: Floats) -> tuple[Floats, Floats]:
        values, slopes = self.slopes(scaled)
        rows = np.vstack([*(self.inverses[k] @ slopes[:, k] for k in range(3)), self.prior_slopes(scaled)])
        return rows.T @ rows, rows.T @ self.residuals(scaled, values)

    def solve(self, numbers: Floats) -> Floats:
        """Return the numbers, shape (SIZE,), found by damped least squares from where they stand."""
        first = numbers / self.deviations
        scaled = damped_least_squares(self, first, iterations=ITERATIONS, tries=TRIES, settled=1e-5)
        return np.asarray(scaled * self.deviations)

    def left_out(self, numbers: Floats) -> tuple[Floats, Floats]:
        """Return by what each value is off when predicted by the other colours, and the deviation of that, (n, 3)."""
        scaled = numbers / self.deviations
        undone, slopes = self.slopes(scaled)
        count = len(undone)
        # the values about where the numbers stand, the numbers being open too: one process of all three channels
        middle, spread = self.prior(scaled)
        values = (undone - slopes @ (scaled - middle)).T.ravel()
        stacked = slopes.transpose(1, 0, 2).reshape(3 * count, SIZE)
        whole = stacked @ spread @ stacked.T
        for k, inverse in enumerate(self.inverses):
            rows = slice(k * count, (k + 1) * count)
            own = np.linalg.inv(inverse)
            whole[rows, rows] += own @ own.T
        precision = np.linalg.inv(whole)
        pulled = precision @ values
        covariances = np.linalg.inv(np.einsum("kili->ikl", precision.reshape(3, count, 3, count)))
        misses = np.matmul(covariances, pulled.reshape(3, count).T[..., None])[..., 0]
        return misses, np.sqrt(np.einsum("ikk->ik", covariances))

    def found(self, numbers: Floats, misses: Floats, deviations: Floats) -> PlainCamera:
        scaled = numbers / self.deviations
        values, slopes = self.slopes(scaled)
        rows = np.vstack([self.inverses[k] @ slopes[:, k] for k in range(3)])
        scatter = _scatter(misses, deviations)
        beside = self.prior_slopes(scaled)
        precision = rows.T @ rows / scatter + beside.T @ beside
        covariance = np.linalg.inv(precision) * np.outer(self.deviations, self.deviations)
        response = np.stack(
            [self.spread @ (inverse.T @ (inverse @ values[:, k])) for k, inverse in enumerate(self.inverses)], axis=1
        )
        known = [self.spread @ inverse.T for inverse in self.inverses]
        left_open = np.stack([self.response - one @ one.T for one in known])
        return PlainCamera(numbers, covariance, response, values, misses, left_open)
