"""A card beside a piece: what a camera misreads of either is known as far as it is known what they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from finishmatch.colour import Floats, de00, de00_metric, reflectance_to_lab
from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.pair_by_looks import LEFT_OPEN_U95, pair_by_looks
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.piece_seen import piece_seen
from finishmatch.mix.refine import candidate_reflectance
from finishmatch.mix.relaxed_search import search_relaxed
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics
from finishmatch.optics.camera_look import CameraLook, PairLook
from finishmatch.readings import Reading
from finishmatch.readings.reading import DifferenceByBank
from tests.helpers.another_eye import BANK, OPTICS, as_read, look, mixture, without_gloss

PLAIN = replace(OPTICS, draws=None)


def pieces(count: int, seed: int = 3) -> list[Floats]:
    """Grams of pieces, of three tints in white."""
    rng, found = np.random.default_rng(seed), []
    for _ in range(count):
        grams = np.zeros(9)
        grams[rng.choice(np.arange(1, 9), 3, replace=False)] = rng.uniform(2, 30, 3)
        found.append(grams + np.eye(9)[0] * 300)
    return found


def target_of(piece: Floats) -> ColourTarget:
    """A piece as a photograph and the bank tell it."""
    return _target_of(tuple(piece.tolist()))


@cache
def _target_of(grams: tuple[float, ...]) -> ColourTarget:
    spectrum = mixture(np.array(grams))
    found = piece_seen(as_read(spectrum), [look(without_gloss(spectrum))], OPTICS)
    assert found is not None
    gloss = as_read(spectrum).labs[0] - look(without_gloss(spectrum)).lab
    return colour_target(Reading("piece", (found.lab + gloss)[None]), ("D65", "A"), 10)


def recipe(piece: Floats, rng: np.random.Generator) -> Floats:
    """Grams of some recipe for that, as poured by another hand."""
    target = target_of(piece)
    found, _ = search_relaxed(target, PLAIN, 4, np.ones(9))
    near = de00(reflectance_to_lab(candidate_reflectance(found, PLAIN)), target.labs[0]) < 0.5
    one, grams = int(rng.choice(np.flatnonzero(near))), np.zeros(9)
    used = found.members[one] >= 0
    grams[found.members[one][used]] = 300 * found.shares[one][used]
    return np.asarray(grams * np.exp(0.03 * rng.standard_normal(9)))


def both_of(standard: CameraLook, trial: CameraLook, sd: float = 0.1) -> PairLook:
    """The two in one picture, of which each axis of their difference is off by so much."""
    return PairLook(standard, trial, sd**2 * np.eye(3))


def sprayed(optics: TintOptics = OPTICS) -> SprayedCard:
    """A card of that bank; what was read of it plays no part here."""
    return SprayedCard(Reading("card", np.zeros((1, 3))), optics, BANK, Scale())


def parts(grams: Floats) -> tuple[tuple[str, float], ...]:
    return tuple((name, float(one)) for name, one in zip(OPTICS.names, grams, strict=True) if one > 0)


def told(piece: Floats, card: Floats, lights: Sequence[str] = ("D65",), misfit: float = 0.01) -> DifferenceByBank:
    """What the two are told to differ by in daylight, by pictures in some lights."""
    return every(piece, card, lights, misfit)["D65"]


def every(
    piece: Floats, card: Floats, lights: Sequence[str], misfit: float = 0.01, tins: Floats | float = 1.0
) -> dict[str, DifferenceByBank]:
    """The same in each light, by tins of other strengths than the bank's."""
    shown, seen = strong(card, tins), mixture(piece)
    pairs = [both_of(*(looked(one, light, misfit) for one in (seen, shown))) for light in lights]
    return dict(pair_by_looks(target_of(piece), OPTICS, sprayed(), parts(card), [pairs[0].standard], pairs))


def looked(spectrum: Floats, light: str, misfit: float) -> CameraLook:
    return replace(look(without_gloss(spectrum), light), misfit=misfit)


