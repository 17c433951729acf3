"""What is unknown of a bank: K and S of all tints, the amounts of all panels and the surface."""

from __future__ import annotations

from dataclasses import dataclass, replace
from dataclasses import field as another

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.panel_model import AmountFactors, Indices, amount_factors
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.surface import Surface

K2_RANGE = (0.40, 0.65)
BACK_RANGE = (0.0, 0.8)
_LEAST, _MOST = -20.0, 9.0  # of logarithms of K and S


@dataclass(frozen=True)
class Problem:
    """Panels to fit, the factors of their amounts, which panels are trusted, and whether the surface is fitted.

    `doubt`, shape (p,), multiplies the standard deviation of each reading; None: all are as they are. `shifted`, shape
    (p, 31), is what is added to readings before they are fitted (`in_colour`); None: nothing.
    """

    panels: PanelSet
    factors: AmountFactors
    trusted: Bools
    free_surface: bool = True
    doubt: Floats | None = None
    shifted: Floats | None = None

    @property
    def aimed_at(self) -> Floats:
        """The readings as they are fitted, shape (p, 31)."""
        return self.panels.readings if self.shifted is None else self.panels.readings + self.shifted

    @property
    def tints(self) -> int:
        """How many."""
        return len(self.panels.tints)

    @property
    def read(self) -> Bools:
        """Which of the trusted panels have a spectrum, shape (p,)."""
        return self.trusted & self.panels.spectral

    @property
    def per_um(self) -> bool:
        """Whether a film of known build tells the scale; if none does, it is held at 1."""
        return bool((~self.panels.hiding).any())

    def of_some(self, state: State, rows: Bools, tints: Indices) -> tuple[Problem, State]:
        """Return the problem of some tints, and of panels that hold no other, and where it starts from a state."""
        panels = self.panels.chosen(rows, tints)
        factors = amount_factors(panels)
        field = state.field[:, np.concatenate([tints, self.tints + tints])]
        shared = state.shared[: panels.shared]
        start = State(field, state.level[tints], np.zeros(factors.count), state.surface, shared)
        return Problem(panels, factors, self.trusted[rows]), start


@dataclass(frozen=True)
class State:
    """One setting of everything unknown, in logarithms.

    Parameters
    ----------
    field : ndarray, shape (31, 2n)
        K of every tint over the S of the anchor (the white), then the shape of S over that of the anchor; at the
        anchor's own place the shape of its S, which is the scale of all.
    level : ndarray, shape (n,)
        Of S over that of the anchor, at all wavelengths; at the anchor's place the level of the scale.
    factors : ndarray, shape (m,)
    surface : Surface
    shared : ndarray, shape (g, 3)
        What panels that were seen are off by together, in standard deviations.
    """

    field: Floats
    level: Floats
    factors: Floats
    surface: Surface
    shared: Floats = another(default_factory=lambda: np.zeros((0, 3)))

    def optics(self, anchor: int) -> tuple[Floats, Floats]:
        """Return K and S, shape (n, 31) each."""
        n = len(self.level)
        relative = self.field.T[n:] + self.level[:, None]
        scale = relative[anchor].copy()
        relative[anchor] = 0.0
        log_k = np.clip(self.field.T[:n] + scale, _LEAST, _MOST)
        return np.exp(log_k), np.exp(np.clip(relative + scale, _LEAST, _MOST))


def moved(problem: Problem, state: State, step: tuple[Floats, Floats]) -> State:
    """Return a state after a step of its field, shape (31, 2n), and of its border, shape (m + n + 2 + …), in range."""
    field, border = step
    m, n = problem.factors.count, problem.tints
    surface = state.surface
    if problem.free_surface:
        surface = replace(
            surface,
            k2=float(np.clip(surface.k2 + border[m + n], *K2_RANGE)),
            beam_back=float(np.clip(surface.beam_back + border[m + n + 1], *BACK_RANGE)),
        )
    return State(
        np.clip(state.field + np.clip(field, -1.5, 1.5), -25, 12),
        state.level + np.clip(border[m : m + n], -1, 1),
        state.factors + np.clip(border[:m], -0.5, 0.5),
        surface,
        state.shared + np.clip(border[m + n + 2 :][: state.shared.size].reshape(-1, 3), -3, 3),
    )
