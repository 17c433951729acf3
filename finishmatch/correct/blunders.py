"""A card or a batch that can't be what it says, and the likeliest slip that explains it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import lgamma

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.correct.called_as import CARD, CalledAs
from finishmatch.mix.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, mixture_reflectance, predicted_reflectance, strength_slope
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading

Parts = tuple[tuple[str, float], ...]

LOT_SPREAD = 0.2  # of the logarithm of a strength, lots of all makes; a tin in some is an outlier («common practice»)
_FREE_SPREAD = 0.6  # within which strengths are sought: a factor of two is common, one of four is not
_TAIL = 3.0  # degrees of freedom of the spread: an outlier by a factor of two is odd, not impossible
# what a reading may be off by beyond what the bank leaves open: a floor and a share of the reflectance; and of CIELAB,
# which a photograph may have told
_SD_FLOOR, _SD_SHARE, _SD_LAB = 0.003, 0.015, 2.5
_BANDS = 6.0  # bands of a spectrum that are off by themselves: neighbouring wavelengths are off together
_MOST_OUT = 6.0  # misfit of the reading, and
_MOST_DE00 = 1.5  # ΔE00 of it, beyond which a card can't be of a batch
_MOST_DE00_LAB = 5.0  # the same of CIELAB alone, whose light and instrument may be others than was said
_MOST_SPAN = float(np.log(4.7))  # of the strengths of a batch among one another: one tin twice, another half as strong
_USUAL_SPAN = float(np.log(2.5))  # of those of a batch as it is said to have been instead
_CLEAR = 5.0  # misfit that a slip must explain beyond its rivals' number, where the batch can't be; and
_CLEARLY = 9.5  # where it can
_AS_LIKELY = 2.0  # misfit by which another slip is as likely as the likeliest


@dataclass(frozen=True)
class SprayedCard:
    """A card, and what its tins and film are.

    Parameters
    ----------
    reading : Reading
    optics : TintOptics
        Of the usable tints of the bank, as the film was sprayed.
    tints : tuple of Tint
        The bank's.
    scale : Scale
    prior : StrengthPrior or None
        What is known of the tins.
    alternatives : tuple of (optics, optics, float)
        Films it may have been as well, so many standard deviations from one another.
    """

    reading: Reading
    optics: TintOptics
    tints: tuple[Tint, ...]
    scale: Scale
    prior: StrengthPrior | None = None
    alternatives: tuple[tuple[TintOptics, TintOptics, float], ...] = ()


@dataclass(frozen=True)
class Explained:
    """How well a batch explains a card, its strengths being free.

    Parameters
    ----------
    de00 : float
        What is left (D65, 10°, or as the CIELAB was read).
    out : float
        Misfit of the reading, in squared standard deviations.
    span : float
        Logarithm of the strongest tin over the weakest.
    misfit : float
        Of reading and strengths together: twice the negative logarithm of a probability.
    spectral : bool
        Whether the card's spectrum is known; CIELAB alone is too little to name a slip where the batch can explain it.
    """

    de00: float
    out: float
    span: float
    misfit: float
    spectral: bool = True

    @property
    def possible(self) -> bool:
        """Whether a card of that batch can read so."""
        most = _MOST_DE00 if self.spectral else _MOST_DE00_LAB
        return self.span <= _MOST_SPAN and (self.out <= _MOST_OUT or self.de00 <= most)

    @property
    def usual(self) -> bool:
        """Whether it would read so without anything odd."""
        return self.span <= _USUAL_SPAN and (self.out <= _MOST_OUT / 2 or self.de00 <= _MOST_DE00 / 2)


@dataclass(frozen=True)
class Blunder:
    """A card that can't be of a batch.

    Parameters
    ----------
    kind : str
        "totals", "tenfold", "exchanged", or "" when nothing explains it.
    what : str
        In a painter's words.
    mend : str
    """

    kind: str
    what: str
    mend: str


def find_blunder(
    card: SprayedCard, batch: Parts, others: Sequence[tuple[str, Parts]] = (), called: CalledAs = CARD
) -> Blunder | None:
    """Return what is wrong with a card and its batch, or None where the card can be of it.

    Parameters
    ----------
    card : SprayedCard
    batch : tuple of (tint, grams)
        In the order poured.
    others : sequence of (name, parts)
        Other batches of the job, by what they are called.
    called : CalledAs

    Notes
    -----
    A batch explains a card by the strengths of its tins, each free within the spread of lots, a single one off by twice
    that being odd but true. What can't be explained so is held against the slips that painters make; one is named when
    it explains the card far better than the batch as written.
    """
    written = explained(card, batch)
    if written is None or written.misfit < _CLEAR or (written.possible and not written.spectral):
        return None
    clear = _CLEARLY if written.possible else _CLEAR
    for name, parts in others:
        other = explained(card, parts)
        if other is not None and other.usual and other.misfit + _CLEAR < written.misfit:
            return Blunder("other batch", f"isn't of this batch, but fits {name}", f"name {name} as its batch")
    likely = [
        (after.misfit + rivals, slip)
        for slip, parts, rivals in _slips(card, batch)
        if (after := explained(card, parts)) is not None and after.usual
    ]
    likely = sorted((pair for pair in likely if pair[0] + clear < written.misfit), key=lambda pair: pair[0])
    if likely:
        first = likely[0][1]
        as_well = [
            slip for misfit, slip in likely[1:] if slip.kind == first.kind and misfit < likely[0][0] + _AS_LIKELY
        ]
        ways = [first, *as_well[:2]]
        what = f"isn't of {called.written}; it is if " + ", or if ".join(slip.what for slip in ways)
        return replace(first, what=what, mend=called.mend(first.kind, [slip.mend for slip in ways]))
    if written.possible:
        return None
    far = f"whatever the strength of its tins: ΔE00 {written.de00:.1f} is left"
    odd = f"unless one of its tins is {np.exp(written.span):.0f} times as strong as another"
    return Blunder("", f"can't be of {called.batch}, {far if written.de00 > _MOST_DE00 else odd}", called.check)


Slip = tuple[Blunder, Parts, float]
"""What was done, what was poured then, and what speaks against it: twice the logarithm of the number of its rivals."""


def _slips(card: SprayedCard, batch: Parts) -> Iterator[Slip]:
    """Yield the slips that may have been made."""
    yield from _totals(batch)
    yield from _tenfold(batch)
    yield from _exchanged(batch, card.optics.names)


def _totals(batch: Parts) -> Iterator[Slip]:
    """Yield the batch whose grams are what the scale stood at, where they can be that.

    Parts are poured from the lightest to the heaviest by chance once in the factorial of their number.
    """
    grams = [weight for _, weight in batch]
    if len(batch) < 2 or any(later < earlier for earlier, later in pairwise(grams)):
        return
    poured = tuple(
        (tint, round(later - earlier, 6))
        for (tint, _), (earlier, later) in zip(batch, pairwise([0.0, *grams]), strict=True)
    )
    what = "its grams are what the scale stood at, each part on top of the others, not the weights of the parts"
    weights = ", ".join(f"{tint} {weight:g}" for tint, weight in poured)
    yield Blunder("totals", what, f"if so write {weights}"), poured, -2 * lgamma(len(batch) + 1)


def _tenfold(batch: Parts) -> Iterator[Slip]:
    """Yield the batches in which the decimal point of one weight was wrong."""
    rivals = 2 * float(np.log(2 * len(batch)))
    for i, (tint, weight) in enumerate(batch):
        for times in (0.1, 10.0):
            was = round(weight * times, 6)
            what = f"{was:g} g of {tint} were poured, not {weight:g} g: the decimal point"
            poured = (*batch[:i], (tint, was), *batch[i + 1 :])
            yield Blunder("tenfold", what, f"if so write {tint} {was:g}"), poured, rivals


def _exchanged(batch: Parts, known: Sequence[str]) -> Iterator[Slip]:
    """Yield the batches in which one tint was another of the bank."""
    held = {tint for tint, _ in batch}
    strangers = [name for name in known if name not in held]
    coloured = [(i, part) for i, part in enumerate(batch) if part[0] in known and part[1] > 0]
    rivals = 2 * float(np.log(max(len(strangers) * len(coloured), 1)))
    for i, (tint, weight) in coloured:
        for other in strangers:
            poured = (*batch[:i], (other, weight), *batch[i + 1 :])
            what = f"its {tint}, {weight:g} g, was {other}"
            yield Blunder("exchanged", what, f"if so write {other} {weight:g}"), poured, rivals


def explained(card: SprayedCard, batch: Parts) -> Explained | None:
    """Return how well a batch explains a card; None for one that has no colour, or a tint that isn't known."""
    clears = {tint.name for tint in card.tints if tint.role == "clear"}
    poured: dict[str, float] = {}
    for name, weight in batch:
        if weight > 0 and name not in clears:
            poured[name] = poured.get(name, 0.0) + weight
    if not poured or not set(poured) <= set(card.optics.names):
        return None
    names, grams = tuple(poured), np.array(list(poured.values()))
    own = card.optics.chosen(names)
    if card.prior is not None:
        own = card.prior.strengthened(own)
    log, left, de = _fitted(card, own, grams)
    spread = np.hypot(LOT_SPREAD, POUR_SD_STEPS * card.scale.step_g / grams)
    # a film that hides knows the strengths among one another alone
    centres = [0.0] if own.backing is not None else [0.0, *log]
    odd = min(float(((_TAIL + 1) * np.log1p(((log - at) / spread) ** 2 / _TAIL)).sum()) for at in centres)
    off = log / spread * LOT_SPREAD
    ends = [*off, 0.0] if own.backing is not None or len(off) == 1 else list(off)
    span = 0.0 if len(off) == 1 and own.backing is None else float(max(ends) - min(ends))
    return Explained(de, left, span, left + odd, card.reading.is_spectral)


