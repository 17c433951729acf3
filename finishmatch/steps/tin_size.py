"""Whether what is poured fits in the tin, by the densities of the bank."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from finishmatch.errors import InputError
from finishmatch.optics import Tint


def litres_of(parts: Iterable[tuple[str, float]], tints: Sequence[Tint]) -> float | None:
    """Return the wet volume of some parts, litres, or None where the density of one isn't known."""
    density = {tint.name: tint.density_kg_l for tint in tints}
    parts = tuple(parts)
    if any(tint not in density for tint, _ in parts):
        return None
    return sum(grams / density[tint] / 1000 for tint, grams in parts)


def check_tin(tin_l: float | None) -> None:
    """See that a tin is one; None is a tin of which nothing was said."""
    if tin_l is not None and not 0 < tin_l <= 1000:
        raise InputError("`tin_l`", f"{tin_l:g} L is not the size of a tin", "give what it holds, as in 1L or 500ml")


def check_fits(
    parts: Sequence[tuple[str, float]], tints: Sequence[Tint], tin_l: float | None, *, anyway: bool = False
) -> tuple[str, ...]:
    """See that parts fit in their tin; return a note where that can't be told, or where they are taken as they are.

    Raises
    ------
    InputError
        More than the tin holds.
    """
    check_tin(tin_l)
    if tin_l is None:
        return ()
    litres = litres_of(parts, tints)
    if litres is None:
        return ("whether it fits in the tin can't be told: the bank's densities aren't known",)
    if litres <= tin_l:
        return ()
    grams = sum(weight for _, weight in parts)
    what = f"{grams:g} g of this are {litres:.2f} L, and the tin holds {tin_l:g} L"
    if anyway:
        return (f"{what}; taken as it is",)
    most = grams * tin_l / litres
    raise InputError("`tin_l`", what, f"{most:.0f} g fill it to the brim; with `anyway` it is taken as it is")


def fits_later(
    parts: Sequence[tuple[str, float]],
    to_pour: Sequence[tuple[str, float]],
    tints: Sequence[Tint],
    tin_l: float | None,
) -> tuple[str, ...]:
    """Return a note where a tin won't hold what is still to be poured into it."""
    now, then = litres_of(parts, tints), litres_of((*parts, *to_pour), tints)
    if tin_l is None or now is None or then is None or then <= tin_l or now > tin_l:
        return ()
    return (f"with what is still to be poured it comes to {then:.2f} L, and the tin holds {tin_l:g} L",)
