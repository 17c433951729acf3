"""Photographed pieces as a bank has them: how near by what the camera saw, and how near by the colour that was read.

Mixtures of measured pigments (`test_photographed_bank`) that no panel shows, in the windows of the printed sheet before
either camera, in daylight and under a tungsten lamp: of the pigments of the bank, and of another shop's. The bank was
photographed too, or is known as by an instrument. The test reads one shop; `python -m
benchmarks.test_photographed_piece 8` so many, before both cameras.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.test_photographed_bank import ALL, TINTS, WINDOWS, Shop
from booth.photo_booth import CAMERAS
from booth.virtual_booth import specular_reflectance
from finishmatch.colour import Floats, de00, de00_metric, reflectance_to_lab
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.evidence.target import colour_target
from finishmatch.mix.piece_seen import piece_seen
from finishmatch.optics import TintOptics, fit_bank
from finishmatch.optics.camera_look import CameraLook
from finishmatch.photo.card.layout import window_name
from finishmatch.photo.colour_in_lights import read_in_lights
from finishmatch.photo.looks import panel_look
from finishmatch.photo.read import PhotoReading, PhotoRegion
from finishmatch.readings import Reading

LIGHTS = ("D65", "A", "F11")
OTHER_SHOP = 50


@dataclass(frozen=True)
class Piece:
    """A piece as it was read by some photographs: its spectrum without gloss, CIELAB and u95, what the camera saw."""

    spectrum: Floats
    lab: Floats
    u95: float
    looks: tuple[CameraLook, ...]


class Sheet(Shop):
    """Pieces in the windows of a sheet, painted by a shop, photographed by another."""

    def __init__(self, owner: Shop, painter: Shop, number: int) -> None:
        self.seed = 1000 * owner.seed + number
        r = np.random.default_rng([owner.seed, number])
        grams = np.zeros((WINDOWS, TINTS))
        for row in grams:
            used = r.choice(np.arange(1, TINTS), r.integers(2, 4), replace=False)
            row[used] = np.exp(r.uniform(np.log(0.5), np.log(12), used.size))
            row[0] = 100 - row.sum()
        self.spectra = [painter.true(grams)]

    def pieces(self, camera: str, under: Sequence[str]) -> list[Piece]:
        """Return those that were read in daylight, and by lamps."""
        day, *lamps = (self._read(camera, 0, 1, light) for light in ("D65", *under))
        joined, _ = read_in_lights(day, lamps)
        found = []
        for place, spectrum in enumerate(self.spectra[0], start=1):
            regions = [_shown(reading, place) for reading in (joined, day, *lamps)]
            if regions[0] is None:
                continue
            seen = zip((day, *lamps), regions[1:], strict=True)
            looks = [panel_look(reading, region) for reading, region in seen if region is not None]
            if all(look is not None for look in looks):
                known = tuple(look for look in looks if look is not None)
                found.append(Piece(spectrum - specular_reflectance(), regions[0].lab, regions[0].u95, known))
        return found


def _shown(reading: PhotoReading, place: int) -> PhotoRegion | None:
    return next((one for one in reading.regions if one.name == window_name(place)), None)


@dataclass
class Off:
    """By what pieces are off, ΔE00, as read and as the bank has them, the u95 stated of either, and in other lights."""

    read: list[float]
    bank: list[float]
    stated_read: list[float]
    stated: list[float]
    others: dict[str, list[float]]

    @property
    def in_words(self) -> str:
        """It in words."""
        held = np.mean(np.array(self.bank) <= np.array(self.stated))
        others = "; ".join(f"{light} {_size(off)}" for light, off in self.others.items())
        return (
            f"as read {_size(self.read)} (±{np.median(self.stated_read):.2f}), as the bank has it {_size(self.bank)} "
            f"(±{np.median(self.stated):.2f}, holds {100 * held:.0f}); in other lights {others}"
        )


def _size(off: Sequence[float]) -> str:
    return f"{np.median(off):.2f} ({np.quantile(off, 0.9):.2f}), {root_mean_square(off):.2f}"


def root_mean_square(off: Sequence[float]) -> float:
    """Return it."""
    return float(np.sqrt(np.square(off).mean()))


def off(pieces: Sequence[tuple[TintOptics, Piece]]) -> Off:
    """Return by what pieces are off that banks have to say something of; of others as they were read."""
    found = Off([], [], [], [], {light: [] for light in LIGHTS[1:]})
    for optics, piece in pieces:
        true = {light: reflectance_to_lab(piece.spectrum, light) for light in LIGHTS}
        seen = piece_seen(colour_target(Reading("piece", piece.lab[None]), ("D65",), 10), piece.looks, optics)
        metric = de00_metric(true["D65"])
        found.read.append(float(de00(piece.lab, true["D65"])))
        found.stated_read.append(piece.u95)
        if seen is None:
            found.bank.append(found.read[-1])
            found.stated.append(piece.u95)
            continue
        found.bank.append(float(de00(seen.lab, true["D65"])))
        u95 = WITHIN_95 * float(np.sqrt(np.trace(metric @ seen.covariance @ metric.T) / 3))
        found.stated.append(min(u95, piece.u95))
        for light in LIGHTS[1:]:
            middle = reflectance_to_lab(seen.spectra, light).mean(axis=0)
            found.others[light].append(float(de00(middle, true[light])))
    return found


def photographed(shop: Shop, camera: str, under: Sequence[str]) -> TintOptics:
    """Return the optics of a shop's bank of two photographed sheets."""
    return fit_bank(shop.bank([shop.photographed(camera, sheet, 1, under) for sheet in range(2)])).optics


