"""Tints known by colours alone are taken for kinds of pigment: to their good, never to their harm."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from booth.banks import tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import WAVELENGTHS_NM, Floats, de00, reflectance_to_lab
from finishmatch.optics import Bank, BankFit, Panel, Tint, fit_bank, predicted_reflectance, volume_fractions
from finishmatch.optics.bank import SeenColour
from finishmatch.optics.curvature import Processes
from finishmatch.optics.pigment_kinds import kind_of, pigment_kinds
from finishmatch.optics.pigment_prior import by_pigments
from finishmatch.optics.seen_panels import seen_labs, stand_in
from finishmatch.optics.surface import usual_surface
from finishmatch.readings import load_fit, store_fit
from finishmatch.readings.fit_file import own_digest

SEED, TINTS, SD = 53, 8, 0.7
NAMES = ("PW6", "PBk7", "PY42", "PB15:3", "PR101", "PG7", "PY154", "PR122")
SPECS = tint_specs(SEED, TINTS)
DRY = np.array([spec.volume_solids / spec.density_kg_l for spec in SPECS])
SURFACE = usual_surface(1.5, "di8")


def true(grams: Floats) -> Floats:
    """What mixtures of the tints read."""
    return film_reflectance(volume_fractions(grams, DRY), [spec.pigment for spec in SPECS])


@cache
def bank(names: tuple[str, ...], read: tuple[int, ...] = ()) -> Bank:
    """Two letdowns of each tint, and the white, seen by a camera; of some tints they were read by an instrument."""
    tints = tuple(
        Tint(s.name, s.role, name, s.density_kg_l, s.volume_solids, 30.0, 5000.0)
        for s, name in zip(SPECS, names, strict=True)
    )
    white = 100 * np.eye(TINTS)[0]
    letdowns = [(t, (1 - share) * white + share * 100 * np.eye(TINTS)[t]) for share in (0.4, 0.05) for t in range(1, 8)]
    r, panels = np.random.default_rng(3), []
    for tint, grams in [(0, white), *letdowns]:
        reading = true(grams[None])[0]
        lab = seen_labs(reading, SURFACE) + r.normal(0, SD, 3)
        seen = SeenColour(lab, np.eye(3) * SD**2, "", np.zeros((3, 3)))
        parts = tuple((s.name, float(g)) for s, g in zip(SPECS, grams, strict=True) if g > 0)
        known = (reading[None], None) if tint in read else (stand_in(seen, SURFACE)[None], seen)
        panels.append(Panel(f"panel {len(panels)}", parts, None, None, *known))
    return Bank("pigments", "di8", 1.5, tints, tuple(panels), (), "")


@cache
def fitted(names: tuple[str, ...], read: tuple[int, ...] = ()) -> BankFit:
    """The fit of such a bank."""
    return fit_bank(bank(names, read))


def kinds(fit: BankFit) -> tuple[str, ...]:
    """What the tints are taken for."""
    assert fit.posterior is not None
    return fit.posterior.beliefs.kinds


def unseen(fit: BankFit, light: str = "D65") -> float:
    """How far mixtures are foretold from what they are, median ΔE00."""
    r = np.random.default_rng(1)
    grams = np.zeros((40, TINTS))
    for row in grams:
        used = r.choice(np.arange(1, TINTS), 2, replace=False)
        row[used] = np.exp(r.uniform(np.log(0.5), np.log(12), 2))
        row[0] = 100 - row.sum()
    labs = [reflectance_to_lab(each, light, 10) for each in (predicted_reflectance(fit.optics, grams), true(grams))]
    return float(np.median(de00(*labs)))


@pytest.fixture(scope="module")
def without() -> BankFit:
    """The fit of the bank as if no kind of pigment were known."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("finishmatch.optics.pigment_prior._only_seen", lambda _: [])
        return fit_bank(bank(NAMES))


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("PB15:3", "phthalo blue"),
        ("pbk7", "black"),
        ("PBr7", "brown earth"),
        ("PR 101", "red oxide"),
        ("PW6 PW5", "white"),  # of one kind
        ("PB15:1 PW6", ""),  # of two
        ("PB999", ""),
        ("", ""),
    ],
)
def test_a_colour_index_name_says_the_kind(name: str, kind: str) -> None:
    assert kind_of(name) == kind


def test_kinds_look_like_what_they_are_called() -> None:
    """A hiding film of each and a letdown in white, by Kubelka and Munk: hue and lightness as the trade knows them."""
    hues = {"yellow oxide": (60, 95), "red oxide": (10, 60), "phthalo blue": (225, 280), "phthalo green": (150, 210)}
    hues |= {"clean organic yellow": (85, 110), "organic red": (5, 45), "orange": (30, 75), "quinacridone": (-30, 15)}
    hues |= {"ultramarine blue": (260, 310), "dioxazine violet": (280, 330), "chrome oxide green": (110, 170)}
    for name, (low, high) in hues.items():
        kind = pigment_kinds()[name]
        k = 0.1 * np.exp(kind.log_k) + 0.9 * np.exp(pigment_kinds()["white"].log_k)
        q = k / (0.1 * np.exp(kind.log_s[0] + kind.s_shape) + 0.9)
        lab = reflectance_to_lab(1 + q - np.sqrt(q * (q + 2)))
        hue = float(np.degrees(np.arctan2(lab[2], lab[1])))
        assert any(low <= hue + turn <= high for turn in (-360, 0, 360)), (name, hue)
    assert all(kind.log_k.shape == WAVELENGTHS_NM.shape for kind in pigment_kinds().values())


