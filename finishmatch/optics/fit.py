"""The fit of a bank: K and S of every tint with their uncertainty, and the panels that don't fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.optics.bank import Bank
from finishmatch.optics.check_mixture import check_mixture, unchecked_tints
from finishmatch.optics.in_colour import nearer_in_colour
from finishmatch.optics.learn import learnt, roughly
from finishmatch.optics.misfits import misfit_floor, misfit_limit, panel_residuals, without_misfits
from finishmatch.optics.mixture import TintOptics
from finishmatch.optics.panel_model import amount_factors, panel_readings
from finishmatch.optics.panel_set import MODEL_SHARE, Bools, PanelSet, panel_set, strength_known
from finishmatch.optics.parts import LARGE_TINTS, settled_in_parts
from finishmatch.optics.pigment_prior import by_pigments
from finishmatch.optics.posterior import Posterior, log_optics, settled
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.slips_named import PanelSlip, named_slips
from finishmatch.optics.start import start_state
from finishmatch.optics.surface import Surface, usual_surface
from finishmatch.optics.unknowns import Problem

PANELS_CONTRADICT_DE00 = 4.0  # half the panels further off than this: no paint is behind them
NEIGHBOURS_SD = 0.03  # of the logarithm of an amount beside neighbours that no panel shows («common practice»)
_MIXTURES_THAT_SHOW = 4
OPTICS_DRAWS = 32  # how many ways K and S might also be are kept


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
    `K_sd` and `S_sd`, shape (n, 31), are standard deviations of the logarithms of K and S; `slips` what probably went
    wrong in panels that don't fit; `posterior` what it is all from, to which cards are put (`card_panels`).
    """

    optics: TintOptics
    panels: tuple[PanelResidual, ...]
    panels_per_tint: dict[str, int]
    residual_per_tint: dict[str, float]
    usable: tuple[str, ...]
    warnings: tuple[str, ...]
    K_sd: Floats
    S_sd: Floats
    slips: tuple[PanelSlip, ...] = ()
    posterior: Posterior | None = None

    @property
    def each_panel(self) -> tuple[PanelResidual, ...]:
        """Each panel once: where several photographs show it, as far off as in the worst; misfit where it is in any."""
        found: dict[str, PanelResidual] = {}
        for one in self.panels:
            seen = found.get(one.panel, one)
            furthest = max(one.residual_de00, seen.residual_de00)
            found[one.panel] = PanelResidual(one.panel, furthest, one.misfit or seen.misfit)
        return tuple(found.values())


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
        When there is nothing to fit, or the panels contradict each other.

    Notes
    -----
    One posterior of everything unknown (`posterior`): spectra of K and S that are smooth, S near what pigments scatter
    against the white, a factor for the amount of every part that was weighed and for every film's build, and k2
    and beam_back; k1 is Fresnel's for the binder's index. The spreads it rests on are learnt from the bank by leaving
    panels out (`learn`). Panels that don't fit are set aside first (`misfits`), so that a mislabelled panel doesn't
    spoil the tints it names.

    References
    ----------
    Kubelka and Munk 1931; Saunderson 1942; Duncan 1940; ISO 18314-2; `beam` for the entering light; `priors` for the
    smooth processes, `leave_out` for what is learnt.
    """
    panels, warnings = panel_set(bank)
    surface = usual_surface(bank.binder_index, bank.geometry)
    posterior = _without_learning(panels, surface)
    final = panel_residuals(posterior)
    _check_agreement(bank, posterior, final)
    by_reflectance, of_names = by_pigments(_with_learning(posterior))
    posterior = nearer_in_colour(by_reflectance)
    final, trusted = panel_residuals(posterior), posterior.problem.trusted
    # a film whose build is as far off as others' is no misfit; weights of a panel that hides are
    off = np.where(panels.hiding, final, panel_residuals(posterior, as_poured=True))
    misfits = ~trusted | (off > misfit_limit(off[trusted], misfit_floor(panels)))
    usable, unknown = strength_known(panels)
    warnings += of_names + _little_to_mix(panels, unknown)
    warnings += tuple(
        f"panel {panels.names[i]} does not fit (ΔE00 {final[i]:.2f}): check its label, weights and reading"
        + _reads_like(posterior, i)
        for i in _each_once(panels, final, misfits)
    )
    slips = named_slips(by_reflectance, misfits, theory_holds=posterior is by_reflectance)
    warnings += tuple(slip.warning for slip in slips)
    found = _result(posterior, final, misfits, usable, warnings)
    return replace(found, slips=slips, warnings=(*warnings, *_slips_unseen(panels, found)))


def _each_once(panels: PanelSet, residuals: Floats, misfits: Bools) -> list[int]:
    """Return the rows of panels that don't fit; of one that several photographs show the row that is furthest off."""
    found: dict[str, int] = {}
    for i in map(int, np.flatnonzero(misfits)):
        first = found.setdefault(panels.names[i], i)
        if residuals[i] > residuals[first]:
            found[panels.names[i]] = i
    return list(found.values())


