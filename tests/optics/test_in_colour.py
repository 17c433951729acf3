"""Where the theory doesn't hold for a bank its K and S are those nearest in colour; where it holds nothing moves."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from booth.banks import booth_bank, tint_specs
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.optics import Bank, BankFit, CardPanel, Panel, bank_today, fit_bank, in_colour, predicted_reflectance
from finishmatch.optics.mixture import Backing
from finishmatch.optics.posterior import settled
from finishmatch.optics.surface import ground_in_contact
from finishmatch.readings import load_fit, store_fit
from tests.helpers.plain_paints import NAMES, PAINTS, TINTS, grams

CARD = np.full(31, 0.85)
BELOW = ground_in_contact(CARD, 1.5, True)
BUILDS_UM = (4.0, 10.0, 25.0)


def washed(name: str, build: float, poured: np.ndarray, bare: float) -> Panel:
    """A panel brushed so that some of the white card stays bare: no film is behind what is read of it."""
    film = predicted_reflectance(PAINTS.over(Backing("card", build, BELOW)), poured)
    named = tuple((tint, float(g)) for tint, g in zip(NAMES, poured, strict=True) if g > 0)
    return Panel(name, named, "card", build, ((1 - bare) * film + bare * CARD)[None])


def washes(shares: tuple[float, ...], seed: int) -> list[Panel]:
    bare = np.random.default_rng(seed)
    alone = [
        washed(f"{name} {build:g}", build, grams(**{name: 50.0}), bare.uniform(0, 0.1))
        for name in NAMES
        for build in BUILDS_UM
    ]
    return alone + [
        washed(
            f"{one} {other} {share:g} {build:g}",
            build,
            grams(**{one: 100 * share, other: 100 - 100 * share}),
            bare.uniform(0, 0.1),
        )
        for one, other in combinations(NAMES, 2)
        for share in shares
        for build in BUILDS_UM
    ]


@pytest.fixture(scope="module")
def bank() -> Bank:
    return Bank("washes", "di8", 1.5, TINTS[:4], tuple(washes((0.3, 0.8), 1)), (("card", CARD),), "washes")


@pytest.fixture(scope="module")
def fits(bank: Bank) -> tuple[BankFit, BankFit]:
    """The fit of the bank, and the posterior it was made from by reflectance alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("finishmatch.optics.fit.nearer_in_colour", lambda posterior: posterior)
        by_reflectance = fit_bank(bank)
    return fit_bank(bank), by_reflectance


def off(fit: BankFit, panels: list[Panel], light: str) -> float:
    """Mean ΔE00 of panels."""
    each = []
    for panel in panels:
        assert panel.build_um is not None
        film = fit.optics.over(Backing("card", panel.build_um, BELOW))
        ours = predicted_reflectance(film, grams(**dict(panel.grams)))
        each.append(float(de00(reflectance_to_lab(ours, light), reflectance_to_lab(panel.reflectance, light))))
    return float(np.mean(each))


def test_panels_never_seen_come_out_nearer_in_every_light(fits: tuple[BankFit, BankFit]) -> None:
    panels = washes((0.5,), 7)[12:]
    for light in ("D65", "A", "F11", "LED-B3"):
        assert off(fits[0], panels, light) < 0.97 * off(fits[1], panels, light)


def test_the_middle_costs_least(fits: tuple[BankFit, BankFit]) -> None:
    """Any small step from it costs more, by readings and colours together."""
    posterior = fits[0].posterior
    weights = in_colour._weights(fits[1].posterior)
    least = in_colour._cost(posterior.problem, posterior, weights, posterior.state)
    r = np.random.default_rng(4)
    for size in (0.003, 0.01):
        for _ in range(5):
            field = posterior.state.field + size * r.standard_normal(posterior.state.field.shape)
            level = posterior.state.level + size * r.standard_normal(posterior.state.level.shape)
            aside = replace(posterior.state, field=field, level=level)
            assert in_colour._cost(posterior.problem, posterior, weights, aside) > least


def test_the_middle_stays_when_panels_are_put_to_the_bank(fits: tuple[BankFit, BankFit], bank: Bank) -> None:
    posterior = fits[0].posterior
    again = settled(posterior.problem, posterior.beliefs, posterior.state, exact=1e-8)
    np.testing.assert_allclose(again.state.field, posterior.state.field, atol=0.02)
    poured = grams(white=60.0, blue=40.0)
    film = fits[0].optics.over(Backing("card", 10.0, BELOW))
    card = CardPanel(
        ("white", "blue"), ("white", "blue"), "one", poured[:2], predicted_reflectance(film, poured),
        np.full(31, 0.001), 0.05, film.backing,
    )  # fmt: skip
    today = bank_today(fits[0], [card], {"white": "white", "blue": "blue"}).fit
    panels = washes((0.5,), 7)[12:]
    assert off(today, panels, "D65") == pytest.approx(off(fits[0], panels, "D65"), rel=0.02)


def test_a_kept_fit_holds_what_pulls_at_its_middle(fits: tuple[BankFit, BankFit], bank: Bank, tmp_path: Path) -> None:
    store_fit(tmp_path, bank, fits[0])
    kept = load_fit(tmp_path, bank)
    np.testing.assert_array_equal(kept.posterior.problem.shifted, fits[0].posterior.problem.shifted)
    np.testing.assert_array_equal(kept.posterior.problem.aimed_at, fits[0].posterior.problem.aimed_at)


def test_a_kept_fit_whose_middle_was_pulled_aside_is_not_believed(
    fits: tuple[BankFit, BankFit], bank: Bank, tmp_path: Path
) -> None:
    posterior = fits[0].posterior
    assert posterior is not None
    assert posterior.problem.shifted is not None
    for shifted in (posterior.problem.shifted + 0.05, np.full_like(posterior.problem.shifted, np.inf)):
        aside = replace(posterior, problem=replace(posterior.problem, shifted=shifted))
        store_fit(tmp_path, bank, replace(fits[0], posterior=aside))
        assert load_fit(tmp_path, bank) is None


def test_readings_that_were_exchanged_are_named_where_no_film_model_fits(bank: Bank) -> None:
    """Amounts that are far off tell of nothing there; a panel that doesn't fit does."""
    panels = list(bank.panels)
    one, two = (i for i, panel in enumerate(panels) if panel.name in (f"{NAMES[0]} 25", f"{NAMES[3]} 25"))
    panels[one], panels[two] = (
        replace(panels[one], repeats=panels[two].repeats),
        replace(panels[two], repeats=panels[one].repeats),
    )
    fit = fit_bank(replace(bank, panels=tuple(panels)))
    assert fit.posterior is not None
    assert fit.slips[0].kind == "exchanged"
    assert {name.partition(" over ")[0] for name in fit.slips[0].panels} == {panels[one].name, panels[two].name}


def test_where_the_theory_holds_nothing_moves() -> None:
    fit = fit_bank(booth_bank(tint_specs(3, 6)))
    assert fit.posterior is not None
    assert fit.posterior.problem.shifted is None
    assert in_colour.nearer_in_colour(fit.posterior) is fit.posterior