def test_every_kind_is_a_banded_normal_density() -> None:
    """The solver keeps two diagonals on each side."""
    for kind in pigment_kinds().values():
        assert np.linalg.eigvalsh(kind.precision)[0] > 0
        assert np.abs(np.triu(kind.precision, 3)).max() == 0


@pytest.mark.slow
def test_named_tints_are_foretold_nearer(without: BankFit) -> None:
    fit = fitted(NAMES)
    assert kinds(fit) == tuple(kind_of(name) for name in NAMES)
    assert unseen(fit) <= 0.95 * unseen(without)
    assert unseen(fit, "A") <= 0.8 * unseen(without, "A")


@pytest.mark.slow
def test_by_how_much_all_tints_are_stronger_than_their_kinds_is_found_with_them() -> None:
    """The booth's tints absorb more than what they are kinds of: the mean of all, drawn to none."""
    fit = fitted(NAMES)
    assert fit.posterior is not None
    beliefs, field = fit.posterior.beliefs, fit.posterior.state.field
    off = [(field[:, i] - pigment_kinds()[name].log_k).mean() for i, name in enumerate(beliefs.kinds) if i]
    assert min(off) > 0.1
    assert beliefs.kinds_off == pytest.approx(np.mean(off), abs=0.15)


@pytest.mark.slow
def test_without_a_name_a_tint_is_taken_for_what_it_looks_like(without: BankFit) -> None:
    fit = fitted(("",) * TINTS)
    assert sum(a == f"like {b}" for a, b in zip(kinds(fit), kinds(fitted(NAMES)), strict=True)) >= 6
    assert unseen(fit) <= unseen(without)


@pytest.mark.slow
def test_a_wrong_name_does_no_harm_and_is_said(without: BankFit) -> None:
    wrong = (*NAMES[:2], NAMES[3], NAMES[2], *NAMES[4:])  # a blue's name on a yellow, and the other way round
    fit = fitted(wrong)
    assert kinds(fit)[2:4] != (kind_of(wrong[2]), kind_of(wrong[3]))
    assert unseen(fit) <= 1.02 * unseen(without)
    said = [warning for warning in fit.warnings if "check its name" in warning]
    assert [any(SPECS[tint].name in one for one in said) for tint in (2, 3)] == [True, True]
    assert not [warning for warning in fitted(NAMES).warnings if "check its name" in warning]


@pytest.mark.slow
def test_what_was_read_by_an_instrument_is_taken_for_nothing() -> None:
    """A tint with a spectrum keeps what is believed of any tint; the rest is still taken for its kind."""
    some = fitted(NAMES, read=(0, 3))
    assert kinds(some)[0] == kinds(some)[3] == ""
    assert kinds(some)[2] == "yellow oxide"
    every = fitted(NAMES, read=tuple(range(TINTS)))
    assert kinds(every) == ()
    assert every.posterior is not None
    same, said = by_pigments(every.posterior)
    assert same is every.posterior
    assert said == ()


def test_the_doubt_is_carried_and_spectra_sharpen_it() -> None:
    by_colour, by_spectrum = fitted(NAMES), fitted(NAMES, read=(0, 3))
    assert by_colour.K_sd[3].mean() > 2 * by_spectrum.K_sd[3].mean()
    posterior = by_colour.posterior
    assert posterior is not None
    drawn = posterior.draws(400)[0][:, :, 3]
    believed = np.linalg.inv(Processes.believed(posterior.problem, posterior.beliefs).of_field(TINTS, 0)[3])
    sharper = drawn.std(axis=0) / np.sqrt(np.diag(believed))
    assert sharper.max() < 1.1
    assert sharper.min() < 0.5


def test_where_no_white_sets_the_scale_no_kind_is_taken() -> None:
    named = bank(NAMES)
    none = replace(named, tints=(replace(named.tints[0], role="tint"), *named.tints[1:]))
    fit = fit_bank(none)
    assert kinds(fit) == ()


def test_a_kept_fit_keeps_what_tints_were_taken_for(tmp_path: Path) -> None:
    fit = fitted(NAMES)
    store_fit(tmp_path, bank(NAMES), fit)
    again = load_fit(tmp_path, bank(NAMES))
    assert again is not None
    assert again.posterior is not None
    assert fit.posterior is not None
    assert again.posterior.beliefs == fit.posterior.beliefs
    stored = (tmp_path / "fit.json").read_text("utf-8").replace("phthalo blue", "no such kind")
    document = json.loads(stored)
    del document["sha256"]
    (tmp_path / "fit.json").write_text(json.dumps(document | {"sha256": own_digest(document)}), "utf-8")
    assert load_fit(tmp_path, bank(NAMES)) is None