def _check_agreement(bank: Bank, posterior: Posterior, residuals: Floats) -> None:
    """See that there is paint behind the panels; where one slip explains why they contradict each other, name it."""
    if (middle := float(np.median(residuals))) <= PANELS_CONTRADICT_DE00:
        return
    panels = posterior.problem.panels
    furthest = panels.names[int(residuals.argmax())]
    slips = named_slips(posterior, residuals > misfit_floor(panels))
    raise InputError(
        f"bank {bank.name}",
        f"the panels contradict each other: half of them are ΔE00 {middle:.1f} or more from any fit, and "
        f"{furthest!r} is {residuals.max():.1f}",
        "; ".join(["check that weights and readings are under the right names", *(slip.warning for slip in slips[:1])]),
    )


def _little_to_mix(panels: PanelSet, unknown: list[str]) -> tuple[str, ...]:
    """Return warnings of tints that can't be mixed with, and of a bank in which there is nothing to mix."""
    if len(panels.tints) == 1:
        only = panels.tints[0]
        lacking = "letdowns of others with it" if only.role == "white" else "a white"
        return (f"{only.name} is the only tint with a colour: no mixture can be made of it; add {lacking}",)
    if unknown and len(unknown) == len(panels.tints) - 1:
        return ("no panel mixes tints, so no strength is known and nothing can be mixed; add letdowns with white",)
    return tuple(
        f"tint {name}: no letdown or shading shows its strength, so it can't be mixed with; add a letdown with white"
        for name in unknown
    )


def _slips_unseen(panels: PanelSet, fit: BankFit) -> tuple[str, ...]:
    """Return a warning where half the tints or more stand in panels that can't show a slip."""
    optics, names = fit.optics, tuple(name for name in unchecked_tints(panels) if name in fit.usable)
    if not names or 2 * len(names) < len(panels.tints) - 1:
        return ()
    parts = ", ".join(f"{name} {grams:g} g" for name, grams in check_mixture(panels, optics, names))
    return (
        f"{', '.join(names)}: in two panels or fewer and in no mixture, so no slip in weighing or labels is seen, "
        f"and what is predicted is widened. One check mixture would tell most: {parts}; draw it down and add it",
    )


def _without_learning(panels: PanelSet, surface: Surface) -> Posterior:
    """Return the posterior of the panels that fit, by what is believed of any bank."""
    beliefs = _first_beliefs(panels)
    start = start_state(panels, surface, beliefs)
    beliefs = replace(beliefs, scale_mean=float(start.level[panels.anchor]))
    everyone = Problem(panels, amount_factors(panels), np.ones(len(panels.names), dtype=bool))
    posterior = settled_in_parts(everyone, beliefs, start)
    found = without_misfits(settled_in_parts(everyone, roughly(posterior), posterior.state))
    # parts don't know by how much amounts are off, so what the theory leaves looks larger in them
    return replace(found, beliefs=roughly(found)) if everyone.tints > LARGE_TINTS else found


