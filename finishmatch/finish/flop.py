"""Metallics and pearls at several angles: the difference at each, and how far the lightness falls from face to flop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from finishmatch.colour import Floats, cielab_delta, de00, difference_words
from finishmatch.errors import InputError

FACE, MIDDLE, FLOP = 15.0, 45.0, 110.0  # degrees from the gloss, ASTM E2194
USUAL = (FACE, 25.0, MIDDLE, 75.0, FLOP)
NO_FLAKE = (
    "recipes are predicted for solid colours: mix doesn't know flake or pearl; it helps with the solid part only, and "
    "the flake is matched by spraying cards"
)
_SAME_DEGREES = 0.5


@dataclass(frozen=True)
class AngleDifference:
    """The difference at an angle from the gloss, degrees: trial minus standard."""

    angle: float
    de00: float
    delta: dict[str, float]
    words: tuple[str, ...]


@dataclass(frozen=True)
class FlopComparison:
    """Two colours at the angles both were read at; the flop of each is None without the three angles of ASTM E2194."""

    angles: tuple[AngleDifference, ...]
    standard_flop: float | None
    trial_flop: float | None
    left_out: tuple[float, ...]

    @property
    def worst(self) -> AngleDifference:
        """The angle at which they differ most."""
        return max(self.angles, key=lambda one: one.de00)


def flop_index(l_face: float, l_middle: float, l_flop: float) -> float:
    """Return the flop index of a metallic; 0 has none, 15 to 17 is a strong one.

    Parameters
    ----------
    l_face, l_middle, l_flop : float
        L* at 15°, 45° and 110° from the gloss.

    Raises
    ------
    InputError
        When it is black at 45°.

    References
    ----------
    Alman 1987, from memory: 2.69 (L15 - L110)^1.11 / L45^0.86. The angles are those of ASTM E2194.
    """
    if not l_middle > 0:
        raise InputError("L*", "the flop index needs some lightness at 45°", "check the reading")
    return float(2.69 * max(l_face - l_flop, 0.0) ** 1.11 / l_middle**0.86)


def compare_angles(standard: tuple[Sequence[float], Floats], trial: tuple[Sequence[float], Floats]) -> FlopComparison:
    """Return the differences of two colours angle by angle, and their flop.

    Parameters
    ----------
    standard, trial : tuple of (angles, ndarray of shape (n, 3))
        Degrees from the gloss, and CIELAB at each.

    Raises
    ------
    InputError
        When they have no angle in common.
    """
    one, other = _by_angle(*standard), _by_angle(*trial)
    common = [angle for angle in one if angle in other]
    if not common:
        read = " and ".join(", ".join(f"{angle:g}°" for angle in found) for found in (one, other))
        raise InputError("angles", f"the two were read at different angles: {read}", "read both at 15°, 45° and 110°")
    return FlopComparison(
        angles=tuple(_difference(angle, one[angle], other[angle]) for angle in sorted(common)),
        standard_flop=_flop(one),
        trial_flop=_flop(other),
        left_out=tuple(sorted(set(one) ^ set(other))),
    )


def flop_words(standard: float | None, trial: float | None) -> str:
    """Return how two flops compare, in a painter's words; "" where one isn't known."""
    if standard is None or trial is None:
        return ""
    if abs(trial - standard) < 0.5:
        return "the flop is alike"
    return (
        "the trial falls off more: its flake lies flatter"
        if trial > standard
        else ("the trial falls off less: its flake lies less flat")
    )


def _by_angle(angles: Sequence[float], labs: Floats) -> dict[float, Floats]:
    """Return CIELAB by angle, angles as near as an instrument's setting is to those of the standard taken as such."""
    return {
        next((usual for usual in USUAL if abs(usual - angle) < _SAME_DEGREES), float(angle)): lab
        for angle, lab in zip(angles, labs, strict=True)
    }


def _flop(labs: Mapping[float, Floats]) -> float | None:
    if not {FACE, MIDDLE, FLOP} <= set(labs):
        return None
    return flop_index(*(float(labs[angle][0]) for angle in (FACE, MIDDLE, FLOP)))


def _difference(angle: float, standard: Floats, trial: Floats) -> AngleDifference:
    delta = cielab_delta(standard, trial)
    parts = {name: float(getattr(delta, name)) for name in ("L", "a", "b", "C", "H")}
    return AngleDifference(angle, float(de00(standard, trial)), parts, tuple(difference_words(standard, trial)))
