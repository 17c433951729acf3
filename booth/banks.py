"""Banks for tests and benchmarks, drawn in the virtual booth from pigments of a seed (none of them the demo's)."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from booth.bank_writer import Noise, TintSpec, drawdown_panels, letdown_panels, write_bank
from booth.pigments import Floats, random_pigments
from finishmatch.optics import Bank, Surface, Tint, TintOptics
from finishmatch.readings import read_bank


def tint_specs(seed: int, count: int, anisotropy: float = 0.0) -> list[TintSpec]:
    """Return tins of pigments from a seed, of various densities and solids; the first is the white."""
    r = np.random.default_rng(seed)
    roles = {0: "white", 1: "black"}
    return [
        TintSpec(
            pigment, roles.get(i, "tint"), "", float(r.uniform(1, 1.6)), float(r.uniform(0.28, 0.42)),
            float(r.uniform(15, 90)), 5000.0,
        )
        for i, pigment in enumerate(random_pigments(seed, count, anisotropy))
    ]  # fmt: skip


def booth_bank(tints: Sequence[TintSpec], noise: Noise | None = None, *, thin: bool = False, seed: int = 1) -> Bank:
    """Return the bank that panels of these tints give: letdowns and shadings, and with `thin` films of known build."""
    panels = letdown_panels(tints)
    if thin:
        panels += drawdown_panels(tints, [tint.name for tint in tints])
    with tempfile.TemporaryDirectory() as folder:
        write_bank(Path(folder), tints, panels, name="booth", noise=noise or Noise(), seed=seed)
        return read_bank(Path(folder))


def shelf(seed: int, count: int) -> tuple[tuple[Tint, ...], TintOptics]:
    """Return tints whose K and S are those of invented pigments, without panels to fit: enough to search in."""
    pigments = random_pigments(seed, count)
    tints = tuple(Tint(p.name, "tint", "", 1.2, 0.4, 30.0, 5000.0) for p in pigments)
    optics = TintOptics(
        tuple(p.name for p in pigments),
        np.stack([2 * p.mu_a for p in pigments]),
        np.stack([0.75 * p.mu_s * (1 - p.g) for p in pigments]),
        np.array([tint.dry_ml_per_g for tint in tints]),
        Surface(0.04, 0.5, True),
    )
    return tints, optics


def random_grams(seed: int, tints: int, count: int, white_share: float = 2 / 3) -> Floats:
    """Return grams of random mixtures of 2 to 4 tints, shape (count, tints); the first two thirds with white added."""
    r = np.random.default_rng(seed)
    grams = np.zeros((count, tints))
    for i in range(count):
        size = int(r.integers(2, 5))
        grams[i, r.choice(tints, size, replace=False)] = r.dirichlet(np.ones(size))
        if i < white_share * count:
            grams[i, 0] += r.uniform(0.2, 2)
    return grams
