"""The fit settles in few steps, also where the surface can't be what the panels alone would have it be."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from booth.bank_writer import Noise
from booth.banks import booth_bank, tint_specs
from finishmatch.optics import posterior, unknowns
from finishmatch.optics.bordered import bordered
from finishmatch.optics.panel_model import amount_factors
from finishmatch.optics.panel_set import panel_set
from finishmatch.optics.posterior import settled
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.start import start_state
from finishmatch.optics.surface import Surface, fresnel_normal
from finishmatch.optics.unknowns import Problem

END = 0.5  # of k2, where the panels below have it at less


def test_a_surface_at_the_end_of_its_range_holds_nothing_up(monkeypatch: pytest.MonkeyPatch) -> None:
    panels, _ = panel_set(booth_bank(tint_specs(1, 5), Noise(0.0003, 0.01)))
    beliefs = Beliefs()
    start = start_state(panels, Surface(fresnel_normal(1.5), 0.575, True), beliefs)
    beliefs = replace(beliefs, scale_mean=float(start.level[panels.anchor]))
    problem = Problem(panels, amount_factors(panels), np.ones(len(panels.names), dtype=bool))
    steps = 0
    system = posterior.system

    def counted(*given: Any) -> Any:
        nonlocal steps
        steps += 1
        return system(*given)

    monkeypatch.setattr(posterior, "system", counted)
    free = settled(problem, beliefs, start, exact=1e-7)
    assert free.state.surface.k2 < END
    in_range, steps = steps, 0
    for module in (posterior, unknowns):
        monkeypatch.setattr(module, "K2_RANGE", (END, 0.65))
    held = settled(problem, beliefs, start, exact=1e-7)
    assert held.state.surface.k2 == END
    assert steps <= in_range + 3


@pytest.mark.parametrize("u", [6, 150])
def test_a_system_is_solved_as_a_dense_one_would_be(u: int) -> None:
    r = np.random.default_rng(3)
    w, b = 5, 4
    slopes = r.standard_normal((w, u, u + 3))
    normal = slopes @ slopes.transpose(0, 2, 1)
    bands = (9 + r.random((w, u)), r.standard_normal((w - 1, u)), r.standard_normal((w - 2, u)))
    cross, border = r.standard_normal((w, u, b)), 1e4 * np.eye(b)
    dense = np.zeros((w * u + b, w * u + b))
    for i in range(w):
        own = slice(i * u, (i + 1) * u)
        dense[own, own] = normal[i] + np.diag(bands[0][i])
        dense[own, w * u :], dense[w * u :, own] = cross[i], cross[i].T
        for apart in (1, 2):
            if i >= apart:
                before = slice((i - apart) * u, (i - apart + 1) * u)
                dense[own, before] = dense[before, own] = np.diag(bands[apart][i - apart])
    dense[w * u :, w * u :] = border
    right = r.standard_normal((w * u + b, 2))
    field, common = bordered(normal, bands, cross, border).solve(right[: w * u].reshape(w, u, 2), right[w * u :])
    found = np.concatenate([field.reshape(w * u, 2), common])
    np.testing.assert_allclose(dense @ found, right, atol=1e-6)
