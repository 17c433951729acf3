"""The correction that serves, the one that reads the colours left out best; and how far a colour read by it may be off.

u95 is the half-width in ΔE00 that holds the truth 95 times in 100.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, de00_metric, xyz_to_lab
from finishmatch.photo.correct.capture import CHROMA, TINT, Known, Priors
from finishmatch.photo.correct.colour_fit import ColourFit, Plan, fit_colours
from finishmatch.photo.correct.paints import PaintDoubt, PaintFit, fit_paints, paint_doubt
from finishmatch.photo.correct.plain_camera import fit_plain_camera
from finishmatch.photo.find.spot import Spot

RIDGE = 1e-2
# How much livelier a camera may have made its colours, as a logarithm («chosen»). The polynomials need no such number,
# and a sensor's own values have none.
# Patches must tell it to so much, or what is small about the response decides it: they do to 0.01 to 0.03 where a
# camera's tones were laid on before, and to 0.065 and more where sensors that are much alike were spread by a matrix.
CHROMA_FREE, CHROMA_TOLD = 0.1, 0.05
TONE_KNOWN, TONE_GUESSED = 0.06, 0.3  # how far the curve may be off when the file holds it, and when it doesn't
# The paints are judged on patches that aren't paints: what they miss counts this much less, as long as the file's
# values are what a plain camera makes of the chart's spectra (off by so much, relative, when left out).
FOR_PAINTS, PLAIN_TO = 0.75, 0.06
# A light that bends more, and is of another colour at one side than at the other (a window and a wall, sun and sky), is
# taken where it reads the patches left out better: elsewhere the differences of samples would lose by it.
BEND_FREE, TINT_FREE, FREER = 0.5, 0.1, 0.99
MISFIT = 4.0  # ΔE00²: what a plain correction leaves; noise counts beside it
SIMPLER = 0.97  # what has more terms must do this much better than a plain matrix
ODD_DE00, ODD_GAIN = 5.0, 0.15  # from where a patch is taken for a dirty one
_WORST = 8.0  # ΔE00: one patch that is dirty must not decide
# From a root mean square in three axes to what holds 95 in 100. Were the errors normal and alike in the three, 1.61;
# in one axis alone, 1.96 («measured on rendered pictures», benchmarks/test_photo_accuracy.py).
COVER = 1.9
NEAR_LAB = 22.0  # known colours this far away count half as much for the error at a colour
PRIOR_COLOURS = 3.0  # the error over the whole chart counts as much as this many near colours
OUTSIDE_GROWTH = 22.0  # Lab units beyond the chart's colours at which the error has doubled
# Fields of a print left out, ΔE00, to what paints are off by then: alone, and beside what a print leaves open of paints
# («measured on rendered pictures», benchmarks/test_print_accuracy.py).
INKS_FOR_PAINTS, BESIDE_DOUBT = 1.35, 0.45
SAME_PAINT_LAB = 16.0  # within this two colours share most of the error of the correction
FLOOR = 0.12  # ΔE00: what a file of 8 bits and a lens leave open


@dataclass(frozen=True)
class Correction:
    """What turns camera values into colour: one fit, or the mean of several.

    Parameters
    ----------
    name : str
    parts : tuple of ColourFit or PaintFit
    base : ColourFit or PaintFit
        The fit whose tone, flare and light are shown, and whose slopes carry the uncertainty.
    plain : ColourFit
        A fit by polynomials alone.
    residuals, left_out : ndarray, shape (n,)
        ΔE00 of the known colours as fitted, and read when left out.
    inks : bool
        Whether the known colours are a print, which says less of paints than its fields left out suggest.
    doubt : PaintDoubt or None
        What a print leaves open of paints, where it is corrected by paints.
    paints : PaintFit or None
        The fit by paints, whether it serves or another does; None where no spectra are known.
    """

    name: str
    parts: tuple[ColourFit | PaintFit, ...]
    base: ColourFit | PaintFit
    plain: ColourFit
    residuals: Floats
    left_out: Floats
    inks: bool = False
    doubt: PaintDoubt | None = None
    paints: PaintFit | None = None

    def lab(self, linear: Floats, places: Floats) -> Floats:
        """Return CIELAB, shape (n, 3), of camera values, shape (n, 3), at places, shape (n, 2)."""
        return np.asarray(np.mean([part.lab(linear, places) for part in self.parts], axis=0))


def _correction(
    name: str, parts: Sequence[ColourFit | PaintFit], plain: ColourFit, base: PaintFit | None = None
) -> Correction:
    residuals, misses = (
        np.linalg.norm(np.mean([getattr(part, what) for part in parts], axis=0), axis=1)
        for what in ("residuals", "misses")
    )
    return Correction(name, tuple(parts), base or plain, plain, residuals, misses)


def score(left_out: Floats) -> float:
    """Return how well what was left out is read, ΔE00: the mean, bounded for each colour."""
    return float(np.mean(np.minimum(left_out, _WORST)))


def choose_correction(
    curves: Sequence[tuple[Known, bool]], spectra: Floats | None, light: str, observer: int, inks: bool = False
) -> tuple[Correction, int]:
    """Return the best correction, and with which of the curves it goes.

    Parameters
    ----------
    curves : sequence of (Known, bool)
        The known colours by each curve that may be the file's, and whether the tone may be only a little off it.
    spectra : ndarray, shape (n, 31), or None
        Of the known colours.
    light, observer
        For which the colours are given.
    inks : bool
        Whether the known colours are a print. Mixtures of the same inks are predicted well by any correction, so being
        left out judges none: the paints serve wherever there is a plain camera, and otherwise the plain matrix.

    Returns
    -------
    correction : Correction
    which : int
        Index into `curves`.
    """
    found = [(_by_polynomials(known, tone_priors(trusted)), which) for which, (known, trusted) in enumerate(curves)]
    fits, which = min(found, key=lambda one: min(score(fit.left_out) for fit in one[0]))
    if inks:
        return _by_inks(fits[0], curves[which], spectra, light, observer), which
    known, trusted = curves[which]
    best = _best(known, spectra, light, observer, fits, tone_priors(trusted))
    if known.paper is not None:  # it shows how the light falls
        return best, which
    freer = replace(tone_priors(trusted), bend=BEND_FREE, tint=TINT_FREE)
    other = _best(known, spectra, light, observer, _by_polynomials(known, freer), freer)
    return (other if score(other.left_out) < FREER * score(best.left_out) else best), which


def _best(
    known: Known, spectra: Floats | None, light: str, observer: int, fits: Sequence[Correction], priors: Priors
) -> Correction:
    """Return the best of fits by polynomials, and of those with paints where there are spectra."""
    best = fits[0]
    for fit in fits[1:]:
        if score(fit.left_out) < SIMPLER * score(best.left_out):
            best = fit
    if spectra is None:
        return best
    paints = _by_paints(known, spectra, light, observer, priors)
    polynomials = [part for fit in fits[1:3] for part in fit.parts]
    mixed = _correction("root polynomials and paints", [*polynomials, paints], best.plain)
    if score(mixed.left_out) < SIMPLER * score(best.left_out):
        best = mixed
    alone = _correction("paints", [paints], best.plain, paints)
    less = FOR_PAINTS if paints.camera.misfit < PLAIN_TO else 1.0
    return replace(alone if less * score(alone.left_out) < score(best.left_out) else best, paints=paints)


def _by_paints(known: Known, spectra: Floats, light: str, observer: int, priors: Priors) -> PaintFit:
    """Return the correction by paints; colours that were made livelier are undone where patches tell by how much."""
    if not known.raw:
        free = replace(priors, chroma=CHROMA_FREE)
        camera = fit_plain_camera(known, spectra, free)
        if camera.covariance[CHROMA, CHROMA] < CHROMA_TOLD**2:
            return fit_paints(known, spectra, light, observer, free)
    return fit_paints(known, spectra, light, observer, priors)


def _by_inks(
    matrix: Correction, curve: tuple[Known, bool], spectra: Floats | None, light: str, observer: int
) -> Correction:
    if spectra is not None:
        paints = fit_paints(curve[0], spectra, light, observer, tone_priors(curve[1]), inks=True)
        if paints.camera.misfit < PLAIN_TO:
            alone = _correction("paints", [paints], matrix.plain, paints)
            return replace(alone, inks=True, doubt=paint_doubt(paints, light, observer), paints=paints)
    return replace(matrix, inks=True)


def untinted(fit: Correction) -> Correction:
    """Return a correction as if the light were of one colour all over, so that what it isn't can be seen."""
    return replace(fit, parts=tuple(_untinted(part) for part in fit.parts))


