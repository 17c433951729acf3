"""K and S of every tint of a bank, and its surface, fitted on the panels that hide."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.optics.bank import Bank, Panel, Tint, volume_fractions
from finishmatch.optics.film import hiding_reflectance, hiding_reflectance_slope, k_over_s
from finishmatch.optics.mixture import TintOptics, mixture_reflectance
from finishmatch.optics.nonnegative import nonnegative_least_squares
from finishmatch.optics.surface import Surface, fresnel_normal, internal, measured_slope, specular_included

K2_RANGE = (0.40, 0.60)  # Saunderson 1942 and the trade since: 0.4 for a rough film to 0.6 for diffuse Fresnel
MISFIT_DE00 = 0.8  # a panel further off than this, and far from its fellows, is named
_ROUNDS = 12
_CAP_DE00 = 10.0  # a panel further off than this counts no more than this
_COMMON_SHARE = 0.25


@dataclass(frozen=True)
class PanelResidual:
    """How far the fitted optics leave a panel: ΔE00 under D65, 10°, and whether it is named as not fitting."""

    panel: str
    residual_de00: float
    misfit: bool


@dataclass(frozen=True)
class BankFit:
    """The fitted optics of a bank.

    `usable` are the tints whose strength the panels tell; the others stand in `optics` but can't be mixed with.
    """

    optics: TintOptics
    panels: tuple[PanelResidual, ...]
    panels_per_tint: dict[str, int]
    residual_per_tint: dict[str, float]
    usable: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class _System:
    """The linear system at a surface: rows are panels, columns K then S of the tints."""

    fractions: Floats  # (panels, tints)
    q: Floats  # (panels, 31)
    per_q: Floats  # dR/dq at the readings, (panels, 31)


def fit_bank(bank: Bank) -> BankFit:
    """Fit two-constant Kubelka-Munk with a Saunderson surface on a bank's hiding panels.

    Parameters
    ----------
    bank : Bank

    Returns
    -------
    BankFit
        K and S relative to the S of the white (1 at every wavelength): panels that hide tell no more than the ratio.

    Raises
    ------
    InputError
        When the bank has no hiding panels or a tint stands in none.

    Notes
    -----
    For a panel of volume fractions c and measured K/S q, Σ c_i (K_i - q S_i) = 0 is linear in the unknowns. Each row
    is weighted by dR/dq over the panel's scattering, so that what is least is the misfit in reflectance; the weights
    are renewed until they rest. K, S ≥ 0. Panels that don't fit are set aside, so that a mislabelled one doesn't spoil
    the tints it names. k1 is Fresnel's for the binder's index; k2 is the one within
    0.40 to 0.60 that leaves the least misfit. Holds for films that hide and mix without flocculating.

    References
    ----------
    Kubelka and Munk 1931; Saunderson 1942; Duncan 1940; ISO 18314-2.
    """
    tints, panels, warnings = _what_can_be_fitted(bank)
    dry = np.array([tint.dry_ml_per_g for tint in tints])
    names = [tint.name for tint in tints]
    grams = np.array([[sum(g for t, g in panel.grams if t == name) for name in names] for panel in panels])
    fractions = volume_fractions(grams, dry)
    readings = np.stack([panel.reflectance for panel in panels])
    anchor = _anchor(tints, fractions)
    k1, specular = fresnel_normal(bank.binder_index), specular_included(bank.geometry)

    shades = reflectance_to_lab(readings)

    def solved(k2: float, trusted: NDArray[np.bool_]) -> tuple[TintOptics, Floats]:
        surface = Surface(k1, k2, specular)
        K, S = _solve(_system(fractions, readings, surface), anchor, trusted)
        fitted = mixture_reflectance(fractions, K[None], S[None], surface)
        return TintOptics(tuple(names), K, S, dry, surface), de00(shades, reflectance_to_lab(fitted))

    def best_k2(trusted: NDArray[np.bool_]) -> float:
        return _least(lambda k2: float(solved(k2, trusted)[1][trusted].mean()), *K2_RANGE)

    k2 = best_k2(np.ones(len(panels), dtype=bool))
    trusted = _trusted(fractions, lambda chosen: solved(k2, chosen)[1])
    optics, residuals = solved(best_k2(trusted), trusted)
    misfits = ~trusted | (residuals > _misfit_limit(residuals))
    usable, untold = _told(tints, fractions, anchor)
    warnings += tuple(
        f"tint {name}: no letdown or shading tells its strength, so it can't be mixed with; add a letdown with white"
        for name in untold
    )
    warnings += tuple(
        f"panel {panels[i].name} does not fit (ΔE00 {residuals[i]:.2f}): check its label, weights and reading"
        for i in np.flatnonzero(misfits)
    )
    return BankFit(
        optics=optics,
        panels=tuple(
            PanelResidual(panel.name, float(r), bool(bad))
            for panel, r, bad in zip(panels, residuals, misfits, strict=True)
        ),
        panels_per_tint={name: int((fractions[:, i] > 0).sum()) for i, name in enumerate(names)},
        residual_per_tint={name: float(np.median(residuals[fractions[:, i] > 0])) for i, name in enumerate(names)},
        usable=usable,
        warnings=warnings,
    )


def _what_can_be_fitted(bank: Bank) -> tuple[list[Tint], list[Panel], tuple[str, ...]]:
    """Return the pigmented tints, the panels that hide, and what is left aside and why."""
    warnings = list(bank.warnings)
    hiding = [panel for panel in bank.panels if panel.hides]
    thin = len(bank.panels) - len(hiding)
    if thin:
        warnings.append(f"{thin} panels over grounds at a known build are read but not used yet, only those that hide")
    if not hiding:
        raise InputError(f"bank {bank.name}", "has no panel that hides", "add masstones and letdowns that hide")
    clears = [tint.name for tint in bank.tints if tint.role == "clear"]
    if clears:
        warnings.append(
            f"{', '.join(clears)}: a clear has no colour in a film that hides; it is left out of fit and recipe"
        )
    tints = [tint for tint in bank.tints if tint.role != "clear"]
    for tint in tints:
        if not any(name == tint.name and grams > 0 for panel in hiding for name, grams in panel.grams):
            raise InputError(f"bank {bank.name}, tint {tint.name}", "stands in no hiding panel", "add its masstone")
    pigmented = {tint.name for tint in tints}
    return tints, [p for p in hiding if any(t in pigmented and g > 0 for t, g in p.grams)], tuple(warnings)


def _anchor(tints: list[Tint], fractions: Floats) -> int:
    """Return the tint whose S is 1 by convention: the white, or else the one in most panels."""
    for i, tint in enumerate(tints):
        if tint.role == "white":
            return i
    return int((fractions > 0).sum(axis=0).argmax())


def _told(tints: list[Tint], fractions: Floats, anchor: int) -> tuple[tuple[str, ...], list[str]]:
    """Return the tints linked to the anchor by panels that mix them, and those that aren't."""
    linked, grown = {anchor}, True
    mixed = fractions > 0
    while grown:
        reach = set(np.flatnonzero(mixed[mixed[:, sorted(linked)].any(axis=1)].any(axis=0)))
        grown = not reach <= linked
        linked |= {int(i) for i in reach}
    return (
        tuple(tint.name for i, tint in enumerate(tints) if i in linked),
        [tint.name for i, tint in enumerate(tints) if i not in linked],
    )