def read_by_instrument(shop: Shop, like: TintOptics) -> TintOptics:
    """Return the optics of a bank that knows its tints exactly."""
    return replace(like, K=shop.K, S=shop.S, draws=None)


def test_a_bank_that_was_photographed_has_a_piece_nearer_than_it_was_read() -> None:
    shop, other = Shop(2, 5, titanium=True), Shop(2 + OTHER_SHOP, 5)
    own, others = list[tuple[TintOptics, Piece]](), list[tuple[TintOptics, Piece]]()
    for camera in CAMERAS:
        optics = photographed(shop, camera, ("A",))
        own += [(optics, one) for one in Sheet(shop, shop, 1).pieces(camera, ())]
        others += [(optics, one) for one in Sheet(shop, other, 2).pieces(camera, ())]
    for pieces, nearer in ((own, 0.7), (others, 0.95)):
        found = off(pieces)
        print(f"\n{found.in_words}")
        assert len(pieces) >= 14
        assert root_mean_square(found.bank) <= nearer * root_mean_square(found.read)
        assert np.mean(np.array(found.bank) <= np.array(found.stated)) >= 0.85
    assert root_mean_square(off(own).others["A"]) <= 1


def main() -> None:
    """Measure so many shops before both cameras."""
    shops = [(Shop(*one, titanium=True), Shop(one[0] + OTHER_SHOP, one[1])) for one in ALL[: int(sys.argv[1])]]
    for camera in CAMERAS:
        every: dict[tuple[str, str, str], list[tuple[TintOptics, Piece]]] = {}
        for shop, other in shops:
            banks = {f"photographed in {lit}": photographed(shop, camera, under) for lit, under in _LIT.items()}
            banks["by an instrument"] = read_by_instrument(shop, next(iter(banks.values())))
            for lit, under in _LIT.items():
                for pigments, painter, number in (("its own", shop, 1), ("others", other, 2)):
                    pieces = Sheet(shop, painter, number).pieces(camera, under)
                    for bank, optics in banks.items():
                        every.setdefault((bank, lit, pigments), []).extend((optics, one) for one in pieces)
        for (bank, lit, pigments), pieces in every.items():
            print(f"{camera}; bank {bank}; piece in {lit}; of {pigments}: {off(pieces).in_words}", flush=True)


_LIT: dict[str, tuple[str, ...]] = {"daylight": (), "tungsten too": ("A",)}


if __name__ == "__main__":
    main()
