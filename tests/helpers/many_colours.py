"""A record of thousands of cards, six hundred of them of one colour; and the nearest by an index, held against all."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks import test_find_speed as filling
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.ledger import Ledger, Tree, colour_index, colours_kept

COUNT, ALIKE = 3000, 600
SEEN = Tree(True, "D65", 10)
GREENISH = np.full(31, 0.3) * np.linspace(0.9, 1.1, 31)


def fill(ledger: Ledger, patch: pytest.MonkeyPatch, address: str = "") -> None:
    """Write the cards straight into the tables."""
    drawn = filling.spectra

    def spectra(count: int, r: np.random.Generator) -> np.ndarray:
        cards = drawn(count, r)
        cards[r.permutation(count)[:ALIKE]] = GREENISH
        return cards

    with patch.context() as patched:
        patched.setattr(filling, "spectra", spectra)
        filling.fill(ledger, COUNT, address)


def see_the_nearest(ledger: Ledger) -> None:
    """See that the index finds what computing all finds: near colours, lone ones, and beyond what can be seen."""
    r = np.random.default_rng(8)
    kept = colours_kept(ledger)
    numbers, jobs = (np.array([getattr(one, name) for one in kept]) for name in ("number", "job_id"))
    every = reflectance_to_lab(np.array([one.reflectance for one in kept]))
    beyond = np.array([[200.0, 300.0, -300.0], [50.0, 900.0, 0.0]])
    asked = np.concatenate([filling.wanted(r, 12), filling.alone(r, 12), beyond, reflectance_to_lab(GREENISH[None])])
    with colour_index(ledger, least=1) as index:
        assert index is not None
        for lab in asked:
            for most, within, without in ((10, None, None), (700, None, None), (5, 4.0, 3), (40, None, 7)):
                away = np.where(jobs == without, np.inf, de00(lab, every))
                last = np.partition(away, most - 1)[most - 1]
                reach = min(last, np.inf if within is None else within) + 1e-9
                found = index.nearest({SEEN: lab}, most, within, without)
                assert found == dict(zip(numbers[away <= reach].tolist(), jobs[away <= reach].tolist(), strict=True))
