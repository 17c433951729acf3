"""Panels of which only a colour is known: what their CIELAB says of K and S, and what all of one picture share.

A camera or an eye sees a panel without its gloss. Its colour is three sums over the wavelengths, so it couples them: in
the curvature each of the three stands as an unknown of its own in the border, with -1 on its diagonal, whose
elimination gives back what the colour says (the field's matrix stays banded). What a picture is off by as a whole is
three further unknowns for all its panels.
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
from finishmatch.optics.surface import Surface

Indices = NDArray[np.intp]
Bools = NDArray[np.bool_]

NO_SPECTRUM_SD = 1e3  # of the reflectance that stands for one where none was read: it says nothing
_LEAST = 1e-4  # a reflectance without gloss is no less


@dataclass(frozen=True)
class SeenRows:
    """q panels of p whose colour was seen.

    Parameters
    ----------
    rows : ndarray, shape (q,)
    labs : ndarray, shape (q, 3)
        CIELAB (D65, 10°) without gloss.
    covariance : ndarray, shape (q, 3, 3)
        Of each panel's own error.
    picture : ndarray, shape (q,)
        The number of its picture.
    shared_root : ndarray, shape (pictures, 3, 3)
        Times three numbers of standard deviation 1: what all panels of a picture are off by.
    """

    rows: Indices
    labs: Floats
    covariance: Floats
    picture: Indices
    shared_root: Floats

    @property
    def unsure(self) -> Floats:
        """How far off each colour may be in any direction, a standard deviation of CIELAB, shape (q,)."""
        shared = self.shared_root @ self.shared_root.transpose(0, 2, 1)
        spread: Floats = np.sqrt(np.trace(self.covariance + shared[self.picture], axis1=1, axis2=2) / 3)
        return spread

    def exchanged(self, i: int, j: int) -> SeenRows:
        """Return them with the colours of two panels in each other's place."""
        order = np.arange(len(self.rows))
        one, other = (np.flatnonzero(self.rows == row) for row in (i, j))
        if one.size and other.size:
            order[[one[0], other[0]]] = order[[other[0], one[0]]]
        own = self.labs[order], self.covariance[order], self.picture[order]
        return SeenRows(self.rows, *own, self.shared_root)

    def chosen(self, kept: Bools) -> SeenRows | None:
        """Return those among some of the panels, numbered anew, or None."""
        here = kept[self.rows]
        if not here.any():
            return None
        numbers = np.cumsum(kept) - 1
        own = numbers[self.rows[here]], self.labs[here], self.covariance[here]
        return SeenRows(*own, self.picture[here], self.shared_root)


@dataclass(frozen=True)
class SeenLinear:
    """Colours about a state, over the standard deviation of each: misfit (q, 3), slopes by the panel's reading
    (q, 3, 31) and by what its picture is off by (q, 3, 3), and the logarithms of the deviations, summed.
    """

    misfit: Floats
    root: Floats  # (q, 3, 3): what whitens
    by_reading: Floats
    by_picture: Floats
    log_sd: float


def seen_rows(panels: Sequence[Panel]) -> SeenRows | None:
    """Return which of some panels are known by their colour alone, or None."""
    return rows_of([panel.seen for panel in panels])


def rows_of(colours: Sequence[SeenColour | None]) -> SeenRows | None:
    """Return those rows of which a colour was seen, or None where none was."""
    rows = [i for i, one in enumerate(colours) if one is not None]
    if not rows:
        return None
    seen = [one for one in colours if one is not None]
    pictures: dict[object, int] = {}
    numbers = [pictures.setdefault(one.picture or ("alone", i), len(pictures)) for i, one in enumerate(seen)]
    shared = np.zeros((len(pictures), 3, 3))
    for number, one in zip(numbers, seen, strict=True):
        shared[number] = _root(one.shared)
    return SeenRows(
        np.array(rows, dtype=np.intp),
        np.array([one.lab for one in seen]),
        np.array([one.covariance for one in seen]),
        np.array(numbers, dtype=np.intp),
        shared,
    )


def with_rows_below(seen: SeenRows | None, count: int, colours: Sequence[SeenColour | None]) -> SeenRows | None:
    """Return what was seen of `count` panels and of rows below them, whose pictures are others."""
    below = rows_of(colours)
    if below is None:
        return seen
    if seen is None:
        return replace(below, rows=below.rows + count)
    return SeenRows(
        np.append(seen.rows, below.rows + count),
        np.concatenate([seen.labs, below.labs]),
        np.concatenate([seen.covariance, below.covariance]),
        np.append(seen.picture, below.picture + len(seen.shared_root)),
        np.concatenate([seen.shared_root, below.shared_root]),
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
    seen: SeenRows, readings: Floats, theory_variance: Floats, pictures: Floats, surface: Surface, weight: Floats
) -> SeenLinear:
    """Return what was seen about a state.

    Parameters
    ----------
    seen : SeenRows
    readings : ndarray, shape (p, 31)
        What the panels should read.
    theory_variance : ndarray, shape (p, 31)
        What the theory leaves of them, with its run along the wavelengths.
    pictures : ndarray, shape (pictures, 3)
        What the pictures are off by, in their standard deviations.
    surface : Surface
    weight : ndarray, shape (p,)
        What the panels count, over what their standard deviations would have them count: little where they aren't
        believed.
    """
    slope = reflectance_to_lab_slope(np.maximum(readings[seen.rows] - _gloss(surface), _LEAST))
    covariance = seen.covariance + np.einsum("qjw,qw,qkw->qjk", slope, theory_variance[seen.rows], slope)
    lower = np.linalg.cholesky(covariance)
    root = np.linalg.inv(lower) * weight[seen.rows][:, None, None]
    by_picture = root @ seen.shared_root[seen.picture]
    return SeenLinear(
        seen_misfit(seen, readings, pictures, surface, root),
        root,
        root @ slope,
        by_picture,
        float(np.log(np.diagonal(lower, axis1=1, axis2=2)).sum()),
    )


def seen_misfit(seen: SeenRows, readings: Floats, pictures: Floats, surface: Surface, root: Floats) -> Floats:
    """Return how far colours that should be seen lie from those that were, whitened, shape (q, 3)."""
    shared = np.einsum("pjk,pk->pj", seen.shared_root, pictures)
    off = seen_labs(readings[seen.rows], surface) - seen.labs + shared[seen.picture]
    misfit: Floats = np.einsum("qjk,qk->qj", root, off)
    return misfit


def _root(covariance: Floats) -> Floats:
    """Return what turns unit errors into those of a covariance, which may be zero."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0)))


def _gloss(surface: Surface) -> float:
    return surface.k1 if surface.specular else 0.0
