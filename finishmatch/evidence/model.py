"""What the samples say, as numbers: points in which one unit is one ΔE00, and the errors they have and share.

Round a centre ΔE00 is the length of a linear map of CIELAB. In those coordinates spreads are the same in every
direction, sums and means are those of CIELAB, and what is found is mapped back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00_metric, de00_vectors, reflectance_to_lab
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.errors import InputError
from finishmatch.evidence.conditions import effects_of, not_replaced
from finishmatch.evidence.kinds import Effect, EvidenceCatalogue, EvidenceKind
from finishmatch.evidence.pictures import ALONE, Seen, seen_of, shared_covariance
from finishmatch.readings.evidence_file import EvidenceSample

FLOOR_SD = 0.02  # ΔE00; two readings that agree to the last digit are still two readings of an instrument


@dataclass(frozen=True)
class Piece:
    """A sample with its kind: Lab as read, how it is known, and the effects it has.

    `reading_var` is the variance of its mean reading, ΔE00², in each direction; `vehicle`, `place` and `seen` say what
    it shares with others.
    """

    name: str
    kind: EvidenceKind
    sample: EvidenceSample
    lab: Floats
    effects: tuple[str, ...]
    reading_var: float
    vehicle: str
    place: str
    seen: Seen = ALONE


@dataclass(frozen=True)
class Model:
    """Samples in coordinates of ΔE00 round a centre.

    Parameters
    ----------
    centre : ndarray, shape (3,)
        CIELAB.
    to_eye : ndarray, shape (3, 3)
        From CIELAB differences to ΔE00 coordinates.
    y : ndarray, shape (n, 3)
        Samples with the shifts of their effects taken off.
    V : ndarray, shape (3n, 3n)
        Their covariance: readings, spread of the kinds, vehicles, and what effects and photographs share.
    readings : ndarray, shape (n, n)
        The part of it that is the readings', in each direction.
    own : ndarray, shape (n, 3, 3)
        The part of it that is each sample's own.
    B : ndarray, shape (n, n)
        Ones where samples are of one place.
    loads : dict of str to ndarray, shape (3n, 3)
        How the terms of each effect move the samples: L*, chroma and b*; L*, a*, b* where pairs measure it.
    sds : dict of str to ndarray, shape (3,)
    """

    pieces: tuple[Piece, ...]
    centre: Floats
    to_eye: Floats
    y: Floats
    V: Floats
    readings: Floats
    own: Floats
    B: Floats
    loads: dict[str, Floats]
    sds: dict[str, Floats]

    def only(self, index: Sequence[int]) -> Model:
        """Return the model of some of the samples."""
        chosen = np.asarray(index, dtype=int)
        rows = (3 * chosen[:, None] + np.arange(3)).reshape(-1)
        return replace(
            self,
            pieces=tuple(self.pieces[i] for i in chosen),
            y=self.y[chosen],
            V=self.V[np.ix_(rows, rows)],
            readings=self.readings[np.ix_(chosen, chosen)],
            own=self.own[chosen],
            B=self.B[np.ix_(chosen, chosen)],
            loads={name: load[rows] for name, load in self.loads.items() if np.any(load[rows])},
        )

    def lab(self, point: Floats) -> Floats:
        """Return CIELAB of a point, shape (..., 3)."""
        found: Floats = self.centre + np.asarray(point) @ np.linalg.inv(self.to_eye).T
        return found

    def covariance_lab(self, covariance: Floats) -> Floats:
        """Return a covariance of ΔE00 coordinates as one of CIELAB."""
        back = np.linalg.inv(self.to_eye)
        found: Floats = back @ covariance @ back.T
        return found


def pieces_of(
    samples: Sequence[EvidenceSample], catalogue: EvidenceCatalogue, light: str, observer: int
) -> tuple[Piece, ...]:
    """Return the samples with their kinds, conditions and reading noise.

    Raises
    ------
    InputError
        No sample, an unknown kind, an answer that isn't understood, Lab under another light.
    """
    if not samples:
        raise InputError("evidence", "there is no sample", "add at least one")
    labs = [sample.reading.lab_in(light, observer) for sample in samples]
    noise = _reading_vars(samples, labs, catalogue, light, observer)
    pieces = []
    for i, sample in enumerate(samples):
        kind = catalogue.find_kind(sample.kind, f"{sample.where}, column 'kind'" if sample.where else "kind")
        own = f"vehicle of its own {i}" if kind.other_vehicle else "this vehicle"
        pieces.append(
            Piece(
                name=sample.name,
                kind=kind,
                sample=sample,
                lab=labs[i],
                effects=not_replaced(effects_of(kind, sample.conditions, sample.where), catalogue.effects),
                reading_var=noise[i],
                vehicle=_key(sample.vehicle) or own,
                place=_key(sample.pair) or f"place of its own {i}",
                seen=seen_of(sample, noise[i], FLOOR_SD**2),
            )
        )
    return tuple(pieces)


def _key(text: str) -> str:
    return " ".join(text.casefold().split())


def _reading_vars(
    samples: Sequence[EvidenceSample], labs: Sequence[Floats], catalogue: EvidenceCatalogue, light: str, observer: int
) -> list[float]:
    """Return the variance of each mean reading: of its repeats, held to those of all and to the usual instrument.

    Photographs scatter as no instrument does, so theirs say nothing of the other readings'.
    """
    weight, usual = catalogue.settings.reading_weight, catalogue.settings.reading_sd**2
    squares, freedoms = [], []
    for sample, lab in zip(samples, labs, strict=True):
        repeats = _repeats_lab(sample, light, observer)
        squares.append(float((de00_vectors(lab, repeats) ** 2).sum()))
        freedoms.append(3 * (len(repeats) - 1))
    read = np.array([sample.u95 is None and not sample.of_photographs for sample in samples])
    pooled = (3 * weight * usual + float(read @ squares)) / (3 * weight + float(read @ freedoms))
    found = []
    for sample, square, freedom in zip(samples, squares, freedoms, strict=True):
        single = (3 * weight * pooled + square) / (3 * weight + freedom)
        given = 0.0 if sample.u95 is None else (sample.u95 / WITHIN_95) ** 2
        found.append(max(given, single / len(sample.reading.repeats), FLOOR_SD**2))
    return found


def _repeats_lab(sample: EvidenceSample, light: str, observer: int) -> Floats:
    reading = sample.reading
    if not reading.is_spectral:
        return reading.repeats
    return reflectance_to_lab(reading.repeats, light, observer)


def _per_term(lab: Floats) -> Floats:
    """Return how L*, chroma (as a share) and b* of an effect move a colour, shape (3 of Lab, 3 terms)."""
    return np.array([[1.0, 0.0, 0.0], [0.0, lab[1], 0.0], [0.0, lab[2], 1.0]])


def _terms(effect: Effect, lightness: float) -> tuple[Floats, Floats]:
    """Return the shifts and the standard deviations of an effect's terms, of a colour of a lightness L*."""
    pairs = np.array([effect.L, effect.chroma, effect.b_at(lightness)])
    return pairs[:, 0], pairs[:, 1]


