"""A spike among repeats of a sample: one wavelength of one of them that is far from its fellows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats

LEAST = 0.015  # reflectance: what is less does no harm
_TIMES = 8.0  # standard deviations of the others
_MOST = 3  # more of them are no spikes, but repeats of another thing


def without_spikes(repeats: Floats, where: Sequence[str]) -> tuple[Floats, tuple[str, ...]]:
    """Return repeats with spikes set aside, and a warning that names each by file, row and wavelength.

    Parameters
    ----------
    repeats : ndarray, shape (n, 31) or (n, 3)
        CIELAB is returned as it is, and so is a single reading.
    where : sequence of str, n long
        What each repeat is called in a message.

    Notes
    -----
    A repeat may lie off the others as a whole, by the place it was read at: what counts is how it departs from them at
    one wavelength more than at its neighbours. Of two that differ, the one that isn't smooth there has the spike. In
    the place of a spike stands what the others have there, with what the repeat is off beside it.
    """
    if repeats.shape[0] < 2 or repeats.shape[1] != WAVELENGTHS_NM.size:
        return repeats, ()
    warnings: list[str] = []
    mended = repeats.copy()
    for _ in range(_MOST + 1):
        local, expected = _departures(mended)
        size = np.abs(local)
        at = int(size.max(axis=0).argmax())
        if size[:, at].max() < max(LEAST, _TIMES * 1.4826 * float(np.median(size))):
            return mended, tuple(warnings)
        # of two that differ both are as far: the one whose own spectrum leaps there has the spike
        i = int((size if len(size) > 2 else _leap(mended))[:, at].argmax())
        read = f"{repeats[i, at]:.3f} at {WAVELENGTHS_NM[at]:.0f} nm is far from its repeats, {expected[i, at]:.3f}"
        warnings.append(f"{where[i]}: {read}: it is set aside")
        mended[i, at] = expected[i, at]
    return repeats, ()


def _departures(repeats: Floats) -> tuple[Floats, Floats]:
    """Return how each value departs from its fellows beyond its neighbours, and what it would be, shape (n, 31)."""
    others = np.stack([np.median(np.delete(repeats, i, axis=0), axis=0) for i in range(len(repeats))])
    off = repeats - others
    padded = np.pad(off, ((0, 0), (2, 2)), constant_values=np.nan)
    # the median of the neighbours there are: what is missing at the ends comes last
    beside = np.sort([padded[:, k : k + off.shape[1]] for k in (0, 1, 3, 4)], axis=0)
    columns = np.arange(off.shape[1])
    count = np.minimum(np.minimum(columns, columns[::-1]) + 2, 4)
    level = ((beside[(count - 1) // 2, :, columns] + beside[count // 2, :, columns]) / 2).T
    return off - level, others + level


def _leap(repeats: Floats) -> Floats:
    """Return how far each value is from the line through its neighbours, shape (n, 31)."""
    leap: Floats = np.abs(np.diff(repeats, 2, axis=1))
    inner = leap / 2
    return np.hstack([leap[:, :1], inner, leap[:, -1:]])
