"""A colour difference in a painter's words."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.difference import de00_parts
from finishmatch.colour.grid import Floats

VISIBLE = 0.3  # ΔE00 of one part; about what a trained eye sees side by side («common practice»)
NEUTRAL_CHROMA = 6.0  # below it a painter speaks of the tint of a grey or white, not of clean and dirty
_AXES = {"redder": (1.0, 0.0), "yellower": (0.0, 1.0), "greener": (-1.0, 0.0), "bluer": (0.0, -1.0)}


def difference_words(standard: Floats, trial: Floats, visible: float = VISIBLE) -> list[str]:
    """Tell how the trial differs from the standard, largest part first.

    Parameters
    ----------
    standard, trial : array_like, shape (3,)
        CIELAB of the two.
    visible : float
        Parts smaller than this, in ΔE00, are not told.

    Returns
    -------
    list of str
        From lighter, darker, redder, greener, yellower, bluer, cleaner, dirtier; empty when nothing is seen.

    Notes
    -----
    Cleaner and dirtier are more and less chroma, as painters use them of a colour; of near-neutral colours the tint is
    told along the a* and b* axes instead. A hue shift is named by the axis it points along: a hue between two axes
    is named by the nearer.
    """
    standard, trial = np.asarray(standard, float), np.asarray(trial, float)
    lightness, chroma, hue, _ = (float(part) for part in de00_parts(standard, trial))
    told = [(abs(lightness), "lighter" if lightness > 0 else "darker")]
    mean_ab = (standard[1:] + trial[1:]) / 2
    if max(np.hypot(*standard[1:]), np.hypot(*trial[1:])) < NEUTRAL_CHROMA:
        shift = trial[1:] - standard[1:]
        # near the neutral axis ΔE00 stretches a* by up to 1.5 and leaves b* as it is
        told.append((abs(shift[0]) * 1.5, "redder" if shift[0] > 0 else "greener"))
        told.append((abs(shift[1]), "yellower" if shift[1] > 0 else "bluer"))
    else:
        told.append((abs(chroma), "cleaner" if chroma > 0 else "dirtier"))
        radius = np.hypot(*mean_ab)
        if radius > 0:
            tangent = np.sign(hue) * np.array([-mean_ab[1], mean_ab[0]]) / radius
        else:
            tangent = trial[1:] - standard[1:]
        told.append((abs(hue), max(_AXES, key=lambda word: float(np.dot(tangent, _AXES[word])))))
    return [word for size, word in sorted(told, key=lambda pair: -pair[0]) if size >= visible]
