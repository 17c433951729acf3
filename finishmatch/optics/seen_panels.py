"""Panels of which only a colour is known: what their CIELAB says of K and S, and what some of them are off by together.

A camera or an eye sees a panel without its gloss. Its colour is three sums over the wavelengths, so it couples them: in
the curvature each of the three stands as an unknown of its own in the border, with -1 on its diagonal, whose
elimination gives back what the colour says (the field's matrix stays banded). What a picture is off by as a whole is
three further unknowns for all its panels; so is what a camera makes of a tint, in all its pictures: a camera isn't the
eye, and what it does wrong to a pigment it does to every letdown of it (docs/accuracy.md, No instrument).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.colour.cielab import reflectance_to_lab_slope
from finishmatch.colour.smoothest_spectrum import smoothest_spectrum
from finishmatch.optics.bank import Panel, SeenColour
from finishmatch.optics.camera_look import OWN_SD, SHARED_SD, CameraLook, LookRows
from finishmatch.optics.surface import Surface

Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]

NO_SPECTRUM_SD = 1e3  # of the reflectance that stands for one where none was read: it says nothing
# Of the variance of what a camera makes of a panel, which part it makes of all panels, of all of its tint, of all of a
# picture, and what of the rest its next picture repeats («measured on rendered pictures of letdowns of measured
# pigments», benchmarks/test_photographed_bank.py).
OF_CAMERA, OF_TINT, OF_PICTURE, AGAIN = 0.3, 0.4, 0.1, 0.9
OF_ITS_OWN = 1 - OF_CAMERA - OF_TINT - OF_PICTURE
DAYLIGHT = "D65"
MOST_LOOKS = 240  # are fitted in seconds: daylight's first, then those under lamps, in the order of the panels
_LEAST = 1e-4  # a reflectance without gloss is no less


@dataclass(frozen=True)
class SeenRows:
    """q colours that were seen of some of p panels, and what cameras saw of them besides (`camera_look`).

    Parameters
    ----------
    rows : ndarray, shape (q,)
        The panel of each; one that is looked at otherwise too stands several times.
    labs : ndarray, shape (q, 3)
        CIELAB (D65, 10°) without gloss.
    covariance : ndarray, shape (q, 3, 3)
        Of each panel's own error.
    shared : ndarray, shape (q, g, 3, 3)
        Times three numbers of standard deviation 1 of each of g errors that panels have in common: what a panel is off
        by with others. First those of pictures, then those of tints before a camera.
    pictures : int
        How many of the g are of pictures.
    looks : LookRows or None
        Which of the rows are looks; None where none is.
    """

    rows: Indices
    labs: Floats
    covariance: Floats
    shared: Floats
    pictures: int
    looks: LookRows | None = None

    @property
    def colours(self) -> Bools:
        """Which rows are colours, and no looks, shape (q,)."""
        return np.ones(len(self.rows), dtype=bool) if self.looks is None else ~self.looks.are

    @property
    def unsure(self) -> Floats:
        """How far off each colour may be in any direction, a standard deviation of CIELAB, shape (q,)."""
        together = np.einsum("qgjk,qgjk->q", self.shared, self.shared)
        spread: Floats = np.sqrt((np.trace(self.covariance, axis1=1, axis2=2) + together) / 3)
        return spread

    def exchanged(self, i: int, j: int) -> SeenRows:
        """Return them with the colours of two panels in each other's place."""
        order = np.arange(len(self.rows))
        one, other = (np.flatnonzero(self.rows == row) for row in (i, j))
        if one.size and other.size:
            both = min(one.size, other.size)  # the colour, and each look
            order[[*one[:both], *other[:both]]] = order[[*other[:both], *one[:both]]]
        of_pictures, of_tints = np.split(self.shared, [self.pictures], axis=1)
        shared = np.concatenate([of_pictures[order], of_tints], axis=1)
        looks = None if self.looks is None else self.looks.at(order)
        return SeenRows(self.rows, self.labs[order], self.covariance[order], shared, self.pictures, looks)

    def chosen(self, kept: Bools) -> SeenRows | None:
        """Return those among some of the panels, numbered anew, or None."""
        here = kept[self.rows]
        if not here.any():
            return None
        numbers = np.cumsum(kept) - 1
        own = numbers[self.rows[here]], self.labs[here], self.covariance[here]
        return SeenRows(*own, self.shared[here], self.pictures, None if self.looks is None else self.looks.at(here))


@dataclass(frozen=True)
class SeenLinear:
    """Colours about a state, over the standard deviation of each: misfit (q, 3), slopes by the panel's reading
    (q, 3, 31) and by what it is off by with others (q, 3, 3 g), and the logarithms of the deviations, summed.
    """

    misfit: Floats
    root: Floats  # (q, 3, 3): what whitens
    by_reading: Floats
    by_shared: Floats
    log_sd: float