def _untinted(part: ColourFit | PaintFit) -> ColourFit | PaintFit:
    numbers = part.numbers.copy()
    numbers[TINT] = 0
    if isinstance(part, PaintFit):
        return replace(part, camera=replace(part.camera, numbers=numbers))
    return replace(part, numbers=numbers)


def with_noise(known: Known, noise: Floats) -> Known:
    """Return known colours with the noise of their camera values, and less weight where that counts.

    Parameters
    ----------
    known : Known
    noise : ndarray, shape (n, 3, 3)
        Covariance of the camera values.
    """
    fit = fit_colours(known, Plan(1, 0.0, Priors(tone=TONE_KNOWN)))
    _, by_camera = fit.slopes(known.linear, known.places)
    in_de00 = de00_metric(xyz_to_lab(known.xyz, known.white)) @ by_camera
    variance = np.einsum("nij,njk,nik->n", in_de00, noise, in_de00)
    return replace(known, weights=known.weights / (1 + variance / MISFIT), noise=noise)


def tone_priors(trusted: bool) -> Priors:
    """Return what is believed of a capture: its tone nearly known where the file's curve is, or only guessed."""
    return Priors(tone=TONE_KNOWN if trusted else TONE_GUESSED)


def _by_polynomials(known: Known, priors: Priors) -> list[Correction]:
    """Return a plain matrix, root polynomials of degree 2 and 3, and the mean of the two."""
    plain = fit_colours(known, Plan(1, 0.0, priors))
    second, third = (fit_colours(known, Plan(degree, RIDGE, priors), plain) for degree in (2, 3))
    return [
        _correction("matrix", [plain], plain),
        _correction("root polynomial of degree 2", [second], second),
        _correction("root polynomial of degree 3", [third], third),
        _correction("root polynomials of degree 2 and 3", [second, third], second),
    ]


