"""Photographs of the shop's card with a standard and a spray-out near it in the windows, rendered and read."""

from __future__ import annotations

import tempfile
from pathlib import Path
from unittest import mock

import numpy as np

from booth.card_readings import CardFrame
from booth.card_scenes import card_jpeg, card_photograph, drawn_card, quad_in, quarters
from booth.photo_scenes import OF_EACH, as_opened, close_to, paints
from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.photo import read
from finishmatch.photo.card.layout import card_layout
from finishmatch.photo.card.register import check_card, register_card
from finishmatch.photo.find.regions import Region
from finishmatch.photo.read import PhotoReading
from finishmatch.photo.side_by_side import SideBySide, doubt_under

WINDOWS = ("standard", "spray-out")
PAIRS = 3
UNLIKE = 0.2
OTHERS, ROUNDS, STEP = 7, 8, 1e-4  # of the nearest paints one is taken; steps of Newton's to its colour


def near_pairs(seed: int) -> Floats:
    """Return three paints and one near each, shape (2, 3, 31)."""
    r = np.random.default_rng([seed, 58])
    standards = paints()[r.choice(2 * OF_EACH, PAIRS, replace=False)]
    return np.stack([standards, [close_to(one, r) for one in standards]])


def other_pigments(seed: int, unlike: float = UNLIKE) -> Floats:
    """Return three paints and one of other pigments that looks nearly like each (D65), shape (2, 3, 31).

    Another paint near it, brought to its colour by a smooth factor along the wavelengths, and so much of that in the
    first. With `UNLIKE` a camera sees the two differ as it does cards and pieces of the trial by commands
    (benchmarks/test_phone_shop.py), 0.1 otherwise than the eye in the median, 0.4 in 90 of 100.
    """
    r = np.random.default_rng([seed, 59])
    known = paints()
    labs = reflectance_to_lab(known)
    along = np.linspace(-1, 1, known.shape[1])
    terms = np.stack([np.ones_like(along), along, along**2])
    twins = []
    standards = r.choice(2 * OF_EACH, PAIRS, replace=False)
    for i in standards:
        other = known[r.choice(np.argsort(((labs - labs[i]) ** 2).sum(axis=1))[1:OTHERS])]
        wanted, weight = labs[i] + r.normal(0, 0.2, 3), np.zeros(3)
        for _ in range(ROUNDS):
            off = reflectance_to_lab(other * np.exp(weight @ terms)) - wanted
            moved = reflectance_to_lab(other * np.exp((weight + STEP * np.eye(3)) @ terms)) - wanted
            weight = weight - np.linalg.solve((moved - off).T / STEP, off)
        twin = np.clip(other * np.exp(weight @ terms), 0.0, 1.0)
        twins.append((1 - unlike) * known[i] + unlike * twin)
    return np.stack([known[standards], twins])


def pair(i: int) -> tuple[str, str]:
    """Return what standard and spray-out of a pair are called in the photograph."""
    standard, trial = WINDOWS
    return f"{standard} {i}", f"{trial} {i}"


def pairs_photographed(pairs: Floats, camera: str, light: str, number: int, seen_for: str = "D65") -> PhotoReading:
    """Return what is read of a photograph of the card with three pairs.

    Parameters
    ----------
    pairs : ndarray, shape (2, 3, 31)
        Spectra of what lies in the windows, three side by side.
    camera, light : str
        Of `photo_booth`.
    number : int
        Of the frame: how the card lies, how it is lit, and the file.
    seen_for : str
        The light it is read for.
    """
    frame = CardFrame(camera, light, number, chart=False)
    card = drawn_card(frame.inks, dict(zip(WINDOWS, pairs, strict=True)), camera, light, False)
    taken = card_photograph(card, frame.pose, frame.lamp, frame.shot)
    picture = as_opened(card_jpeg(taken, frame.shot.encoding))
    regions = [
        Region(f"{name} {i}", quad_in(frame.pose, frame.shot, box, 2.0))
        for name in WINDOWS
        for i, box in enumerate(quarters(name, PAIRS))
    ]
    assert set(WINDOWS) <= set(card_layout().windows)
    parts = {"card_regions": lambda picture, pose: (regions, []), "find_chart": lambda picture: None}
    with tempfile.TemporaryDirectory() as folder, mock.patch.multiple(read, **parts):
        register_card(Path(folder), "a print", check_card(frame.registered, "")[0], "2024-05-02T10:15:00Z")
        return read.read_photograph(picture, light=seen_for, home=Path(folder))


def seen_pairs(pairs: Floats, camera: str, light: str, number: int, seen_for: str = "D65") -> list[SideBySide]:
    """Return the three differences as such a photograph has them; none where it doesn't tell all three."""
    reading = pairs_photographed(pairs, camera, light, number, seen_for)
    found = {(one.standard, one.trial): one for one in reading.differences}
    seen = []
    for i in range(PAIRS):
        one = found.get(pair(i))
        if one is not None and one.doubt is not None:
            seen.append(SideBySide(f"{camera} {number} {i}", one.delta, doubt_under(one.doubt, seen_for)))
    return seen if len(seen) == PAIRS else []


def true_deltas(pairs: Floats, light: str = "D65") -> Floats:
    """Return what they are, shape (3, 3)."""
    return np.asarray(reflectance_to_lab(pairs[1], light, 10) - reflectance_to_lab(pairs[0], light, 10))