def by_camera(lab: Floats, covariance: Floats, picture: str) -> SeenColour:
    """Return a colour in a picture, shape (3,), whose covariance, shape (3, 3), it shares with others as measured."""
    own, shared, camera, tint = (share * covariance for share in (OF_ITS_OWN, OF_PICTURE, OF_CAMERA, OF_TINT))
    return SeenColour(lab, own, picture, shared, camera, tint)


def seen_rows(panels: Sequence[Panel], coloured_by: Floats) -> SeenRows | None:
    """Return which of some panels are known by their colour alone, or None.

    Parameters
    ----------
    panels : sequence of Panel
    coloured_by : ndarray, shape (p, n)
        How much of each panel's colour is of each tint; each row sums to 1.
    """
    found = rows_of([panel.seen for panel in panels])
    if found is None:
        return None
    seen = [panel.seen for panel in panels if panel.seen is not None]
    by_tint = coloured_by[found.rows]
    of_camera = _roots([one.of_camera for one in seen])[:, None]
    of_tints = by_tint[:, :, None, None] * _roots([one.of_tint for one in seen])[:, None]
    own = found.covariance.copy()
    for i, one in enumerate(seen):
        if one.of_tint is not None:  # several tints are off less alike than one
            own[i] += (1 - (by_tint[i] ** 2).sum()) * one.of_tint
    own *= _told_again(panels, found.rows, seen)[:, None, None]
    more = np.concatenate([of_camera, of_tints], axis=1)
    more = more[:, more.any(axis=(0, 2, 3))]
    found = replace(found, covariance=own)
    looks = [(row, look, one.picture) for row, one in zip(found.rows, seen, strict=True) for look in one.looks]
    looks = sorted(looks, key=lambda one: one[1].light != DAYLIGHT)[:MOST_LOOKS]
    if looks:
        found = _with_looks(found, looks, panels)
        more = np.concatenate([more, np.zeros((len(looks), *more.shape[1:]))])
    return replace(found, shared=np.concatenate([found.shared, more], axis=1))


def _with_looks(seen: SeenRows, looks: Sequence[tuple[int, CameraLook, str]], panels: Sequence[Panel]) -> SeenRows:
    """Return colours of pictures with looks below them: each with its panel's row and its picture.

    What one picture has of a panel the next one in that light repeats, and all of a picture in a light are off alike.
    """
    keys = [(panels[row].name, panels[row].ground, look.light) for row, look, _ in looks]
    own = [
        look.covariance(OWN_SD) * (1 + (keys.count(key) - 1) * AGAIN)
        for (_, look, _), key in zip(looks, keys, strict=True)
    ]
    pictures: dict[object, int] = {}
    of_picture = [pictures.setdefault((picture, look.light), len(pictures)) for _, look, picture in looks]
    (q, g), count = seen.shared.shape[:2], len(looks)
    shared = np.zeros((q + count, g + len(pictures), 3, 3))
    shared[:q, :g] = seen.shared
    shared[q + np.arange(count), g + np.array(of_picture)] = [_root(look.covariance(SHARED_SD)) for _, look, _ in looks]
    return SeenRows(
        np.append(seen.rows, [row for row, _, _ in looks]).astype(np.intp),
        np.concatenate([seen.labs, np.zeros((count, 3))]),
        np.concatenate([seen.covariance, own]),
        shared,
        g + len(pictures),
        LookRows.of(q, [look for _, look, _ in looks]),
    )


def _roots(covariances: Sequence[Floats | None]) -> Floats:
    """Return what turns unit errors into those of covariances, shape (q, 3, 3)."""
    return np.array([np.zeros((3, 3)) if one is None else _root(one) for one in covariances])


def _told_again(panels: Sequence[Panel], rows: Indices, seen: Sequence[SeenColour]) -> Floats:
    """Return by how much the own variance of each colour is to be taken larger, shape (q,).

    What a camera makes of a panel it makes in the next picture too, so that several tell little more than one.
    """
    keys = [(panels[row].name, panels[row].ground) for row in rows]
    times = np.array([1 if one.of_camera is None else keys.count(key) for key, one in zip(keys, seen, strict=True)])
    return np.asarray(1 + (times - 1) * AGAIN)