def _system(fractions: Floats, readings: Floats, surface: Surface) -> _System:
    q = k_over_s(internal(readings, surface))
    return _System(fractions, q, measured_slope(hiding_reflectance(q), surface) * hiding_reflectance_slope(q))


def _solve(system: _System, anchor: int, trusted: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return K and S, shape (tints, 31), of the weighted least squares over the panels trusted."""
    c, q = system.fractions, system.q
    n = c.shape[1]
    rows = np.concatenate([np.broadcast_to(c, (q.shape[1], *c.shape)), -q.T[:, :, None] * c], axis=2)
    free = [i for i in range(2 * n) if i != n + anchor]
    goal = -rows[:, :, n + anchor]  # the anchor's S is 1: it goes to the right-hand side
    rows = rows[:, :, free]
    scattering = np.ones_like(q)
    trust = np.where(trusted, 1.0, 1e-4)  # never quite nothing: a lone panel of a tint still counts
    K = S = np.ones((n, q.shape[1]))
    for _ in range(_ROUNDS):
        weight = (np.abs(system.per_q) / scattering).T * trust  # (31, panels)
        solution = nonnegative_least_squares(rows * weight[:, :, None], goal * weight)
        full = np.insert(solution, n + anchor, 1.0, axis=1)
        before = S
        K, S = full[:, :n].T, full[:, n:].T
        scattering = np.maximum(c @ S, 1e-6)
        if np.allclose(S, before, rtol=1e-8, atol=1e-10):
            break
    return K, S


def _trusted(fractions: Floats, residuals_of: Callable[[NDArray[np.bool_]], Floats]) -> NDArray[np.bool_]:
    """Return which panels are believed: those that don't fit are set aside one by one, the worst liar first.

    A mislabelled panel pulls its tint's other panels off too, so what is set aside is not the panel that is furthest
    off but the one without which the rest fit best.
    """
    trusted = np.ones(len(fractions), dtype=bool)
    common = (fractions > 0).mean(axis=0) > _COMMON_SHARE  # white and black stand in too many to point at anything
    residuals = residuals_of(trusted)
    for _ in range(max(1, len(fractions) // 5)):
        bad = trusted & (residuals > _misfit_limit(residuals[trusted]))
        if not bad.any():
            break
        involved = (fractions[bad] > 0).any(axis=0)
        uncommon = involved & ~common
        suspects = trusted & (fractions[:, uncommon if uncommon.any() else involved] > 0).any(axis=1)
        best, most = None, float(np.minimum(residuals[trusted], _CAP_DE00).sum()) - MISFIT_DE00
        for i in np.flatnonzero(suspects):
            without = trusted.copy()
            without[i] = False
            found = residuals_of(without)
            left = float(np.minimum(found[without], _CAP_DE00).sum() + min(residuals[i], MISFIT_DE00))
            if left < most:
                best, most, after = without, left, found
        if best is None:
            break
        trusted, residuals = best, after
    return trusted


def _misfit_limit(residuals: Floats) -> float:
    middle = float(np.median(residuals))
    return max(MISFIT_DE00, middle + 6 * 1.4826 * float(np.median(np.abs(residuals - middle))))


def _least(function: Callable[[float], float], low: float, high: float, steps: int = 5, rounds: int = 3) -> float:
    """Return where a smooth function of one number is least, by a grid made finer around the best point."""
    for _ in range(rounds):
        grid = np.linspace(low, high, steps)
        at = int(np.argmin([function(float(x)) for x in grid]))
        low, high = float(grid[max(at - 1, 0)]), float(grid[min(at + 1, steps - 1)])
        best = float(grid[at])
    return best
