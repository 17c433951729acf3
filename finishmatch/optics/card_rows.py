"""The cards of a record beside the panels of their bank: what is read of them, and what is unknown of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.optics.bank import SeenColour, volume_fractions
from finishmatch.optics.curvature import linearised
from finishmatch.optics.mixture import Backing
from finishmatch.optics.panel_model import WHOLE_FILM, AmountFactors
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.posterior import Posterior
from finishmatch.optics.seen_panels import with_rows_below
from finishmatch.optics.strength import PANELS_OWN_SD, PRIOR_SD, StrengthEvidence
from finishmatch.optics.unknowns import Problem, State

CARD_NOISE_SD = 0.0008  # of a card's reading beside its noise: texture, and where it was put under the instrument
BUILD_SD = 0.08  # share of a card's build: the gauge, and a coat that isn't even («common practice»: from memory)
# of the logarithm of K of a tin against another of its tint of the same strength, and over how many wavelengths it is
# off alike («common practice»: lots of a tint are held to a few tenths of ΔE00 in a letdown)
SHADE_SD, SHADE_RUN = 0.02, 6.0


@dataclass(frozen=True)
class CardPanel:
    """A card of known grams.

    Parameters
    ----------
    names : tuple of str
        Of its tints that have colour, each once.
    tins : tuple of str
        What sets the tin of each apart from all others.
    mixture : str
        What its batch has in common with others: what was poured at once is off in all of them alike.
    grams : ndarray, shape (n,)
        Above 0.
    reading : ndarray, shape (31,)
        As the bank's instrument would have read it.
    reading_sd : ndarray, shape (31,)
    pour_sd_g : float
        How far a weight that was written is off.
    backing : Backing or None
        None where it hides.
    seen : SeenColour or None
        Where no spectrum of it was read: the colour it was seen in; the reading is one that looks so.
    """

    names: tuple[str, ...]
    tins: tuple[str, ...]
    mixture: str
    grams: Floats
    reading: Floats
    reading_sd: Floats
    pour_sd_g: float
    backing: Backing | None = None
    seen: SeenColour | None = None

    @property
    def key(self) -> tuple[object, ...]:
        """What cards are put in order by, so that the order in which they were sprayed doesn't matter."""
        return (self.mixture, self.names, self.tins, self.grams.tolist(), self.reading.tolist())


@dataclass(frozen=True)
class CardTins:
    """What is known of the tins of cards beforehand.

    Parameters
    ----------
    open_now : frozenset of str
        The tins in use.
    of_panels : frozenset of str
        Those that the panels were drawn from.
    spread : float
        Of the logarithm of the strength of any other that nothing was sprayed of.
    told : tuple of StrengthEvidence
        What letdowns show of tins that cards were of.
    """

    open_now: frozenset[str]
    of_panels: frozenset[str] = frozenset()
    spread: float = PRIOR_SD
    told: tuple[StrengthEvidence, ...] = ()

    def sd(self, tin: str) -> float:
        """Return how far a tin is off the one characterised, one standard deviation of the logarithm."""
        return min(PANELS_OWN_SD, self.spread) if tin in self.of_panels else self.spread


