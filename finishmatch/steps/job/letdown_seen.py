"""A letdown that was seen beside its panel: what the bank makes of the panel, and what the two show of the tins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.card_strengths import CardStrengths, card_strengths
from finishmatch.correct.pair_by_looks import letdown_by_looks
from finishmatch.correct.sprayed_film import sprayed_film
from finishmatch.optics import Panel, TintOptics, predicted_reflectance
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.seen import told_by_bank
from finishmatch.steps.bank import FittedBank, grounds_in_contact
from finishmatch.steps.spray_out_strengths import Poured

_ANY_SD = 0.7  # of ln strength where nothing is taken for granted: half or double («common practice»)
_NEAR_SD = 0.15  # of it about what the photographs by themselves show of a tin; three times that is looked at


def as_made(fitted: FittedBank, panel: Panel) -> Reading:
    """Return what the bank by itself makes of a panel."""
    parts = fitted.bank.coloured(panel)
    film = _film(fitted, panel).chosen([tint for tint, _ in parts])
    made = predicted_reflectance(film, np.array([grams for _, grams in parts]))
    return Reading(panel.name, made[None])


def by_what_was_seen(fitted: FittedBank, panel: Panel, reading: Reading, poured: Poured) -> Reading:
    """Return a letdown that was seen beside its panel as the bank has the two: by what the camera saw of them."""
    pairs = [pair for one in reading.seen for pair in one.looks]
    if not pairs:
        return reading
    found = of_any_tins(fitted, panel, reading, poured)
    near = StrengthPrior.default(found.optics.names, _NEAR_SD)
    near.log_mean[:] = np.log(found.strengths.factors)
    card = SprayedCard(reading, _film(fitted, panel), fitted.bank.tints, poured.scale, near)
    told = letdown_by_looks(card, poured.parts, tuple(panel.grams), pairs, reading.seen[0].observer)
    seen = tuple(replace(one, by_bank=told.get(one.light)) for one in reading.seen)
    return told_by_bank(replace(reading, seen=seen))


def _film(fitted: FittedBank, panel: Panel) -> TintOptics:
    """Return the optics of the bank alone, in the film that a panel was drawn as."""
    alone = replace(fitted, today=None).usable_optics
    return sprayed_film(alone, grounds_in_contact(fitted.bank), panel.ground or "", panel.build_um).optics


def of_any_tins(fitted: FittedBank, panel: Panel, reading: Reading, poured: Poured) -> CardStrengths:
    """Return what a letdown seen beside its panel shows of tins of which nothing is taken for granted."""
    any_tins = StrengthPrior.default([tint for tint, _ in poured.parts], _ANY_SD)
    film, beside = _film(fitted, panel), tuple(panel.grams)
    return card_strengths(film, fitted.bank.tints, poured.parts, reading, poured.scale, any_tins, beside=beside)
