"""Slips that are sure enough to be named, and how they are said."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics.misfits import misfit_floor, misfit_limit, panel_residuals, tints_near
from finishmatch.optics.panel_model import panel_readings
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.parts import LARGE_TINTS
from finishmatch.optics.posterior import Posterior
from finishmatch.optics.slips import Explained, likely_slips

_SURE = 3.0  # log odds from which a slip is named; in banks without one the best lay below -3 (docs/accuracy.md)
_AS_LIKELY, _AS_LIKELY_SHARE = 5.0, 0.02  # of log odds, within which two slips can't be told apart
_MOST = 3  # slips named
_NEAR, _ALIKE = 6, 4  # in a large bank: panels that don't fit, and those each reads like, whose tints are tried
_MUCH = 0.15  # of an amount's logarithm, beyond which a panel that seems to fit is looked at: amounts soak up a slip
_TIMES = {0.1: "a tenth of", 0.5: "half", 2.0: "twice", 10.0: "ten times"}


@dataclass(frozen=True)
class PanelSlip:
    """A slip that explains panels which don't fit.

    Parameters
    ----------
    kind : str
        "exchanged", "amount", "tint" or "swapped" (`slips.Slip`).
    panels : tuple of str
        Whose it is; two whose readings were exchanged.
    tint, other : str
        The tint whose amount, or which, is written wrongly; the one that is there instead, or whose weight it has.
    factor : float
        How many times the written amount is in the panel.
    log_odds : float
        Natural logarithm of how much more probable it makes all readings than no slip does.
    words : str
        What probably happened, as it is said.
    instead : str
        Another slip that can't be told from it, in words; "" where there is none.
    """

    kind: str
    panels: tuple[str, ...]
    tint: str
    other: str
    factor: float
    log_odds: float
    words: str
    instead: str = ""

    @property
    def warning(self) -> str:
        """The slip in one line, with what to look at or which check would tell."""
        if self.instead:
            return (
                f"likeliest slip: either {self.words}, or {self.instead}; draw {self.panels[0]} down again: "
                f"if it reads as before, it is the second"
            )
        look = {"exchanged": "look at the labels of both", "tint": "look at what it was mixed from"}
        return f"likeliest slip: {self.words}; {look.get(self.kind, 'look at its weights')}"


def named_slips(posterior: Posterior, misfits: Bools, theory_holds: bool = True) -> tuple[PanelSlip, ...]:
    """Return the slips that explain panels which don't fit, those that are sure enough, one after the other.

    Parameters
    ----------
    posterior : Posterior
        Of the panels that are believed.
    misfits : ndarray, shape (p,)
        The panels that don't fit; where amounts are far off others are looked at too.
    theory_holds : bool
        Whether amounts that are far off tell of a slip. Where no film model fits the bank they make up for what is
        wrong with that, and a slip shows only where a panel doesn't fit.

    Notes
    -----
    In a large bank slips are sought among the tints of those panels, and of the panels that they read like.
    """
    named: list[PanelSlip] = []
    if posterior.problem.tints > LARGE_TINTS:
        posterior, misfits = _near(posterior, misfits)
    left = misfits | (_amounts_off(posterior) > _MUCH) if theory_holds else misfits.copy()
    while left.any() and len(named) < _MOST:
        found = [each for each in likely_slips(posterior, left) if _explains(each, left)]
        if not found or found[0].slip.log_odds < _SURE:
            break
        first = found[0]
        named.append(_named(posterior.problem.panels, found))
        left[list(first.slip.rows)] = False
        rest = panel_residuals(first.posterior)
        left &= rest > misfit_limit(rest, misfit_floor(first.posterior.problem.panels))
        trusted = posterior.problem.trusted | ~left
        problem = replace(first.posterior.problem, trusted=trusted)
        posterior = replace(posterior, problem=problem, state=first.posterior.state)
    return tuple(named)


def _near(posterior: Posterior, misfits: Bools) -> tuple[Posterior, Bools]:
    """Return the posterior of the tints of panels that don't fit and of those they read like, and its misfits."""
    panels, state = posterior.problem.panels, posterior.state
    read = reflectance_to_lab(panels.readings)
    fitted = reflectance_to_lab(panel_readings(panels, *state.optics(panels.anchor), state.surface))
    about = misfits.copy()
    for row in np.flatnonzero(misfits)[:_NEAR]:
        about[np.argsort(de00(read[row], fitted), kind="stable")[:_ALIKE]] = True
    rows, _, near = tints_near(posterior, about)
    return near, misfits[rows]


def _amounts_off(posterior: Posterior) -> Floats:
    """Return the logarithm by which a panel's amounts are off, the furthest of each, shape (p,)."""
    factors = posterior.problem.factors
    logs = np.where(factors.of_build, 0.0, posterior.state.factors)
    off: Floats = np.abs(np.append(logs, 0.0)[factors.slots]).max(axis=1)
    return off


def _explains(found: Explained, misfits: Bools) -> bool:
    """Whether a slip's own panels fit with it, and no more panels don't than before."""
    off = panel_residuals(found.posterior)
    beyond = off > misfit_limit(off, misfit_floor(found.posterior.problem.panels))
    return not beyond[list(found.slip.rows)].any() and beyond.sum() <= misfits.sum()


def _named(panels: PanelSet, found: list[Explained]) -> PanelSlip:
    slip = found[0].slip
    close = max(_AS_LIKELY, _AS_LIKELY_SHARE * slip.log_odds)
    instead = next((each for each in found[1:] if slip.log_odds - each.slip.log_odds < close), None)
    names = [tint.name for tint in panels.tints]
    return PanelSlip(
        slip.kind,
        _panels(panels, found[0]),
        names[slip.tint] if slip.tint >= 0 else "",
        names[slip.other] if slip.other >= 0 else "",
        slip.factor,
        slip.log_odds,
        _words(panels, found[0]),
        "" if instead is None else _words(panels, instead),
    )


def _panels(panels: PanelSet, found: Explained) -> tuple[str, ...]:
    """Return the names of a slip's panels; of a mixture read over several grounds its own."""
    slip = found.slip
    names = [panels.names[i] for i in slip.rows]
    if slip.kind == "exchanged" or panels.hiding[slip.rows[0]]:
        return tuple(dict.fromkeys(names)) if slip.kind == "exchanged" else (names[0],)
    return (names[0].rsplit(" over ", 1)[0],)


def _words(panels: PanelSet, found: Explained) -> str:
    """Return what probably happened, in words."""
    slip = found.slip
    name = " and ".join(_panels(panels, found))
    if slip.kind == "exchanged":
        return f"the readings of {name} were exchanged"
    tint, other = panels.tints[slip.tint].name, panels.tints[slip.other].name
    grams = float(panels.grams[slip.rows[0], slip.tint])
    if slip.kind == "amount":
        weights = f"{grams * slip.factor:.3g} g, not {grams:.3g} g"
        return f"{name} holds {_TIMES[slip.factor]} the {tint} that is written ({weights})"
    if slip.kind == "tint":
        return f"{name} holds {other} where {tint} is written"
    return f"the weights of {tint} and {other} in {name} were swapped"