def make_model(
    pieces: Sequence[Piece], catalogue: EvidenceCatalogue, centre: Floats, measured: frozenset[str]
) -> Model:
    """Return samples as points and covariance.

    Parameters
    ----------
    pieces : sequence of Piece
    catalogue : EvidenceCatalogue
    centre : ndarray, shape (3,)
        CIELAB near the colour.
    measured : frozenset of str
        Effects that pairs are to measure: their usual figures don't count.
    """
    n = len(pieces)
    to_eye = de00_metric(centre)
    scatter = catalogue.settings.ageing_scatter**2
    y = np.array([to_eye @ (piece.lab - centre) for piece in pieces])
    own = np.zeros((n, 3, 3))
    loads: dict[str, Floats] = {}
    sds: dict[str, Floats] = {}
    V = np.zeros((3 * n, 3 * n))
    B = np.array([[float(one.place == two.place) for two in pieces] for one in pieces])
    vehicles = np.array([[float(one.vehicle == two.vehicle) for two in pieces] for one in pieces])
    for i, piece in enumerate(pieces):
        aged = any(catalogue.effects[name].ageing for name in piece.effects)
        paired = sum(other.place == piece.place for other in pieces) > 1
        own[i] = (piece.reading_var - piece.seen.shared_var + (scatter if aged and paired else 0.0)) * np.eye(3)
        for name in piece.effects:
            effect = catalogue.effects[name]
            if name in measured:
                move, sds[name] = to_eye, np.full(3, catalogue.settings.ageing_sd)
            else:
                shift, sds[name] = _terms(effect, float(centre[0]))
                move = to_eye @ _per_term(centre)  # at the centre: a sample's own error mustn't weigh on its effect
                y[i] -= move @ shift
            loads.setdefault(name, np.zeros((3 * n, 3)))[3 * i : 3 * i + 3] = move
    # samples of one place are one sample's paint in two states: they share their deviation, by the lesser spread
    spreads = np.array([piece.kind.spread for piece in pieces])
    by_vehicle = np.array([piece.kind.vehicle_spread for piece in pieces])
    shared = B * np.minimum(spreads[:, None], spreads) ** 2
    shared[np.diag_indices(n)] = spreads**2
    photographed = shared_covariance([piece.seen for piece in pieces], catalogue.settings.same_camera)
    V += np.kron(shared + vehicles * np.outer(by_vehicle, by_vehicle) + photographed, np.eye(3))
    for i in range(n):
        V[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] += own[i]
    for name, load in loads.items():
        V += load @ np.diag(sds[name] ** 2) @ load.T
    own = own + (spreads**2)[:, None, None] * np.eye(3)
    readings = np.diag([piece.reading_var - piece.seen.shared_var for piece in pieces]) + photographed
    return Model(tuple(pieces), centre, to_eye, y, V, readings, own, B, loads, sds)