def _with_learning(posterior: Posterior) -> Posterior:
    """Return the posterior by what the bank itself shows, with the panels that fit then."""
    posterior = learnt(_trusted_again(posterior), posterior.beliefs, posterior.state)
    if (problem := _trusted_again(posterior)).trusted.sum() > posterior.problem.trusted.sum():
        posterior = settled(problem, posterior.beliefs, posterior.state, exact=1e-7)
    return posterior


def _result(
    posterior: Posterior, residuals: Floats, misfits: Bools, usable: tuple[str, ...], warnings: tuple[str, ...]
) -> BankFit:
    panels, beliefs = posterior.problem.panels, posterior.beliefs
    names = [tint.name for tint in panels.tints]
    K, S = posterior.state.optics(panels.anchor)
    drawn = log_optics(posterior, OPTICS_DRAWS)
    sd = np.minimum(np.sqrt(((drawn - np.log(np.stack([K, S]))) ** 2).mean(axis=0)), 9.0)
    return BankFit(
        optics=TintOptics(
            tuple(names),
            K,
            S,
            panels.dry,
            posterior.state.surface,
            per_um=bool((~panels.hiding).any()),
            draws=np.exp(drawn),
            dispersal_sd=beliefs.dispersal_sd,
            neighbour_sd=_unseen_neighbours(panels),
            model_sd=beliefs.theory * MODEL_SHARE,
            model_run=beliefs.run,
        ),
        panels=tuple(
            PanelResidual(name, float(r), bool(bad))
            for name, r, bad in zip(panels.names, residuals, misfits, strict=True)
        ),
        panels_per_tint={name: _panels_with(panels, i) for i, name in enumerate(names)},
        residual_per_tint={
            name: float(np.median(residuals[panels.fractions[:, i] > 0])) for i, name in enumerate(names)
        },
        usable=usable,
        warnings=warnings,
        K_sd=sd[0],
        S_sd=sd[1],
        posterior=posterior,
    )


def _panels_with(panels: PanelSet, tint: int) -> int:
    """Return how many panels hold a tint; one that several photographs show is one."""
    return len({name for name, share in zip(panels.names, panels.fractions[:, tint], strict=True) if share > 0})


def _unseen_neighbours(panels: PanelSet) -> float:
    """Return what amounts may be off by in mixtures because tints stand beside neighbours that no panel shows.

    How a tint disperses beside the white is part of its K and S; where mixtures of other tints were drawn down the
    bank itself shows how much that changes.
    """
    others = np.delete(panels.fractions, panels.anchor, axis=1) > 0
    return 0.0 if (others.sum(axis=1) > 1).sum() >= _MIXTURES_THAT_SHOW else NEIGHBOURS_SD


def _trusted_again(posterior: Posterior) -> Problem:
    """Return the problem with those panels trusted too that were set aside for another's fault: they fit now."""
    trusted, residuals = posterior.problem.trusted, panel_residuals(posterior)
    limit = misfit_limit(residuals[trusted], misfit_floor(posterior.problem.panels))
    return replace(posterior.problem, trusted=trusted | (residuals <= limit), free_surface=True)


def _first_beliefs(panels: PanelSet) -> Beliefs:
    """Return what is believed before any panel: pigments scatter less than a white, as much as another tint."""
    if panels.tints[panels.anchor].role == "white":
        return Beliefs()
    return Beliefs(s_mean=0.0, s_level_sd=1.2)


def _reads_like(posterior: Posterior, at: int) -> str:
    """Return which other panel a misfit reads like, when there is one it could have been swapped with."""
    panels, state = posterior.problem.panels, posterior.state
    fitted = panel_readings(panels, *state.optics(panels.anchor), state.surface)
    distance = de00(reflectance_to_lab(panels.readings[at]), reflectance_to_lab(fitted))
    distance[panels.hiding != panels.hiding[at]] = np.inf
    distance[[name == panels.names[at] for name in panels.names]] = np.inf
    nearest = int(distance.argmin())
    return f"; it reads like {panels.names[nearest]}" if distance[nearest] < 1.0 else ""
