"""Linear algebra of unknowns that couple along the wavelengths, beside a border of unknowns common to all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.one_thread import one_thread

_TOGETHER = 2  # wavelengths of a block: a process that couples two neighbours on each side then couples blocks in a row


@dataclass(frozen=True)
class Bordered:
    """A symmetric system whose field is positive definite, factored.

    Its field is u unknowns at each of w wavelengths, coupled with two neighbours on each side; its border is b unknowns
    that are the same at all of them. Blocks of two wavelengths make the field's matrix block tridiagonal, whose
    Cholesky factor costs w u³; the border is eliminated by its Schur complement.

    Parameters
    ----------
    inverse : ndarray, shape (blocks, 2u, 2u)
        Of the factor's diagonal blocks.
    below : ndarray, shape (blocks - 1, 2u, 2u)
        The factor's blocks below the diagonal.
    half : ndarray, shape (blocks, 2u, b)
        The factor's inverse times what couples the field with the border.
    schur : ndarray, shape (b, b)
        Inverse of the Schur complement: the covariance of the border.
    """

    inverse: Floats
    below: Floats
    half: Floats
    schur: Floats

    @property
    def log_determinant(self) -> float:
        """The logarithm of the system's determinant, without its sign."""
        roots = np.diagonal(self.inverse, axis1=1, axis2=2)
        return float(-2 * np.log(roots).sum() - np.linalg.slogdet(self.schur)[1])

    def solve(self, field: Floats, border: Floats) -> tuple[Floats, Floats]:
        """Return the solutions, shapes (w, u, r) and (b, r), for right sides of these shapes."""
        w, u, r = field.shape
        half = self.half.reshape(-1, self.half.shape[2])
        own = _forward(self.inverse, self.below, field).reshape(-1, r)
        common = self.schur @ (border - half.T @ own)
        rest = (own - half @ common).reshape(len(self.inverse), -1, r)
        return _backward(self.inverse, self.below, rest).reshape(-1, u, r)[:w], common

    def rooted(self, field: Floats, border: Floats) -> tuple[Floats, Floats]:
        """Return right sides of one wavelength each by roots of the system.

        Parameters
        ----------
        field : ndarray, shape (k, u, w)
            Of k sets of right sides, one for each wavelength, where alone it bears on the field.
        border : ndarray, shape (b, k, w)

        Returns
        -------
        root : ndarray, shape (blocks·2u, w, k)
        common : ndarray, shape (b, w, k)
            One right side times the solution of another is root·root + common·schur·common.
        """
        k, u, w = field.shape
        count, size, _ = self.inverse.shape
        root = np.zeros((count, size, w, k))
        flat = root.reshape(count, size, w * k)
        at = np.ascontiguousarray(field.transpose(2, 1, 0))
        for i in range(count):
            done = i * _TOGETHER  # a wavelength bears on no block before its own
            if i:
                flat[i, :, : done * k] = -(self.inverse[i] @ self.below[i - 1]) @ flat[i - 1, :, : done * k]
            for place in range(min(_TOGETHER, w - done)):
                root[i, :, done + place] = self.inverse[i][:, place * u : (place + 1) * u] @ at[done + place]
        own = root.reshape(count * size, w * k)
        half = self.half.reshape(count * size, -1)
        common = border.transpose(0, 2, 1).reshape(-1, w * k) - half.T @ own
        return own.reshape(-1, w, k), common.reshape(-1, w, k)


def bordered(normal: Floats, bands: tuple[Floats, Floats, Floats], cross: Floats, border: Floats) -> Bordered:
    """Factor a system.

    Parameters
    ----------
    normal : ndarray, shape (w, u, u)
        What the readings say of the field, wavelength by wavelength.
    bands : three ndarrays, shapes (w, u), (w - 1, u), (w - 2, u)
        Precision of the smooth processes: each unknown with itself, its neighbour and the next.
    cross : ndarray, shape (w, u, b)
    border : ndarray, shape (b, b)

    Raises
    ------
    numpy.linalg.LinAlgError
        When the field's part isn't positive definite. The border's may be indefinite: unknowns that only carry a
        constraint have a negative diagonal.
    """
    # takes a tenth of a second to load, and few commands fit; loaded before its threads are held to one
    from scipy.linalg import lapack

    w, u, _ = normal.shape
    count = -(-w // _TOGETHER)
    size = _TOGETHER * u
    diagonal = np.zeros((count, _TOGETHER, u, _TOGETHER, u))
    coupling = np.zeros((count, _TOGETHER, _TOGETHER, u))  # of a block with the one before it: each unknown with itself
    for place in range(_TOGETHER):
        some = len(range(place, w, _TOGETHER))  # of the last block there may be no more than a part
        diagonal[:some, place, :, place] = normal[place::_TOGETHER]
        own = np.einsum("cuu->cu", diagonal[:, place, :, place])
        own[:some] += bands[0][place::_TOGETHER]
        own[some:] = 1.0  # fills the last block
        for apart in (1, 2):
            back, other = divmod(place - apart, _TOGETHER)
            band = bands[apart][other::_TOGETHER]
            if back:
                coupling[1:some, place, other] = band[: some - 1]
            else:
                np.einsum("cuu->cu", diagonal[:, place, :, other])[:some] = band
                np.einsum("cuu->cu", diagonal[:, other, :, place])[:some] = band
    inverse, below = _factor(lapack, diagonal.reshape(count, size, size), coupling)
    half = _forward(inverse, below, cross)
    flat = half.reshape(count * size, -1)
    complement = border - flat.T @ flat
    schur = np.linalg.inv((complement + complement.T) / 2)
    return Bordered(inverse, below, half, np.asarray(schur, dtype=np.float64))


@one_thread
def _factor(lapack: Any, diagonal: Floats, coupling: Floats) -> tuple[Floats, Floats]:
    """Return the inverses of the factor's diagonal blocks, and its blocks below them."""
    inverse, below = np.empty_like(diagonal), np.empty_like(diagonal[1:])
    for i in range(len(diagonal)):
        block = diagonal[i]
        if i:
            turned = inverse[i - 1].T.reshape(_TOGETHER, -1, len(block))
            below[i - 1] = np.einsum("pou,oun->pun", coupling[i], turned).reshape(block.shape)
            block = block - below[i - 1] @ below[i - 1].T
        root, amiss = lapack.dpotrf(block.T, lower=1)
        if amiss:
            raise np.linalg.LinAlgError("a block isn't positive definite")
        inverse[i] = lapack.dtrtri(root, lower=1, overwrite_c=1)[0]
    return inverse, below


def _forward(inverse: Floats, below: Floats, field: Floats) -> Floats:
    """Return the factor's inverse times a field, shape (w, u, r), as blocks, shape (blocks, 2u, r)."""
    w, u, r = field.shape
    count, size, _ = inverse.shape
    padded = np.zeros((count * _TOGETHER, u, r))
    padded[:w] = field
    x = padded.reshape(count, size, r)
    for i in range(count):
        x[i] = inverse[i] @ (x[i] - below[i - 1] @ x[i - 1] if i else x[i])
    return x


def _backward(inverse: Floats, below: Floats, x: Floats) -> Floats:
    """Return the transposed factor's inverse times blocks, which are overwritten."""
    last = len(inverse) - 1
    for i in range(last, -1, -1):
        x[i] = inverse[i].T @ (x[i] - below[i].T @ x[i + 1] if i < last else x[i])
    return x
