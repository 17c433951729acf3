"""The fit of a bank: K and S of every tint with their uncertainty, and the panels that don't fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.optics.bank import Bank
from finishmatch.optics.mixture import TintOptics
from finishmatch.optics.panel_set import WEIGHING_SD_G, Bools, PanelSet, panel_set
from finishmatch.optics.solver import Solution, panel_readings, solve
from finishmatch.optics.start import start_values
from finishmatch.optics.surface import Surface, fresnel_normal, specular_included

# a panel further off than this, and far from its fellows, is named; the theory leaves more of a thin film
MISFIT_DE00 = 0.8
MISFIT_THIN_DE00 = 2.0
PANELS_CONTRADICT_DE00 = 4.0  # half the panels further off than this: no paint is behind them
OPTICS_DRAWS = 32  # how many ways K and S might also be are kept
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

    `usable` are the tints whose strength the panels show; the others stand in `optics` but can't be mixed with.
    `K_sd` and `S_sd`, shape (n, 31), are standard deviations of the logarithms of K and S.
    """

    optics: TintOptics
    panels: tuple[PanelResidual, ...]
    panels_per_tint: dict[str, int]
    residual_per_tint: dict[str, float]
    usable: tuple[str, ...]
    warnings: tuple[str, ...]
    K_sd: Floats
    S_sd: Floats


def fit_bank(bank: Bank) -> BankFit:
    """Fit K and S of every tint and the surface constants on all panels of a bank.

    Parameters
    ----------
    bank : Bank

    Returns
    -------
    BankFit
        K and S in 1/µm when panels over grounds at a known build are among them, else relative to the S of the white
        (1 at every wavelength): panels that hide show no more than the ratio.

    Raises
    ------
    InputError
        When there is nothing to fit, a tint stands in no panel, or the panels contradict each other.

    Notes
    -----
    One weighted least squares over all panels, hiding and over grounds (`solver.solve`), weighted by the noise of the
    readings (from their repeats), by what a scale leaves open of a letdown and by what the film model leaves. Panels
    that don't fit are set aside one by one, the one without which the rest fit best first, so that a mislabelled panel
    doesn't spoil the tints it names. k1 is Fresnel's for the binder's index; k2 and beam_back are fitted.

    References
    ----------
    Kubelka and Munk 1931; Saunderson 1942; Duncan 1940; ISO 18314-2; `beam` for the entering light.
    """
    panels, warnings = panel_set(bank)
    surface = Surface(fresnel_normal(bank.binder_index), 0.575, specular_included(bank.geometry))
    shades = reflectance_to_lab(panels.readings)
    floor = np.where(panels.hiding, MISFIT_DE00, MISFIT_THIN_DE00)
    solution, trusted, final = _fitted(panels, surface, shades, floor)
    if (middle := float(np.median(final))) > PANELS_CONTRADICT_DE00:
        furthest = panels.names[int(final.argmax())]
        raise InputError(
            f"bank {bank.name}",
            f"the panels contradict each other: half of them are ΔE00 {middle:.1f} or more from any fit, and "
            f"{furthest!r} is {final.max():.1f}",
            "check that weights and readings are under the right names",
        )
    misfits = ~trusted | (final > _misfit_limit(final[trusted], floor))
    usable, unknown = _strength_known(panels)
    warnings += tuple(
        f"tint {name}: no letdown or shading shows its strength, so it can't be mixed with; add a letdown with white"
        for name in unknown
    )
    warnings += tuple(
        f"panel {panels.names[i]} does not fit (ΔE00 {final[i]:.2f}): check its label, weights and reading"
        + _reads_like(panels, solution, shades, i)
        for i in map(int, np.flatnonzero(misfits))
    )
    return _result(panels, solution, final, misfits, usable, warnings)


def _fitted(panels: PanelSet, surface: Surface, shades: Floats, floor: Floats) -> tuple[Solution, Bools, Floats]:
    """Return the fit without the panels that don't fit, which are believed, and how far each is off, ΔE00."""
    everyone = np.ones(len(panels.names), dtype=bool)

    def residuals(solution: Solution) -> Floats:
        fitted = panel_readings(panels, solution.K, solution.S, solution.surface)[0]
        return de00(shades, reflectance_to_lab(fitted))

    first = solve(panels, start_values(panels, surface, everyone), surface, everyone)

    def without(trusted: Bools) -> Floats:
        again = start_values(panels, first.surface, trusted)
        return residuals(solve(panels, again, first.surface, trusted, free_surface=False, rounds=6))

    trusted = _trusted(panels.fractions, residuals(first), floor, without)
    solution = first
    if not trusted.all():
        solution = solve(panels, start_values(panels, surface, trusted), surface, trusted)
    final = residuals(solution)
    if (~trusted & (final <= floor)).any():  # set aside for the fault of another panel
        trusted = trusted | (final <= floor)
        solution = solve(panels, start_values(panels, surface, trusted), surface, trusted)
        final = residuals(solution)
    return solution, trusted, final


def _result(
    panels: PanelSet,
    solution: Solution,
    residuals: Floats,
    misfits: Bools,
    usable: tuple[str, ...],
    warnings: tuple[str, ...],
) -> BankFit:
    names = [tint.name for tint in panels.tints]
    n = len(names)
    draws, sd = _draws(panels, solution, ~misfits)
    return BankFit(
        optics=TintOptics(
            tuple(names),
            solution.K,
            solution.S,
            panels.dry,
            solution.surface,
            per_um=bool((~panels.hiding).any()),
            draws=np.exp(draws).reshape(OPTICS_DRAWS, -1, 2, n).transpose(0, 2, 3, 1),
        ),
        panels=tuple(
            PanelResidual(name, float(r), bool(bad))
            for name, r, bad in zip(panels.names, residuals, misfits, strict=True)
        ),
        panels_per_tint={name: int((panels.fractions[:, i] > 0).sum()) for i, name in enumerate(names)},
        residual_per_tint={
            name: float(np.median(residuals[panels.fractions[:, i] > 0])) for i, name in enumerate(names)
        },
        usable=usable,
        warnings=warnings,
        K_sd=sd[:, :n].T,
        S_sd=sd[:, n:].T,
    )