def _fitted(card: SprayedCard, own: TintOptics, grams: Floats) -> tuple[Floats, float, float]:
    """Return the strengths (logarithms) that explain a card best, what is left of its reading, and that as ΔE00."""
    reading, amounts = card.reading, grams * own.dry_ml_per_g
    doubt = _doubts(card, own, grams)
    sd, count = _reading_sd(card, own, grams), len(grams)
    spread = np.append(np.hypot(_FREE_SPREAD, POUR_SD_STEPS * card.scale.step_g / grams), np.ones(len(doubt)))

    def off(x: Floats) -> tuple[Floats, Floats, Floats]:
        r, per_log = strength_slope(amounts, own.strengthened(np.exp(x[:count])))
        r, slope = r + x[count:] @ doubt, np.vstack([per_log, doubt])
        if reading.reflectance is not None:
            share = float(np.sqrt(_BANDS / len(r)))
            return share * (r - reading.reflectance) / sd, share * slope.T / sd[:, None], r
        by_r = reflectance_to_lab_slope(r, reading.light, reading.observer) / _SD_LAB
        lab = reflectance_to_lab(r, reading.light, reading.observer) - np.asarray(reading.lab)
        return lab / _SD_LAB, by_r @ slope.T, r

    x = np.zeros(count + len(doubt))
    out, jacobian, r = off(x)
    for _ in range(25):
        curvature = jacobian.T @ jacobian + np.diag(1 / spread**2)
        step = -np.linalg.solve(curvature, jacobian.T @ out + x / spread**2)
        step *= min(1.0, 0.7 / max(float(np.abs(step).max()), 1e-12))
        cost = float(out @ out + (x / spread) @ (x / spread))
        for _ in range(4):
            new = off(x + step)
            if float(new[0] @ new[0] + ((x + step) / spread) @ ((x + step) / spread)) < cost:
                break
            step = step / 3
        else:
            break
        x = x + step
        out, jacobian, r = new
        if float(np.abs(step).max()) < 1e-4:
            break
    lab = reflectance_to_lab(r, reading.light, reading.observer)
    return x[:count], float(out @ out), float(de00(reading.lab_in(reading.light, reading.observer), lab))


def _doubts(card: SprayedCard, own: TintOptics, grams: Floats) -> Floats:
    """Return what else may have moved the reading by one standard deviation, shape (m, 31)."""
    found = [
        np.subtract(*(predicted_reflectance(film.chosen(own.names), grams) for film in pair)) / sds
        for *pair, sds in card.alternatives
    ]
    if card.reading.conversion_sd is not None:
        found.append(card.reading.conversion_sd)
    return np.array(found).reshape(len(found), 31)


def _reading_sd(card: SprayedCard, own: TintOptics, grams: Floats) -> Floats:
    """Return what a spectrum may be off by, shape (31,): the theory's share, and what the bank's panels leave open."""
    if card.reading.reflectance is None:
        return np.ones(31)
    theory: Floats = _SD_FLOOR + _SD_SHARE * card.reading.reflectance
    if own.draws is None:
        return theory
    drawn = mixture_reflectance(grams * own.dry_ml_per_g, own.draws[:, 0], own.draws[:, 1], own.surface, own.backing)
    sd: Floats = np.hypot(theory, drawn.std(axis=0))
    return sd