def rows_of(colours: Sequence[SeenColour | None]) -> SeenRows | None:
    """Return those rows of which a colour was seen, with what their pictures are off by, or None where none was."""
    rows = [i for i, one in enumerate(colours) if one is not None]
    if not rows:
        return None
    seen = [one for one in colours if one is not None]
    pictures: dict[object, int] = {}
    numbers = [pictures.setdefault(one.picture or ("alone", i), len(pictures)) for i, one in enumerate(seen)]
    roots = np.zeros((len(pictures), 3, 3))
    for number, one in zip(numbers, seen, strict=True):
        roots[number] = _root(one.shared)
    shared = np.zeros((len(seen), len(pictures), 3, 3))
    shared[np.arange(len(seen)), numbers] = roots[numbers]
    labs, own = np.array([one.lab for one in seen]), np.array([one.covariance for one in seen])
    return SeenRows(np.array(rows, dtype=np.intp), labs, own, shared, len(pictures))


def with_rows_below(seen: SeenRows | None, count: int, colours: Sequence[SeenColour | None]) -> SeenRows | None:
    """Return what was seen of `count` panels and of rows below them, which are off together by themselves."""
    below = rows_of(colours)
    if below is None:
        return seen
    if seen is None:
        return replace(below, rows=below.rows + count)
    (q, g), (more, own) = seen.shared.shape[:2], below.shared.shape[:2]
    shared = np.zeros((q + more, g + own, 3, 3))
    shared[:q, :g], shared[q:, g:] = seen.shared, below.shared
    return SeenRows(
        np.append(seen.rows, below.rows + count),
        np.concatenate([seen.labs, below.labs]),
        np.concatenate([seen.covariance, below.covariance]),
        shared,
        seen.pictures,
        None if seen.looks is None else seen.looks.with_plain(more),
    )


def stand_in(seen: SeenColour, surface: Surface) -> Floats:
    """Return a spectrum, shape (31,), that reads as a colour that was seen: the smoothest there is, with its gloss."""

    def away(spectrum: Floats) -> tuple[Floats, Floats]:
        return reflectance_to_lab(spectrum) - seen.lab, reflectance_to_lab_slope(spectrum)

    return smoothest_spectrum(float(seen.lab[0]), away) + _gloss(surface)


def seen_labs(readings: Floats, surface: Surface) -> Floats:
    """Return the colours, shape (..., 3), in which readings are seen without their gloss."""
    return reflectance_to_lab(np.maximum(readings - _gloss(surface), _LEAST))


def seen_linear(
    seen: SeenRows, readings: Floats, theory_variance: Floats, shared: Floats, surface: Surface, weight: Floats
) -> SeenLinear:
    """Return what was seen about a state.

    Parameters
    ----------
    seen : SeenRows
    readings : ndarray, shape (p, 31)
        What the panels should read.
    theory_variance : ndarray, shape (p, 31)
        What the theory leaves of them, with its run along the wavelengths.
    shared : ndarray, shape (g, 3)
        What panels are off by together, in standard deviations.
    surface : Surface
    weight : ndarray, shape (p,)
        What the panels count, over what their standard deviations would have them count: little where they aren't
        believed.
    """
    spectra = np.maximum(readings[seen.rows] - _gloss(surface), _LEAST)
    slope = reflectance_to_lab_slope(spectra)
    if seen.looks is not None:
        slope[seen.looks.are] = seen.looks.slopes(spectra[seen.looks.are])
    covariance = seen.covariance + np.einsum("qjw,qw,qkw->qjk", slope, theory_variance[seen.rows], slope)
    lower = np.linalg.cholesky(covariance)
    root = np.linalg.inv(lower) * weight[seen.rows][:, None, None]
    by_shared = np.einsum("qjk,qgkl->qjgl", root, seen.shared).reshape(len(root), 3, -1)
    return SeenLinear(
        seen_misfit(seen, readings, shared, surface, root),
        root,
        root @ slope,
        by_shared,
        float(np.log(np.diagonal(lower, axis1=1, axis2=2)).sum()),
    )


def seen_misfit(seen: SeenRows, readings: Floats, shared: Floats, surface: Surface, root: Floats) -> Floats:
    """Return how far colours that should be seen lie from those that were, whitened, shape (q, 3)."""
    together = np.einsum("qgjk,gk->qj", seen.shared, shared)
    off = seen_labs(readings[seen.rows], surface) - seen.labs
    if seen.looks is not None:
        spectra = np.maximum(readings[seen.rows[seen.looks.are]] - _gloss(surface), _LEAST)
        off[seen.looks.are] = seen.looks.off(spectra)
    off += together
    misfit: Floats = np.einsum("qjk,qk->qj", root, off)
    return misfit


def _root(covariance: Floats) -> Floats:
    """Return what turns unit errors into those of a covariance, which may be zero: symmetric, so that the same three
    numbers move colours that lie near each other the same way.
    """
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0))) @ vectors.T)


def _gloss(surface: Surface) -> float:
    return surface.k1 if surface.specular else 0.0
