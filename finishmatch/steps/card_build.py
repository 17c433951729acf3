"""Whether a build can be that of what was sprayed: thousands of µm are no coat, and one or two are likely mils."""

from __future__ import annotations

import math

from finishmatch.errors import InputError

THINNEST_UM = 3.0  # of a coat; an etch primer is 5 to 8 («common practice»)
THICKEST_UM = 1000.0  # of coats without filler («common practice»)
UM_PER_MIL = 25.4


def check_card_build(
    where: str, build_um: float | None, *, anyway: bool = False, thickest_um: float = THICKEST_UM
) -> None:
    """See that a build, µm, is one that is sprayed; None is not known.

    Parameters
    ----------
    where : str
        Names what was given.
    build_um : float or None
    anyway : bool
        Take a build that no coat has as it is, where it can be read at all.
    thickest_um : float
        What it may be at most; filler is thicker than paint.

    Raises
    ------
    InputError
        Names the likeliest slip.
    """
    if build_um is None:
        return
    if not (math.isfinite(build_um) and build_um >= 0):
        raise InputError(where, f"{build_um} is not a build", "give µm, as in 45")
    if anyway:
        return
    if 0 < build_um < THINNEST_UM:
        mils = f"{build_um:g} mils are {build_um * UM_PER_MIL:.0f} µm"
        raise InputError(where, f"{build_um:g} µm is thinner than any coat", f"are these mils? {mils}")
    if build_um > thickest_um:
        mend = f"a coat is 20 to 80 µm dry; is it {build_um / 100:g}?"
        raise InputError(where, f"{build_um:g} µm is no film that is sprayed", mend)
