"""How a card differs from its piece by what a camera saw of the two, by what was poured and by what a piece may be.

A camera isn't the eye: of two paints that it sees alike the eye may see one redder, and no further photograph in that
light shows it. But what was poured into the card is known, and with it what the camera misreads of it; the piece may be
any mixture of the bank's tints, bent as other pigments would bend it, that the camera sees as it saw this one. Over all
of these the difference is what it is on the average, known to what they differ by.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # its `linalg`, slow to import, is loaded by the first card that was seen

from finishmatch.colour import Floats, de00_metric, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.correct.blunders import Parts, SprayedCard
from finishmatch.correct.card_strengths import coloured_parts
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.likely_pieces import (
    BENDS,
    DARKEST,
    LIGHTEST,
    LikelyPieces,
    gloss_read,
    likely_pieces,
    moved_by_draws,
)
from finishmatch.mix.looks_posterior import SHARED, Guessed, Seen, alike, chance_of, guessed, seen_of
from finishmatch.mix.metamers import smooth_bends
from finishmatch.optics import TintOptics, predicted_reflectance, strength_slope
from finishmatch.optics.camera_look import CameraLook, PairLook
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings.reading import DifferenceByBank

# Times as unsure of the strengths of the tins as is known: what a card shows of them is told by it afterwards, and
# mustn't count before (once or ten times makes hardly a difference: docs/accuracy.md, A card beside its piece)
_LOOSE = 3.0
# SD of ln R/(1 - R) by which a card is bent off what the bank makes of it, as a piece of its tints is
_CARD_BEND = 0.03
# ΔE00 in each direction by which two samples in a picture are off apart from one another, whatever the picture says
# («chosen»; halved or doubled it makes no difference)
APART_SD = 0.15
_READ = 0.01  # SD by which a piece is bent off what an instrument read of it: another place, another day
_ANOTHER = 1e-3  # chance of what was seen of a piece below which it isn't what an instrument read
LEFT_OPEN_U95 = 4.0  # ΔE00; a bank that leaves more open than that tells no more than the photographs do by themselves


def pair_by_looks(
    target: ColourTarget,
    optics: TintOptics,
    card: SprayedCard,
    batch: Parts,
    saw: Sequence[CameraLook],
    pairs: Sequence[PairLook],
) -> Mapping[str, DifferenceByBank]:
    """Return how a card differs from its piece in each light that pictures of the two were taken in.

    Nothing where no mixture of the tints can stand for the piece, or the bank leaves too much open; of a piece that an
    instrument read, where the pictures show another.

    Parameters
    ----------
    target : ColourTarget
        The piece, as the bank's instrument would have read it.
    optics : TintOptics
        Of the bank's tints, with the draws of what it leaves open where there are any.
    card : SprayedCard
        The film that it was sprayed as, and what was known of its tins before.
    batch : tuple of (tint, grams)
        What it was sprayed of.
    saw : sequence of CameraLook
        What a camera saw of the piece before.
    pairs : sequence of PairLook
        What it saw of the two in each picture.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the bank's, a batch without colour.
    """
    known = target.reflectance is not None
    likely = _as_read(target, optics) if known else likely_pieces(target, optics)
    if likely is None or not pairs or (known and _another(likely, pairs)):
        return {}
    told = _told(likely, (_READ,) if known else BENDS, _poured(card, batch), saw, pairs, target.lights[0])
    return _in_each_light(told, pairs, target.observer, gloss_read(optics))


def letdown_by_looks(
    card: SprayedCard, letdown: Parts, panel: Parts, pairs: Sequence[PairLook], observer: int
) -> Mapping[str, DifferenceByBank]:
    """Return how a letdown differs from the panel of the same tints beside it, in each light of the pictures.

    A camera misreads both alike, as it misreads those tints: no more is left open of it than the bank leaves.

    Parameters
    ----------
    card : SprayedCard
        The letdown: its film, and about which strengths of its tins it is looked for, and how far.
    letdown, panel : tuple of (tint, grams)
    pairs : sequence of PairLook
        What a camera saw of panel and letdown.
    observer : int
    """
    if not pairs:
        return {}
    parts, _ = coloured_parts(card.optics, card.tints, panel)
    grams, mine = np.array(list(parts.values())), card.optics.chosen(tuple(parts))
    read = predicted_reflectance(mine, grams)
    open_by = moved_by_draws(mine, grams, read)
    made = LikelyPieces(np.clip(read - gloss_read(mine), DARKEST, LIGHTEST)[None], np.ones(1), open_by[None])
    told = _told(made, (_READ,), _poured(card, letdown), (), pairs, pairs[0].standard.light)
    return _in_each_light(told, pairs, observer, gloss_read(mine))


def _told(
    likely: LikelyPieces,
    bends: Sequence[float],
    poured: _Poured,
    saw: Sequence[CameraLook],
    pairs: Sequence[PairLook],
    light: str,
) -> Guessed | None:
    """Return what both spectra are by all that was seen; None where no guess explains it."""
    means = np.stack([likely.spectra, np.broadcast_to(poured.spectrum, likely.spectra.shape)], axis=1)
    seen = _seen(means, saw, pairs, light)
    priors = [_prior(likely, poured, sd) for sd in bends]
    return guessed(likely.chance, means.reshape(len(means), -1), priors, seen)


def _in_each_light(
    found: Guessed | None, pairs: Sequence[PairLook], observer: int, gloss: float
) -> Mapping[str, DifferenceByBank]:
    """Return the difference in each light of the pictures; nothing where too much of it is left open."""
    if found is None:
        return {}
    lights = dict.fromkeys(pair.trial.light for pair in pairs)
    every = {light: _difference(found, light, observer, gloss) for light in lights}
    return every if max(one.u95 for one in every.values()) <= LEFT_OPEN_U95 else {}


def _as_read(target: ColourTarget, optics: TintOptics) -> LikelyPieces:
    """Return a piece that an instrument read: it is known what it is."""
    assert target.reflectance is not None
    spectrum = np.clip(target.reflectance - gloss_read(optics), DARKEST, LIGHTEST)
    draws = 0 if optics.draws is None else len(optics.draws)
    return LikelyPieces(spectrum[None], np.ones(1), np.zeros((1, draws, len(spectrum))))


def _another(known: LikelyPieces, pairs: Sequence[PairLook]) -> bool:
    """Tell whether the standard in pictures is another piece than the one that was read, or has changed since."""
    looks = [pair.standard for pair in pairs]
    noise = alike(looks, SHARED + (1 - SHARED) * np.eye(len(looks)))
    seen = seen_of(known.spectra[:, None], [(0, look) for look in looks], noise, looks[0].light)
    return chance_of(known.bent(_READ), seen) < _ANOTHER


@dataclass(frozen=True)
class _Poured:
    """A card's spectrum without gloss, (31,), its covariance by tins and bends, (31, 31), and how it moves with each
    draw of what the bank leaves open, (d, 31)."""

    spectrum: Floats
    covariance: Floats
    open_by: Floats


def _poured(card: SprayedCard, batch: Parts) -> _Poured:
    parts, _ = coloured_parts(card.optics, card.tints, batch)
    grams, mine = np.array(list(parts.values())), card.optics.chosen(tuple(parts))
    believed = (card.prior or StrengthPrior.default(mine.names)).chosen(mine.names)
    stirred = believed.stirred_in(mine.spread_of_ratios(grams, mine.amount_sd))
    today = mine.strengthened(believed.factors)
    read, per_log = strength_slope(grams * mine.dry_ml_per_g, today)
    spectrum = np.clip(read - gloss_read(mine), DARKEST, LIGHTEST)
    slope = spectrum * (1 - spectrum)
    bends = _CARD_BEND**2 * np.outer(slope, slope) * smooth_bends()
    covariance = _LOOSE**2 * per_log.T @ stirred.log_covariance @ per_log + bends
    return _Poured(spectrum, covariance, moved_by_draws(today, grams, read))


def _prior(likely: LikelyPieces, card: _Poured, sd: float) -> Floats:
    """Return the covariance of piece and card, shape (m, 62, 62): what the bank leaves open moves both."""
    size = len(card.spectrum)
    found = np.zeros((len(likely.spectra), 2 * size, 2 * size))
    found[:, :size, :size] = likely.bent(sd)
    found[:, size:, size:] = card.covariance + card.open_by.T @ card.open_by
    if likely.open_by.shape[1] == len(card.open_by):
        found[:, :size, size:] = np.einsum("mdw,dv->mwv", likely.open_by, card.open_by)
        found[:, size:, :size] = np.swapaxes(found[:, :size, size:], 1, 2)
    return found


def _seen(means: Floats, saw: Sequence[CameraLook], pairs: Sequence[PairLook], light: str) -> Seen:
    """Return by how much the camera's values are off what it would see: of the piece before, and of the two."""
    looks = [(0, look) for look in saw]
    for pair in pairs:
        looks += [(0, pair.standard), (1, pair.trial)]
    picture = np.array([*range(len(saw)), *np.repeat(np.arange(len(pairs)) + len(saw), 2)])
    share = SHARED + (1 - SHARED) * (picture[:, None] == picture)
    noise = alike([look for _, look in looks], share)
    least = [look.covariance(APART_SD) / 2 for _, look in looks]
    own = [np.zeros((3, 3)) for _ in saw] + [pair.noise / 2 for pair in pairs for _ in range(2)]
    noise = noise + scipy.linalg.block_diag(*(one + more for one, more in zip(least, own, strict=True)))
    return seen_of(means, looks, noise, light)


def _difference(found: Guessed, light: str, observer: int, gloss: float) -> DifferenceByBank:
    """Return the difference in a light over all that the two may be."""
    size = found.means.shape[1] // 2
    piece, card = found.means[:, :size] + gloss, found.means[:, size:] + gloss
    labs = reflectance_to_lab(piece, light, observer)
    apart = reflectance_to_lab(card, light, observer) - labs
    slopes = [reflectance_to_lab_slope(one, light, observer) for one in (piece, card)]
    by_both = np.concatenate([-slopes[0], slopes[1]], axis=-1)
    delta = found.chance @ apart
    between, within = apart - delta, by_both @ found.spreads @ np.swapaxes(by_both, 1, 2)
    covariance = np.einsum("m,mij->ij", found.chance, within + between[:, :, None] * between[:, None])
    metric = de00_metric(found.chance @ labs)
    u95 = WITHIN_95 * float(np.sqrt(np.trace(metric @ covariance @ metric.T) / 3))
    return DifferenceByBank(np.asarray(delta), np.asarray(covariance), u95)
