"""What pigments are likely to be, held against real ones: watercolours as a shop's tints, their panels seen by a phone.

K and S of thirteen artists' pigments, as their washes on paper show them (`watercolour_data`), stand in for tins: the
white sets the scale. Letdowns and what is foretold are made from them by Kubelka and Munk; nothing of the kinds of
pigment (`pigment_kinds`) was. Colour Index names are those usual for such paints; sap green is a mixture and has none.
Each shop is fitted as if no kind were known, with its names, without, and with the names of other tints.
`python -m benchmarks.test_pigment_prior` measures eight shops.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from unittest.mock import patch

import numpy as np

from benchmarks.watercolour_bank import write_watercolours
from benchmarks.watercolour_data import PIGMENTS, load
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics import Bank, Panel, Tint, fit_bank, mixture_reflectance, predicted_reflectance
from finishmatch.optics.bank import SeenColour
from finishmatch.optics.seen_panels import seen_labs, stand_in
from finishmatch.optics.surface import usual_surface
from finishmatch.readings import read_bank

NAMES = ("PR108", "PR83", "PBr7", "PY3", "PY35", "PBr7", "", "PB35", "PB28", "PB29", "PB27", "PBk9", "PW4")
TINTS, MIXTURES, WASHES = 8, 30, 3  # of a shop; of each pigment
SHARES = {2: (0.4, 0.05), 4: (1.0, 0.4, 0.1, 0.02)}  # of a tint in the white
OWN_SD, SHARED_SD, IN_A_PICTURE, WEIGHED_SD = 0.7, 1.0, 8, 0.01
SURFACE = usual_surface(1.5, "di8")
WAYS = ("no kinds", "named", "without names", "wrong names")


@cache
def measured() -> tuple[Floats, Floats]:
    """Return K and S of the pigments, shape (13, 31), as a few of their single washes show them."""
    data = load()
    chosen = np.zeros(len(data.training.rows), dtype=bool)
    for pigment in range(len(PIGMENTS)):
        single = np.flatnonzero(~data.training.mixed & (data.training.millilitres[:, pigment] > 0))
        volumes = data.training.millilitres[single, pigment]
        chosen[single[np.argsort(volumes)[np.linspace(0, len(single) - 1, WASHES).round().astype(int)]]] = True
    with tempfile.TemporaryDirectory() as folder:
        bank = read_bank(write_watercolours(Path(folder) / "bank", data.training.chosen(chosen), data.paper))
    optics = fit_bank(bank).optics
    return optics.K, optics.S


class Shop:
    """Eight of the pigments of a seed, white and black among them, and the bank that a phone makes of their panels."""

    def __init__(self, seed: int, panels_a_tint: int) -> None:
        self.random = r = np.random.default_rng(seed)
        self.used = [12, 11, *map(int, r.choice(11, TINTS - 2, replace=False))]
        K, S = measured()
        self.K, self.S = K[self.used], S[self.used]
        white = 100 * np.eye(TINTS)[0]
        grams = [white]
        for share in SHARES[panels_a_tint]:
            grams += [share * 100 * np.eye(TINTS)[tint] + (1 - share) * white for tint in range(1, TINTS)]
        self.draw_down(np.array(grams))

    def draw_down(self, grams: Floats) -> None:
        """Draw panels down, shape (p, TINTS), and see them."""
        r, self.grams = self.random, grams
        poured = grams * np.exp(WEIGHED_SD * r.standard_normal(grams.shape))
        self.labs = seen_labs(self.true(poured), SURFACE) + r.normal(0, OWN_SD, (len(grams), 3))
        shared = r.normal(0, SHARED_SD, (-(-len(grams) // IN_A_PICTURE), 3))
        self.labs += np.repeat(shared, IN_A_PICTURE, axis=0)[: len(grams)]

    def true(self, grams: Floats) -> Floats:
        """Return what mixtures read."""
        return mixture_reflectance(grams, self.K, self.S, SURFACE)

    def bank(self, names: Sequence[str]) -> Bank:
        """Return the bank with Colour Index names."""
        tins = [PIGMENTS[i] for i in self.used]
        roles = ["white", "black", *["tint"] * (TINTS - 2)]
        tints = tuple(Tint(t, role, n, 1, 1, 30, 5000) for t, role, n in zip(tins, roles, names, strict=True))
        panels = []
        for i, (grams, lab) in enumerate(zip(self.grams, self.labs, strict=True)):
            own, shared = np.eye(3) * OWN_SD**2, np.eye(3) * SHARED_SD**2
            seen = SeenColour(lab, own, f"p{i // IN_A_PICTURE}", shared)
            parts = tuple((t, float(g)) for t, g in zip(tins, grams, strict=True) if g > 0)
            panels.append(Panel(f"panel {i}", parts, None, None, stand_in(seen, SURFACE)[None], seen))
        return Bank("real pigments", "di8", 1.5, tints, tuple(panels), (), "")

    def named(self, way: str) -> Bank:
        """Return the bank with its names, without, or with each coloured tint's name on another."""
        own = [NAMES[i] for i in self.used]
        wrong = [*own[:2], *own[3:], own[2]]
        return self.bank({"without names": [""] * TINTS, "wrong names": wrong}.get(way, own))

    def mixtures(self) -> Floats:
        """Return grams of mixtures of two or three tints with white."""
        r, grams = np.random.default_rng(9), np.zeros((MIXTURES, TINTS))
        for row in grams:
            used = r.choice(np.arange(1, TINTS), int(r.integers(2, 4)), replace=False)
            row[used] = np.exp(r.uniform(np.log(0.5), np.log(12), used.size))
            row[0] = 100 - row.sum()
        return grams


