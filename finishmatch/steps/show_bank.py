"""A bank of tints as its fit has it: how well its panels are met, its tints, and the panels to draw next."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.optics import BankFit, Tint, TintOptics, predicted_reflectance
from finishmatch.optics.next_panel import PanelIdea, next_panels
from finishmatch.optics.panel_set import panel_label
from finishmatch.readings import store_fit
from finishmatch.steps.bank import FittedBank, keep_fit, open_bank
from finishmatch.steps.bank_with_cards import BankWithCards
from finishmatch.steps.hazards import parts_document
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.todays_tins import todays_tins

LETDOWN = 0.1  # share of the tint in white


@dataclass(frozen=True)
class FitOfBank:
    """How well the panels of a bank are met by its fit."""

    fitted: FittedBank

    @property
    def fit(self) -> BankFit:
        """The fit itself."""
        return self.fitted.fit

    @property
    def seen(self) -> int:
        """How many panels no instrument read, in however many photographs: colours are known of them."""
        panels = self.fitted.bank.panels
        read = {panel_label(panel) for panel in panels if panel.seen is None}
        return len({panel_label(panel) for panel in panels if panel.seen is not None} - read)

    @property
    def looked(self) -> int:
        """Of how many panels what cameras saw is known besides a colour."""
        every = self.fitted.bank.panels
        return len({panel_label(panel) for panel in every if panel.seen is not None and panel.seen.looks})

    @property
    def seen_in_words(self) -> str:
        """By what the panels are known that no instrument read; "" where there are none."""
        if not self.seen:
            return ""
        besides = f", {self.looked} by what the camera saw besides" if self.looked else " alone"
        return f"{self.seen} of them by their colour{besides}"

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a fit."""
        fit = self.fit
        surface = fit.optics.surface
        return {
            "tints": {
                name: {"panels": fit.panels_per_tint[name], "residual_de00": fit.residual_per_tint[name]}
                for name in fit.optics.names
            },
            "surface": {"k1": surface.k1, "k2": surface.k2, "beam_back": surface.beam_back},
            "per_um": fit.optics.per_um,
            "panels": [{"panel": panel.panel, "residual_de00": panel.residual_de00} for panel in fit.each_panel],
            "seen": self.seen,
            "looked": self.looked,
            "slips": [vars(slip) for slip in fit.slips],
            "warnings": list(fit.warnings),
        }


def fit_bank(folder: Path | str, *, progress: Progress = quiet) -> FitOfBank:
    """Return how the panels of a bank folder are met, after its fit is kept beside them.

    Raises
    ------
    InputError
        A bank that can't be fitted, a folder that can't be written in.
    """
    fitted = open_bank(folder, progress)
    if fitted.fresh and fitted.folder is not None:
        store_fit(fitted.folder, fitted.bank, fitted.fit)
    return FitOfBank(fitted)


@dataclass(frozen=True)
class ShownTint:
    """A tint of the bank.

    Parameters
    ----------
    tint : Tint
    masstone, letdown : ndarray, shape (3,), or None
        CIELAB (D65, 10°) of the tint alone, and of one part in ten in white; None where it isn't known.
    usable : bool or None
        Whether it is known well enough to mix with; None where nothing is known of it.
    """

    tint: Tint
    masstone: Floats | None = None
    letdown: Floats | None = None
    usable: bool | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        tint = self.tint
        document: dict[str, Any] = {
            "role": tint.role,
            "colour_index": tint.colour_index,
            "density_kg_l": tint.density_kg_l,
            "volume_solids": tint.volume_solids,
            "price_per_kg": tint.price_per_kg,
            "stock_g": tint.stock_g,
            "hazards": list(tint.hazards),
        }
        if self.masstone is not None:
            document |= {"masstone_lab": self.masstone, "usable": self.usable}
        return document | ({} if self.letdown is None else {"letdown_lab": self.letdown})


@dataclass(frozen=True)
class BankShown:
    """The tints of a bank, and which panels would make them better known.

    Parameters
    ----------
    fitted : FittedBank
    tints : tuple of ShownTint
    ideas : tuple of PanelIdea
        What to draw next, the least sure first.
    warnings : tuple of str
    with_cards : BankWithCards or None
        The bank with the cards of the record, as it is shown; None where there is no record.
    """

    fitted: FittedBank
    tints: tuple[ShownTint, ...]
    ideas: tuple[PanelIdea, ...]
    warnings: tuple[str, ...]
    with_cards: BankWithCards | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a bank."""
        bank = self.fitted.bank
        return {
            "name": bank.name,
            "geometry": bank.geometry,
            "tints": {shown.tint.name: shown.as_dict() for shown in self.tints},
            "next_panels": [
                {"parts": parts_document(idea.parts), "unsure_de00": idea.unsure_de00} for idea in self.ideas
            ],
            "bank_today": None if self.with_cards is None else self.with_cards.as_dict(),
            "warnings": list(self.warnings),
        }


def show_bank(folder: Path | str, *, progress: Progress = quiet) -> BankShown:
    """Return the tints of a bank folder; its fit is kept beside it where that can be done.

    Raises
    ------
    InputError
        A bank that can't be fitted.
    """
    fitted = open_bank(folder, progress)
    kept = keep_fit(fitted)
    tins = todays_tins(None, fitted, fresh_tins=True)  # the tints as they were characterised, whatever tin is open
    fitted = tins.of_today(fitted)
    bank, optics = fitted.bank, fitted.optics
    white = next((tint.name for tint in bank.tints if tint.role == "white"), None)
    shown = []
    for tint in bank.tints:
        if tint.name not in optics.names:
            shown.append(ShownTint(tint))
            continue
        letdown = None
        if white and tint.name != white:
            letdown = _lab_of(optics, {tint.name: LETDOWN, white: 1 - LETDOWN})
        masstone = _lab_of(optics, {tint.name: 1.0})
        shown.append(ShownTint(tint, masstone, letdown, tint.name in fitted.fit.usable))
    ideas = tuple(next_panels(bank, optics))
    return BankShown(fitted, tuple(shown), ideas, (*fitted.fit.warnings, *tins.warnings, *kept), tins.bank)


def _lab_of(optics: TintOptics, shares: dict[str, float]) -> Floats:
    grams = np.zeros(len(optics.names))
    for name, share in shares.items():
        grams[optics.index(name)] = share
    return reflectance_to_lab(predicted_reflectance(optics, grams))