def odd_patches(correction: Correction, known: Known) -> list[tuple[int, float]]:
    """Return colours that don't fit, worst first: index, and what it is off by when left out, ΔE00."""
    off = np.linalg.norm(correction.plain.misses, axis=1)
    far = [int(i) for i in np.argsort(-off) if off[i] > max(ODD_DE00, 3.5 * float(np.median(off)))]
    found = []
    for i in far[:2]:
        plan, others = correction.plain.plan, known.without([i])
        start = fit_colours(others, Plan(1, 0.0, plan.priors))
        refit = start if plan.degree == 1 else fit_colours(others, plan, start)
        before = float(np.sqrt(np.mean(np.delete(off, i) ** 2)))
        gain = 1 - float(np.sqrt((refit.misses**2).sum() / len(refit.misses))) / before
        truth = xyz_to_lab(known.xyz[i], known.white)
        now = float(de00(truth, refit.lab(known.linear[i : i + 1], known.places[i : i + 1])[0]))
        if now > ODD_DE00 and (gain > ODD_GAIN or now > 1.4 * ODD_DE00):
            found.append((i, now))
    return found


@dataclass(frozen=True)
class Certainty:
    """What goes into the u95 of one colour, each a root mean square in ΔE00."""

    correction: float
    light: float
    sample: float
    outside: float
    u95: float


def typical_openness(fit: Correction, known: Known) -> float:
    """Return what the fit leaves open of the colours it was made on, ΔE00², the median."""
    slopes, _ = fit.base.slopes(known.linear, known.places)
    metric = de00_metric(xyz_to_lab(known.xyz, known.white))
    in_de00 = metric @ slopes
    return float(np.median(np.einsum("nij,jk,nik->n", in_de00, fit.base.covariance, in_de00, optimize=True)))


def certainty(fit: Correction, known: Known, spot: Spot, typical: float) -> Certainty:
    """Return how far the colour of a spot may be off.

    Parameters
    ----------
    fit : Correction
    known : Known
        What it was fitted on.
    spot : Spot
    typical : float
        By `typical_openness`.

    Returns
    -------
    Certainty
        `correction` is the chart's leave-one-out error near that colour, more so where the colour lies outside the
        chart's, and of a print what it leaves open of paints; `light` what the fit itself leaves open at that place
        and colour beyond that; `sample` by the spread of the spot.
    """
    linear, place = spot.linear[None], spot.place[None]
    lab = fit.lab(linear, place)[0]
    metric = de00_metric(lab[None])[0]
    chart = xyz_to_lab(known.xyz, known.white)
    near = np.exp(-((chart - lab) ** 2).sum(axis=1) / (2 * NEAR_LAB**2)) * known.weights
    squared = np.minimum(fit.left_out, 12.0) ** 2
    overall = float((known.weights * squared).sum() / known.weights.sum())
    local = float(((near * squared).sum() + PRIOR_COLOURS * overall) / (near.sum() + PRIOR_COLOURS))
    outside = distance_outside(lab, chart)
    correction = np.sqrt(local) * (1 + outside / OUTSIDE_GROWTH)
    if fit.inks:
        correction *= INKS_FOR_PAINTS if fit.doubt is None else BESIDE_DOUBT
    if fit.doubt is not None:
        correction = np.hypot(correction, np.sqrt(fit.doubt.squared(spot.linear, spot.place)))
    slopes, by_camera = fit.base.slopes(linear, place)
    open_here = _squared(metric @ slopes[0], fit.base.covariance)
    light = np.sqrt(max(open_here - typical, 0.0))
    spread = np.sqrt(_squared(metric @ by_camera[0], spot.spread))
    total = np.sqrt(correction**2 + light**2 + spread**2 + FLOOR**2)
    return Certainty(float(correction), float(light), float(spread), outside, float(COVER * total))


def _squared(slopes: Floats, covariance: Floats) -> float:
    return float(((slopes @ covariance) * slopes).sum())


def distance_outside(point: Floats, cloud: Floats, steps: int = 60) -> float:
    """Return how far a point lies outside the convex hull of others; 0 inside.

    References
    ----------
    Gilbert's algorithm (Frank-Wolfe on the nearest point of a hull), SIAM J. Control 4 (1966) 61.
    """
    at = cloud[((cloud - point) ** 2).sum(axis=1).argmin()]
    for _ in range(steps):
        towards = cloud[((cloud - point) @ (at - point)).argmin()]
        step = towards - at
        length = float(step @ step)
        gain = float((point - at) @ step)
        if length <= 1e-12 or gain <= 1e-6 * length:
            break
        at = at + min(gain / length, 1.0) * step
    distance = float(np.linalg.norm(at - point))
    return distance if distance > 0.5 else 0.0
