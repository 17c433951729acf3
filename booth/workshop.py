"""A shop in the virtual booth, calm or rough: its bank, the tins it opens today, what it sprays and what it reads.

The calm shop is what a laboratory would like to be: a full bank, 5 % between tins, an instrument that only has noise.
The rough one is what measured paint shows (spreads of 15 to 20 % between tins of one shade, one in twenty far off;
letdowns of one to three doses in one white and nothing else): amounts that are off, dispersal that depends on what a
tint is mixed with, an instrument with a bias of its own, panels with texture. All sizes are «common practice» unless
they say otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from booth.bank_writer import PanelSpec, TintSpec, letdown_panels
from booth.banks import tint_specs
from booth.pigments import Floats
from booth.virtual_booth import film_reflectance
from finishmatch.mix.letdowns import PARTS, Letdown
from finishmatch.optics import Bank, Panel, Tint, volume_fractions

PANEL_G = 100.0


@dataclass(frozen=True)
class Conditions:
    """How a shop works. All are standard deviations unless they say otherwise.

    Parameters
    ----------
    doses_percent : tuple of float, or None
        Letdowns with the white, per cent by weight, and no other panel but the white's own; None is a full bank
        (`letdown_panels`).
    amount : float
        Of the logarithm of a part weighed into a panel: dosing by syringe and drops left in the cup.
    weighing_g : float
        Of a part weighed into a panel, grams.
    pour_g : float
        Of a part poured into a tin; a hand pour lands within a step or two of the scale.
    lot : float
        Of the logarithm of the strength of a tin opened today.
    lot_far : float
        How often a tin is half as strong, 0 to 1.
    dispersal : float
        Of the logarithm of the strength of a tint next to one neighbour; it goes with the neighbour's share.
    card : float
        Of the logarithm of the strength of a tint on one card, by stirring and settling.
    bias : float
        Of an instrument's gain, its slope over the spectrum and (half of it) its zero.
    texture : float
        Of what the surface adds to the reflectance at all wavelengths, at one place of a panel; repeats are read at
        several.
    noise : float
        Of every reflectance value.
    step_g : float
        Of the scale that is poured on.
    readings : int
        Repeats of a target or card.
    """

    doses_percent: tuple[float, ...] | None = None
    amount: float = 0.0
    weighing_g: float = 0.05
    pour_g: float = 0.1
    step_g: float = 0.1
    lot: float = 0.05
    lot_far: float = 0.0
    dispersal: float = 0.0
    card: float = 0.0
    bias: float = 0.0
    texture: float = 0.0
    noise: float = 0.0005
    readings: int = 3


CALM = Conditions()
ROUGH = Conditions(
    doses_percent=(0.3, 1.0, 3.0), amount=0.02, weighing_g=0.0, lot=0.20, lot_far=0.05, dispersal=0.04, card=0.01,
    bias=0.004, texture=0.001,
)  # fmt: skip


class Workshop:
    """A shop with its pigments, its instrument, its neighbours' influence and its bank, all from one seed.

    Parameters
    ----------
    conditions : Conditions
    seed : int
    count : int
        Tints, the white and the black among them.
    anisotropy : float
        How far the pigments scatter forward, 0 to 1.
    """

    def __init__(self, conditions: Conditions, seed: int, count: int = 10, anisotropy: float = 0.0) -> None:
        self.conditions = conditions
        self.specs: list[TintSpec] = tint_specs(seed, count, anisotropy)
        r = np.random.default_rng([seed, 41])
        self._neighbours = conditions.dispersal * r.standard_normal((count, count))
        self._gain = 1 + conditions.bias * r.standard_normal()
        self._slope = conditions.bias * r.standard_normal()
        self._zero = 0.5 * conditions.bias * r.standard_normal()
        self._bank_random = np.random.default_rng([seed, 42])

    @property
    def tints(self) -> tuple[Tint, ...]:
        """The tins as the bank has them."""
        return tuple(
            Tint(s.name, s.role, s.colour_index, s.density_kg_l, s.volume_solids, s.price_per_kg, s.stock_g)
            for s in self.specs
        )

    @property
    def dry_ml_per_g(self) -> Floats:
        """Dry volume per gram of each tint, shape (n,)."""
        return np.array([tint.dry_ml_per_g for tint in self.tints])

    def panels(self) -> list[PanelSpec]:
        """Return what is drawn down for the bank."""
        if self.conditions.doses_percent is None:
            return letdown_panels(self.specs)
        white, others = self.specs[0].name, self.specs[1:]
        return [PanelSpec(f"{white} masstone", {white: PANEL_G})] + [
            PanelSpec(f"{tint.name} {dose:g} %", {tint.name: PANEL_G * dose / 100, white: PANEL_G * (1 - dose / 100)})
            for tint in others
            for dose in self.conditions.doses_percent
        ]

    def bank(self, panels: Sequence[PanelSpec] | None = None) -> Bank:
        """Return the bank that the panels give, weighed and read as this shop does; each call draws anew."""
        r, c = self._bank_random, self.conditions
        drawn = self.panels() if panels is None else list(panels)
        meant = np.array([[panel.grams.get(spec.name, 0.0) for spec in self.specs] for panel in drawn])
        mixed = (meant > 0) & (meant < meant.sum(axis=1, keepdims=True))
        minor = mixed & (meant < meant.max(axis=1, keepdims=True))
        weighed = meant * np.exp(c.amount * r.standard_normal(meant.shape) * minor)
        weighed = np.maximum(weighed + c.weighing_g * r.standard_normal(meant.shape) * mixed, 0)
        read = self.read(self.spray(weighed, np.ones(len(self.specs)), r), r, repeats=1)
        return Bank(
            "workshop", "di8", 1.5, self.tints,
            tuple(
                Panel(panel.name, tuple(panel.grams.items()), None, None, repeats)
                for panel, repeats in zip(drawn, read, strict=True)
            ),
            (), "",
        )  # fmt: skip

    def lots(self, r: np.random.Generator) -> Floats:
        """Return the strengths of the tins opened today, shape (n,); 1 is as in the bank."""
        count = len(self.specs)
        far = r.uniform(size=count) < self.conditions.lot_far
        return np.exp(self.conditions.lot * r.standard_normal(count)) * np.where(far, 0.5, 1.0)

    def spray(self, grams: Floats, strengths: Floats, r: np.random.Generator | None = None) -> Floats:
        """Return the true reflectance of hiding films, shape (..., 31), as a flawless instrument reads it.

        Parameters
        ----------
        grams : ndarray, shape (..., n)
            As they are in the tin.
        strengths : ndarray, shape (n,)
        r : Generator or None
            Draws what is this card's own (stirring); None leaves that out, as for a colour that is only wished for.
        """
        shares = volume_fractions(grams, self.dry_ml_per_g)
        log = shares @ self._neighbours.T
        if r is not None:
            log = log + self.conditions.card * r.standard_normal(shares.shape)
        factor = np.where(shares < shares.max(axis=-1, keepdims=True), np.exp(log), 1.0)
        return film_reflectance(shares * factor * strengths, [spec.pigment for spec in self.specs])

    def read(self, truth: Floats, r: np.random.Generator, repeats: int | None = None) -> Floats:
        """Return the repeats of readings of panels, shape (..., repeats, 31), with texture, bias and noise."""
        c = self.conditions
        count = c.readings if repeats is None else repeats
        shape = (*truth.shape[:-1], count)
        surface = truth[..., None, :] + c.texture * r.standard_normal((*shape, 1))
        seen = surface * self._gain * (1 + self._slope * np.linspace(-1, 1, truth.shape[-1])) + self._zero
        noisy = seen + c.noise * r.standard_normal((*shape, truth.shape[-1]))
        return np.clip(noisy, 1e-5, 1.2)

    def fill(self, grams: Floats, letdowns: Sequence[Letdown], r: np.random.Generator) -> tuple[Floats, Floats]:
        """Return a new tin of so many grams of each tint, and what the scale shows of it; arguments as of `add`."""
        empty = np.zeros(len(self.specs))
        return self.add(empty, empty, grams, letdowns, r)

    def add(
        self, tin: Floats, shown: Floats, added: Floats, letdowns: Sequence[Letdown], r: np.random.Generator
    ) -> tuple[Floats, Floats]:
        """Return a tin after an addition, and what it is said to hold then: poured straight, then by letdowns.

        Parameters
        ----------
        tin, shown : ndarray, shape (n,)
            Grams in the tin, and what the scale showed of them.
        added : ndarray, shape (n,)
            Grams to add.
        letdowns : sequence of Letdown
            How some of them are poured: with the cup's own slips, and what stays in the cup lost. What is said is as
            much as the whole tin would have taken.
        r : Generator
        """
        names = [spec.name for spec in self.specs]
        by_letdown = [names.index(one.tint) for one in letdowns]
        at_once = added.copy()
        at_once[by_letdown] = [one.straight_g for one in letdowns]
        landed, read = self.pour(at_once, r)
        tin, said = tin + landed, shown + read
        for i, one in zip(by_letdown, letdowns, strict=True):
            in_cup, in_cup_shown = self._poured(one.tint_g, r)
            filled, _ = self._poured(PARTS * in_cup_shown, r)
            too_much = read[i] - one.straight_g  # of what was poured straight: so much less by the letdown
            back, _ = self._poured(one.back_g - PARTS * too_much, r)
            taken = (filled - in_cup) * tin / tin.sum()
            cup = taken.copy()
            cup[i] += in_cup
            tin = tin - taken + back * cup / cup.sum()
            said[i] = shown[i] + added[i]
        return tin, said

    def _poured(self, grams: float, r: np.random.Generator) -> tuple[float, float]:
        """Return what lands of one pour, and what the scale shows of it."""
        landed, shown = self.pour(np.array([grams]), r)
        return float(landed[0]), float(shown[0])

    def pour(self, grams: Floats, r: np.random.Generator) -> tuple[Floats, Floats]:
        """Return what lands in the tin for grams that were asked for, and what the scale shows of it."""
        asked = np.asarray(grams, dtype=float)
        slip = self.conditions.pour_g * r.standard_normal(asked.shape)
        landed = np.where(asked > 0, np.maximum(asked + slip, self.conditions.step_g), 0.0)
        return landed, np.round(landed / self.conditions.step_g) * self.conditions.step_g