class CardRows:
    """The unknowns of a bank with cards as further panels.

    Parameters
    ----------
    bank : Posterior
    cards : tuple of CardPanel
    among : CardTins
    amount_sd : float
        Of the logarithm of the amount of a part, beyond what the scale leaves open.
    """

    def __init__(self, bank: Posterior, cards: tuple[CardPanel, ...], among: CardTins, amount_sd: float) -> None:
        self.bank, self.cards, self.among, self.amount_sd = bank, cards, among, amount_sd
        self.names = [tint.name for tint in bank.problem.panels.tints]
        self.tins = tuple(dict.fromkeys(tin for card in cards for tin in card.tins))
        self.panels = _with_rows(bank.problem.panels, cards)
        self.first = len(bank.problem.panels.names)
        self.rows = slice(self.first, None)
        own = bank.problem.factors.count
        self.lots = slice(own, own + len(self.tins))  # the factors of the tins
        self.factors = self._factors()
        mixtures = [card.mixture for card in cards]
        self.alike = np.sqrt([mixtures.count(mixture) for mixture in mixtures])

    def lot(self, tin: str) -> int:
        """Return the place of the factor of a tin."""
        return self.lots.start + self.tins.index(tin)

    def start(self) -> State:
        """Return the state to start from: the bank's, every tin as strong as it."""
        state = self.bank.state
        more = self.factors.count - self.bank.problem.factors.count
        more_shared = np.zeros((self.panels.shared - self.bank.problem.panels.shared, 3))
        return replace(
            state,
            factors=np.append(state.factors, np.zeros(more)),
            shared=np.concatenate([state.shared, more_shared]),
        )

    def problem(self, counts: Bools, doubt: Floats, factors: AmountFactors) -> Problem:
        """Return the problem of panels and cards.

        Parameters
        ----------
        counts : ndarray, shape (c,)
            Which cards count.
        doubt : ndarray, shape (c,)
            What the standard deviations of their readings are multiplied by.
        factors : AmountFactors
        """
        own = self.bank.problem
        trusted = np.append(own.trusted, counts)
        before = np.ones(self.first) if own.doubt is None else own.doubt
        found = Problem(self.panels, factors, trusted, own.free_surface, np.append(before, doubt))
        if own.shifted is not None:
            found = replace(found, shifted=np.concatenate([own.shifted, np.zeros((len(self.cards), SIZE))]))
        return replace(found, panels=self._of_other_tins(found, counts))

    def _factors(self) -> AmountFactors:
        """Return the bank's factors, then one for each tin, then those of the parts of each mixture and of films."""
        own, names = self.bank.problem.factors, self.names
        of_tin = {tin: name for card in self.cards for tin, name in zip(card.tins, card.names, strict=True)}
        tint = [*own.tint.tolist(), *(names.index(of_tin[tin]) for tin in self.tins)]
        sd = [0.0] * own.count + [self.among.sd(tin) for tin in self.tins]
        numbers: dict[tuple[str, int], int] = {}
        of_card = []
        for card in self.cards:
            slots = [self.lot(tin) for tin in card.tins]
            for place, part_sd in self._parts(card):
                number = numbers.setdefault((card.mixture, place), len(tint))
                if number == len(tint):
                    tint.append(place)
                    sd.append(0.0)
                sd[number] = max(sd[number], part_sd)
                slots.append(number)
            if card.backing is not None:
                slots.append(len(tint))
                tint.append(WHOLE_FILM)
                sd.append(BUILD_SD)
            of_card.append(slots)
        every = [[slot for slot in row if slot != own.count] for row in own.slots.tolist()] + of_card
        most = max(map(len, every))
        slots_of = np.array([row + [len(tint)] * (most - len(row)) for row in every], dtype=np.intp)
        weighing = np.append(own.weighing_sd, np.zeros(len(tint) - own.count))
        return AmountFactors(slots_of, np.array(tint, dtype=np.intp), weighing, np.array(sd), self._told(len(tint)))

    def _told(self, count: int) -> tuple[Floats, Floats] | None:
        """Return what letdowns tell of the factors, as `AmountFactors` has it."""
        if not self.among.told:
            return None
        precision, information = np.zeros((count, count)), np.zeros(count)
        for one in self.among.told:
            at = [self.lot(tin) for tin in one.names]
            precision[np.ix_(at, at)] += one.precision
            information[at] += one.information
        return precision, information

    def _parts(self, card: CardPanel) -> Iterator[tuple[int, float]]:
        """Yield the parts of a card but the largest, by tint, each with how far its amount is off (SD, logarithm)."""
        at = [self.names.index(name) for name in card.names]
        largest = int((card.grams * self.panels.dry[at]).argmax())
        for i, (place, grams) in enumerate(zip(at, card.grams.tolist(), strict=True)):
            if i != largest:
                slip = card.pour_sd_g * np.hypot(1 / grams, 1 / card.grams[largest])
                yield place, float(np.hypot(max(self.amount_sd, 1e-4), slip))

    def _of_other_tins(self, problem: Problem, counts: Bools) -> PanelSet:
        """Return the panels, each read less surely as it holds tints of another tin than the one that is open.

        No two tins of a tint have quite one shade. What is sought is that of the tins in use, where cards were sprayed
        of them.
        """
        names = self.names
        counted = [card for card, counts_too in zip(self.cards, counts, strict=True) if counts_too]
        pairs = [pair for card in counted for pair in zip(card.names, card.tins, strict=True)]
        open_now = self.among.open_now
        sprayed = {name for name, tin in pairs if tin in open_now}
        # where the open tin is the one they were drawn from, the panels are of no other
        of_other = sprayed - {name for name, tin in pairs if tin in open_now & self.among.of_panels}
        other = self.panels.fractions > 0
        other[: self.first] &= np.array([name in of_other for name in names])
        other[self.rows] &= np.array([name in sprayed for name in names])
        for row, card in zip(other[self.rows], self.cards, strict=True):
            for name, tin in zip(card.names, card.tins, strict=True):
                row[names.index(name)] &= tin not in open_now
        linear = linearised(problem, self.start(), self.bank.beliefs)
        by_k = linear.by_field[:, : len(names)] * linear.sd[:, None]
        of_shade = SHADE_RUN * ((SHADE_SD * by_k * other[:, :, None]) ** 2).sum(axis=1)
        seen = self.panels.seen
        if seen is not None and linear.seen is not None:
            slope = np.linalg.solve(linear.seen.root, linear.seen.by_reading)
            in_colour = np.einsum("qjw,qw,qkw->qjk", slope, of_shade[seen.rows], slope)
            seen = replace(seen, covariance=seen.covariance + in_colour)
        return replace(self.panels, reading_sd=np.sqrt(self.panels.reading_sd**2 + of_shade), seen=seen)


def _with_rows(panels: PanelSet, cards: Sequence[CardPanel]) -> PanelSet:
    """Return the panels of a bank and the cards below them."""
    names = [tint.name for tint in panels.tints]
    grams = np.zeros((len(cards), len(names)))
    for row, card in zip(grams, cards, strict=True):
        row[[names.index(name) for name in card.names]] = card.grams
    nothing = np.zeros(SIZE)
    mixtures = list(dict.fromkeys(card.mixture for card in cards))
    after = int(panels.mixture.max()) + 1
    return PanelSet(
        panels.tints,
        (*panels.names, *(f"card {i}" for i in range(len(cards)))),
        np.concatenate([panels.grams, grams]),
        np.concatenate([panels.fractions, volume_fractions(grams, panels.dry)]),
        np.append(panels.build_um, [np.inf if card.backing is None else card.backing.build_um for card in cards]),
        np.concatenate([panels.ground, [nothing if card.backing is None else card.backing.ground for card in cards]]),
        np.concatenate([panels.readings, [card.reading for card in cards]]),
        np.concatenate([panels.reading_sd, [card.reading_sd for card in cards]]),
        np.append(panels.mixture, [after + mixtures.index(card.mixture) for card in cards]).astype(np.intp),
        with_rows_below(panels.seen, len(panels.names), [card.seen for card in cards]),
    )