def _draws(panels: PanelSet, solution: Solution, trusted: Bools) -> tuple[Floats, Floats]:
    """Return draws of log K and log S, shape (draws, 31, 2n), and their standard deviations, shape (31, 2n).

    The readings are drawn off by their noise, wavelength by wavelength, and by weighing slips, which shift a panel at
    all wavelengths together; what the fit makes of that is linear near the solution.
    """
    covariance = np.linalg.inv(solution.information)
    # where readings scatter more than they should, so do K and S
    freedom = max(int(trusted.sum()) * solution.log.shape[0] - solution.log.size, 1)
    inflation = max(1.0, float((solution.weighted[trusted] ** 2).sum()) / freedom)
    sd = np.sqrt(np.einsum("wuu->wu", covariance) * inflation)
    r = np.random.default_rng(5)
    K, S = solution.K, solution.S
    _, by_k, by_s = panel_readings(panels, K, S, solution.surface)
    k, s = panels.fractions @ K, panels.fractions @ S
    mixed = (panels.grams > 0) & (panels.grams < panels.grams.sum(axis=1, keepdims=True))
    off = np.zeros((OPTICS_DRAWS, *panels.readings.shape))
    for i in range(panels.fractions.shape[1]):
        at = np.flatnonzero(mixed[:, i])
        per_log = panels.fractions[at, i, None] * (by_k[at] * (K[i] - k[at]) + by_s[at] * (S[i] - s[at]))
        slip = r.standard_normal((OPTICS_DRAWS, at.size)) * WEIGHING_SD_G / panels.grams[at, i]
        off[:, at] += slip[:, :, None] * per_log
    rest = np.sqrt(np.maximum(solution.sd**2 - _slip_variance(panels, off), panels.reading_sd**2))
    off += r.standard_normal(off.shape) * rest
    pushed = np.einsum("plu,dpl->dlu", solution.gradient, off / solution.sd)
    moved = np.einsum("luv,dlv->dlu", covariance, pushed) * np.sqrt(inflation)
    return np.clip(solution.log + np.clip(moved, -1, 1), -20, 9), np.minimum(sd, 9.0)


def _slip_variance(panels: PanelSet, off: Floats) -> Floats:
    variance: Floats = off.var(axis=0)
    return variance


def _trusted(
    fractions: Floats, residuals: Floats, floor: Floats, residuals_without: Callable[[Bools], Floats]
) -> Bools:
    """Return which panels are believed: those that don't fit are set aside one by one, the worst liar first.

    A mislabelled panel pulls its tint's other panels off too, so what is set aside is not the panel that is furthest
    off but the one without which the rest fit best.
    """
    trusted = np.ones(len(fractions), dtype=bool)
    common = (fractions > 0).mean(axis=0) > _COMMON_SHARE  # white and black stand in too many to point at anything
    for _ in range(max(1, len(fractions) // 5)):
        bad = trusted & (residuals > _misfit_limit(residuals[trusted], floor))
        if not bad.any():
            break
        involved = (fractions[bad] > 0).any(axis=0)
        uncommon = involved & ~common
        suspects = trusted & (fractions[:, uncommon if uncommon.any() else involved] > 0).any(axis=1)
        best, most = None, float(np.minimum(residuals[trusted], _CAP_DE00).sum()) - MISFIT_DE00
        for i in np.flatnonzero(suspects):
            rest = trusted.copy()
            rest[i] = False
            found = residuals_without(rest)
            left = float(np.minimum(found[rest], _CAP_DE00).sum() + min(residuals[i], MISFIT_DE00))
            if left < most:
                best, most, after = rest, left, found
        if best is None:
            break
        trusted, residuals = best, after
    return trusted


def _misfit_limit(residuals: Floats, floor: Floats) -> Floats:
    middle = float(np.median(residuals))
    return np.maximum(floor, middle + 6 * 1.4826 * float(np.median(np.abs(residuals - middle))))


def _reads_like(panels: PanelSet, solution: Solution, shades: Floats, at: int) -> str:
    """Return which other panel a misfit reads like, when there is one it could have been swapped with."""
    fitted = panel_readings(panels, solution.K, solution.S, solution.surface)[0]
    distance = de00(shades[at], reflectance_to_lab(fitted))
    distance[at] = np.inf
    nearest = int(distance.argmin())
    return f"; it reads like {panels.names[nearest]}" if distance[nearest] < 1.0 else ""


def _strength_known(panels: PanelSet) -> tuple[tuple[str, ...], list[str]]:
    """Return the tints whose strength the panels show, and those whose they don't.

    It is known from panels that mix a tint with others whose strength is known (the anchor's is), or from a film of
    known build.
    """
    names = [tint.name for tint in panels.tints]
    mixed = panels.fractions > 0
    linked = {panels.anchor}
    linked |= {int(i) for i in np.flatnonzero(mixed[~panels.hiding].any(axis=0))}
    grown = True
    while grown:
        reach = {int(i) for i in np.flatnonzero(mixed[mixed[:, sorted(linked)].any(axis=1)].any(axis=0))}
        grown = not reach <= linked
        linked |= reach
    return (
        tuple(name for i, name in enumerate(names) if i in linked),
        [name for i, name in enumerate(names) if i not in linked],
    )