def strong(grams: Floats, tins: Floats | float) -> Floats:
    """What a card reflects that was poured from tins so strong."""
    return mixture(grams * tins) if np.ndim(tins) else mixture(grams)


def away(found: Floats, piece: Floats, card: Floats, light: str = "D65", tins: Floats | float = 1.0) -> float:
    """How far a difference is from the true one, ΔE00."""
    standard, trial = (
        reflectance_to_lab(without_gloss(one), light, 10) for one in (mixture(piece), strong(card, tins))
    )
    return float(np.linalg.norm(de00_metric(standard) @ (found - (trial - standard))))


def photographed(piece: Floats, card: Floats, light: str = "D65") -> Floats:
    """The difference of the two as the camera has it."""
    standard, trial = (look(without_gloss(mixture(one)), light).lab for one in (piece, card))
    return trial - standard


@cache
def _of_many() -> tuple[list[float], list[float], list[float]]:
    """Of twelve pairs, how far the camera and the bank have the difference off, and what the bank states."""
    rng, seen, by_bank, stated = np.random.default_rng(8), [], [], []
    for piece in pieces(12):
        card = recipe(piece, rng)
        found = told(piece, card)
        seen.append(away(photographed(piece, card), piece, card))
        by_bank.append(away(found.delta, piece, card))
        stated.append(found.u95)
    return seen, by_bank, stated


def test_the_difference_is_told_nearer_than_the_camera_has_it() -> None:
    seen, by_bank, _ = _of_many()
    assert np.sqrt(np.square(seen).mean()) > 0.8
    assert np.sqrt(np.square(by_bank).mean()) < 0.7 * np.sqrt(np.square(seen).mean())


def test_what_is_stated_of_it_holds() -> None:
    _, by_bank, stated = _of_many()
    assert np.mean(np.array(by_bank) <= stated) >= 0.8
    assert max(stated) <= LEFT_OPEN_U95


def test_a_card_of_the_pieces_own_recipe_is_found_to_be_it_as_nearly_as_is_stated() -> None:
    for piece in pieces(4, 5):
        found = told(piece, piece)
        assert away(found.delta, piece, piece) < min(found.u95, 0.8)


def test_lamps_tell_more_and_the_difference_under_them_too() -> None:
    rng, day, lit, lamp = np.random.default_rng(8), [], [], []
    for piece in pieces(8):
        card = recipe(piece, rng)
        by_both = every(piece, card, ("D65", "A"))
        day.append(told(piece, card).u95)
        lit.append(by_both["D65"].u95)
        lamp.append(away(by_both["A"].delta, piece, card, "A") / by_both["A"].u95)
    assert np.mean(lit) < 0.8 * np.mean(day)
    assert max(lamp) < 1.5


def test_what_a_card_shows_of_its_tins_isnt_taken_away() -> None:
    """A tin a third stronger than the bank's is seen on the card, whatever the bank has of it."""
    piece = pieces(1)[0]
    tins = np.where(piece == piece[1:].max(), 1.33, 1.0)
    found = every(piece, piece, ("D65",), tins=tins)["D65"]
    whole = away(np.zeros(3), piece, piece, tins=tins)
    assert whole > 1.5
    assert away(found.delta, piece, piece, tins=tins) < 0.5 * whole


def test_the_less_the_camera_is_known_the_less_is_told() -> None:
    rng, piece = np.random.default_rng(8), pieces(1)[0]
    card = recipe(piece, rng)
    assert told(piece, card, misfit=0.06).u95 > 1.2 * told(piece, card).u95


def test_a_picture_that_is_full_of_noise_tells_less() -> None:
    piece = pieces(1)[0]
    card = recipe(piece, np.random.default_rng(8))
    looks = [look(without_gloss(mixture(one))) for one in (piece, card)]
    fine, grainy = (
        pair_by_looks(target_of(piece), OPTICS, sprayed(), parts(card), [], [both_of(*looks, sd)])["D65"].u95
        for sd in (0.05, 0.8)
    )
    assert grainy > 1.3 * fine
    assert grainy > 1.5