@dataclass(frozen=True)
class Off:
    """How far unseen mixtures are foretold from what they are, ΔE00: median and 90 in 100, under D65 and A."""

    d65: tuple[float, float]
    a: tuple[float, float]


@contextmanager
def kinds_known(known: bool) -> Iterator[None]:
    """Fit as if no kind of pigment were known."""
    if known:
        yield
        return
    with patch("finishmatch.optics.pigment_prior._only_seen", lambda _: []):
        yield


def off(seeds: Sequence[int], panels_a_tint: int, way: str) -> Off:
    """Return how far shops' unseen mixtures are foretold from what they are."""
    found: dict[str, list[float]] = {"D65": [], "A": []}
    for seed in seeds:
        shop = Shop(seed, panels_a_tint)
        with kinds_known(way != "no kinds"):
            optics = fit_bank(shop.named(way)).optics
        grams = shop.mixtures()
        for light, values in found.items():
            labs = [reflectance_to_lab(x, light, 10) for x in (predicted_reflectance(optics, grams), shop.true(grams))]
            values += list(de00(*labs))
    middle, most = ([float(np.quantile(v, q)) for v in found.values()] for q in (0.5, 0.9))
    return Off((middle[0], most[0]), (middle[1], most[1]))


def told(panels_a_tint: int, way: str, found: Off) -> str:
    """Return the figures as a line."""
    (d65, d65_most), (a, a_most) = found.d65, found.a
    return f"{panels_a_tint} panels, {way}: D65 {d65:.2f}, 9 in 10 {d65_most:.2f}; A {a:.2f}, {a_most:.2f}"


def test_real_pigments_are_foretold_nearer_by_their_names_and_little_is_lost_without_or_by_wrong_ones() -> None:
    found = {way: off(range(8), 2, way) for way in WAYS}
    print("", *(told(2, way, each) for way, each in found.items()), sep="\n")
    without, named = found.pop("no kinds"), found["named"]
    assert named.d65[0] <= 0.97 * without.d65[0]
    assert named.a[1] <= 0.9 * without.a[1]
    for way, each in found.items():
        assert each.d65[0] <= 1.05 * without.d65[0], way
        assert each.d65[1] <= 1.05 * without.d65[1], way
        assert each.a[0] <= 1.1 * without.a[0], way
        assert each.a[1] <= 1.1 * without.a[1], way


def main() -> None:
    """Print the figures of eight shops."""
    for panels_a_tint in SHARES:
        for way in WAYS:
            print(told(panels_a_tint, way, off(range(8), panels_a_tint, way)), flush=True)


if __name__ == "__main__":
    main()
