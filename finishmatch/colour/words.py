"""A colour difference in a painter's words."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.difference import de00_parts
from finishmatch.colour.grid import Floats

VISIBLE = 0.3  # ΔE00 of one part; about what a trained eye sees side by side («common practice»)
NEUTRAL_CHROMA = 6.0  # below it a painter speaks of the tint of a grey or white, not of clean and dirty
_AXES = {0: "redder", 90: "yellower", 180: "greener", 270: "bluer"}
# a hue this near to an axis is that axis to a painter: a yellow doesn't turn yellower but greener or redder
_OWN_AXIS_DEGREES = 22.5


def difference_words(standard: Floats, trial: Floats, visible: float = VISIBLE) -> list[str]:
    """Return in words how the trial differs from the standard, largest part first.

    Parameters
    ----------
    standard, trial : array_like, shape (3,)
        CIELAB of the two.
    visible : float
        Parts smaller than this, in ΔE00, are not named.

    Returns
    -------
    list of str
        From lighter, darker, redder, greener, yellower, bluer, cleaner, dirtier; empty when nothing is seen.

    Notes
    -----
    Cleaner and dirtier are more and less chroma, as painters use them of a colour; of near-neutral colours the tint is
    named along the a* and b* axes instead. A hue shift is named by the axis it turns towards: an orange turns redder or
    yellower, a yellow redder or greener.
    """
    standard, trial = np.asarray(standard, float), np.asarray(trial, float)
    lightness, chroma, hue, _ = (float(part) for part in de00_parts(standard, trial))
    parts = [(abs(lightness), "lighter" if lightness > 0 else "darker")]
    mean_ab = (standard[1:] + trial[1:]) / 2
    if max(np.hypot(*standard[1:]), np.hypot(*trial[1:])) < NEUTRAL_CHROMA:
        shift = trial[1:] - standard[1:]
        # near the neutral axis ΔE00 stretches a* by up to 1.5 and leaves b* as it is
        parts.append((abs(shift[0]) * 1.5, "redder" if shift[0] > 0 else "greener"))
        parts.append((abs(shift[1]), "yellower" if shift[1] > 0 else "bluer"))
    else:
        parts.append((abs(chroma), "cleaner" if chroma > 0 else "dirtier"))
        angle = float(np.degrees(np.arctan2(mean_ab[1], mean_ab[0])))
        parts.append((abs(hue), _turned_towards(angle, 1 if hue > 0 else -1)))
    return [word for size, word in sorted(parts, key=lambda pair: -pair[0]) if size >= visible]


def _turned_towards(angle: float, sense: int) -> str:
    """Return the word of the first axis ahead of a hue angle (degrees), turning by sense (1 or -1)."""
    ahead = {axis: (sense * (axis - angle)) % 360 for axis in _AXES}
    return _AXES[min((axis for axis in ahead if ahead[axis] >= _OWN_AXIS_DEGREES), key=lambda axis: ahead[axis])]