def test_what_the_bank_leaves_open_is_left_open_of_the_difference() -> None:
    rng = np.random.default_rng(2)
    draws = np.stack([np.stack([OPTICS.K, OPTICS.S]) * np.exp(0.2 * rng.standard_normal((2, 9, 1))) for _ in range(16)])
    piece = pieces(1)[0]
    card = recipe(piece, np.random.default_rng(8))
    pairs = [both_of(*(look(without_gloss(mixture(one))) for one in (piece, card)))]
    unsure = replace(OPTICS, draws=draws)
    found = pair_by_looks(target_of(piece), unsure, sprayed(unsure), parts(card), [], pairs)
    assert found["D65"].u95 > told(piece, card).u95


def test_nothing_is_told_of_a_piece_that_no_mixture_stands_for_nor_without_pictures() -> None:
    piece = pieces(1)[0]
    card, both = parts(piece), both_of(look(without_gloss(mixture(piece))), look(without_gloss(mixture(piece))))
    vivid = colour_target(Reading("vivid", np.array([[50.0, 90, -90]])), ("D65",), 10)
    assert pair_by_looks(vivid, OPTICS, sprayed(), card, [], [both]) == {}
    assert pair_by_looks(target_of(piece), OPTICS, sprayed(), card, [], []) == {}
    other = mixture(np.array([100.0, 0, 0, 40, 0, 0, 0, 0, 30]))
    lamp = both_of(*(look(without_gloss(other), "A") for _ in range(2)))
    assert pair_by_looks(target_of(piece), OPTICS, sprayed(), card, [], [both, lamp]) == {}


def test_of_a_piece_that_an_instrument_read_the_difference_is_told_nearer_unless_the_pictures_show_another() -> None:
    rng, guessed, read = np.random.default_rng(8), [], []
    for piece in pieces(8):
        card, spectrum = recipe(piece, rng), mixture(piece)
        pairs = [both_of(*(look(without_gloss(mixture(one))) for one in (piece, card)))]
        target = colour_target(Reading("piece", spectrum[None]), ("D65", "A"), 10)
        found = pair_by_looks(target, OPTICS, sprayed(), parts(card), [], pairs)["D65"]
        guessed.append(away(told(piece, card).delta, piece, card))
        read.append(away(found.delta, piece, card))
    assert np.sqrt(np.square(read).mean()) < 0.7 * np.sqrt(np.square(guessed).mean())
    shown = both_of(*(look(without_gloss(mixture(pieces(1)[0]))) for _ in range(2)))
    assert pair_by_looks(target, OPTICS, sprayed(), parts(card), [], [shown]) == {}


def test_a_tint_that_the_bank_doesnt_know_is_refused() -> None:
    piece = pieces(1)[0]
    both = both_of(*(look(without_gloss(mixture(piece))) for _ in range(2)))
    with pytest.raises(InputError, match="optics aren't known"):
        pair_by_looks(target_of(piece), OPTICS, sprayed(), (("pink", 3.0),), [], [both])


def test_it_doesnt_hang_on_the_last_digits() -> None:
    piece = pieces(1)[0]
    card = recipe(piece, np.random.default_rng(8))
    pairs = [both_of(*(look(without_gloss(mixture(one))) for one in (piece, card)))]
    trembled = replace(OPTICS, K=OPTICS.K * (1 + 1e-12), S=OPTICS.S * (1 - 1e-12))
    one, other = (
        pair_by_looks(target_of(piece), optics, sprayed(optics), parts(card), [], pairs)["D65"]
        for optics in (OPTICS, trembled)
    )
    assert np.abs(one.delta - other.delta).max() < 1e-6
    assert one.u95 == pytest.approx(other.u95, abs=1e-6)
