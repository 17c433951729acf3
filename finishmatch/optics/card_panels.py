"""Cards as panels of their bank: what a spray-out of known grams shows of K and S, and of how strong its tins are."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.one_thread import one_thread
from finishmatch.optics.beam import hiding_reading_slope
from finishmatch.optics.card_rows import CardPanel, CardRows, CardTins
from finishmatch.optics.fit import OPTICS_DRAWS, BankFit
from finishmatch.optics.misfits import square_misfits
from finishmatch.optics.mixture import TintOptics
from finishmatch.optics.panel_model import Indices
from finishmatch.optics.panel_set import Bools
from finishmatch.optics.posterior import Posterior, optics_of_draws, settled
from finishmatch.optics.strength import PRIOR_SD, STRONGEST, StrengthEvidence, StrengthPrior
from finishmatch.optics.unknowns import Problem, State

_AS_GOOD = 1.5  # standard deviations, on the mean of all wavelengths, up to which a card is taken as it is
_AS_BAD = 0.6  # of the worst card's, from which others are doubted with it
_FAR_SDS = 2.0  # spreads from which a tin is one of those that lie far off
_DOUBTS = 6  # rounds of it, at most
_ROUNDS, _EXACT = 12, 1e-4


@dataclass(frozen=True)
class BankToday:
    """A bank with the cards of its record.

    Parameters
    ----------
    fit : BankFit
        With K and S of the tints as they were characterised, as panels and cards show them together.
    tins : StrengthPrior
        What is known of today's tins, by `CardPanel.tins`; those that no card was of aren't named.
    cards : int
        How many it is from.
    doubted : tuple of int
        Places of the cards that don't fit, and count less.
    left_aside : tuple of int
        Places of those that count for nothing: a tin would be stronger or weaker than any tin is.
    """

    fit: BankFit
    tins: StrengthPrior
    cards: int = 0
    doubted: tuple[int, ...] = ()
    left_aside: tuple[int, ...] = ()


@one_thread
def bank_today(
    fit: BankFit,
    cards: Sequence[CardPanel],
    today: Mapping[str, str],
    spread: float = PRIOR_SD,
    of_panels: Collection[str] = (),
    letdowns: Sequence[StrengthEvidence] = (),
) -> BankToday:
    """Return a bank as its panels and the cards of its record show it together.

    Parameters
    ----------
    fit : BankFit
    cards : sequence of CardPanel
        Of tints of the bank; their order doesn't matter.
    today : mapping of str to str
        Of each tint, the tin that is open, as in `CardPanel.tins`.
    spread : float
        Of the logarithm of the strength of a tin nothing was sprayed of.
    of_panels : collection of str
        The tins that the panels were drawn from, as in `CardPanel.tins`.
    letdowns : sequence of StrengthEvidence
        What letdowns seen beside their panels show of tins, by the names of `CardPanel.tins`; those of a tin that no
        card was of tell nothing here (`of_cards`).

    Notes
    -----
    The posterior of the bank (`posterior`) with a panel more for each card: what is believed of spectra, amounts and
    theory stays what the bank itself showed; each tin has one factor of strength that all its cards share, each mixture
    a factor of amount for every part. Tins of a tint differ a little in shade: what is sought is that of the tins that
    are open, so panels and cards of others say less of it. Most tins are nearly as strong as the bank's and a few far
    from it. What the theory leaves is the same in all cards of one mixture, so that these
    together count as one. A card further off than its noise is doubted by as much.
    """
    if not cards or fit.posterior is None:
        return BankToday(fit, StrengthPrior.default((), spread))
    order = sorted(range(len(cards)), key=lambda i: cards[i].key)
    in_order = tuple(cards[i] for i in order)
    told = of_cards(letdowns, cards)[0]
    tins = CardTins(frozenset(today.values()), frozenset(of_panels), spread, told)
    rows = CardRows(fit.posterior, in_order, tins, fit.optics.amount_sd)
    with_cards = _WithCards(fit, rows)
    found = with_cards.settled()
    return BankToday(
        *with_cards.shown(found, today),
        len(cards),
        tuple(sorted(order[i] for i in np.flatnonzero(with_cards.doubted(found)))),
        tuple(sorted(order[i] for i in np.flatnonzero(~found.problem.trusted[rows.rows]))),
    )


def of_cards(
    letdowns: Sequence[StrengthEvidence], cards: Sequence[CardPanel]
) -> tuple[tuple[StrengthEvidence, ...], tuple[StrengthEvidence, ...]]:
    """Return the letdowns whose tins all were in cards, and the others: these say nothing that cards could share."""
    held = {tin for card in cards for tin in card.tins}
    inside = tuple(one for one in letdowns if held.issuperset(one.names))
    return inside, tuple(one for one in letdowns if not held.issuperset(one.names))


class _WithCards:
    """A bank with the cards of its record."""

    def __init__(self, fit: BankFit, rows: CardRows) -> None:
        self.fit, self.rows = fit, rows

    def settled(self) -> Posterior:
        """Return the posterior, with cards that don't fit doubted or left aside, and tins that lie far off let lie."""
        rows, told = self.rows, self.rows.factors.told
        counts, doubt = np.ones(len(rows.cards), dtype=bool), rows.alike.copy()
        problem = rows.problem(counts, doubt, replace(rows.factors, told=None))
        found = self._settled(problem, rows.start(), counts, doubt)
        if told is None:
            return found
        # a slip of the pour looks like a tin that no tin is: it would go into K and S where letdowns hold the tin
        own = found.problem
        assert own.doubt is not None
        problem = replace(own, factors=replace(own.factors, told=told))
        return self._settled(problem, found.state, own.trusted[rows.rows], own.doubt[rows.rows])

    def _settled(self, problem: Problem, start: State, counts: Bools, doubt: Floats) -> Posterior:
        """Return the posterior from a state, `counts` and `doubt` as in the problem to begin with."""
        rows = self.rows
        found = settled(problem, rows.bank.beliefs, start, _ROUNDS, _EXACT)
        for _ in range(_DOUBTS):
            beyond, spreads = self._beyond(found), self._spreads(found)
            more = self._more_doubt(found) & ~beyond
            if not beyond.any() and not more.any() and spreads is None:
                break
            counts = counts & ~beyond
            doubt = np.where(more, rows.alike * (self._off(found) / _AS_GOOD) ** 2, doubt)
            factors = problem.factors if spreads is None else replace(problem.factors, known_sd=spreads)
            problem = rows.problem(counts, doubt, factors)
            found = settled(problem, rows.bank.beliefs, found.state, _ROUNDS, _EXACT)
        return found

    def _more_doubt(self, found: Posterior) -> Bools:
        """Return which cards are to be doubted more: one that doesn't fit pulls others off, so the worst come first."""
        assert found.problem.doubt is not None
        off, so_far = self._off(found), found.problem.doubt[self.rows.rows] / self.rows.alike
        more: Bools = ((off / _AS_GOOD) ** 2 > 1.1 * so_far) & (off >= _AS_BAD * off.max())
        return more

    def _spreads(self, found: Posterior) -> Floats | None:
        """Return what is known of factors beforehand with a wider spread for tins that lie far off; None: as it was.

        Most tins lie near the bank's and a few far off (a tail as long as the spread is wide), so that a tin of half
        the strength is taken for that, not for a bank that is wrong.
        """
        lots = self.rows.lots
        known, before = found.problem.factors.known_sd, self.rows.factors.known_sd
        assert known is not None
        assert before is not None
        wider = np.maximum(before[lots], np.abs(found.state.factors[lots]) / _FAR_SDS)
        if (np.abs(np.log(wider / known[lots])) < 0.1).all():
            return None
        after: Floats = known.copy()
        after[lots] = wider
        return after

    def _off(self, found: Posterior) -> Floats:
        """Return how far each card is off, in its own standard deviations; what is left aside isn't."""
        assert found.problem.doubt is not None
        squares = square_misfits(found)[self.rows.rows]
        off: Floats = np.sqrt(squares) * found.problem.doubt[self.rows.rows] / self.rows.alike
        return np.where(found.problem.trusted[self.rows.rows], off, 0.0)

    def doubted(self, found: Posterior) -> Bools:
        """Return which cards count less than their noise would have them, shape (c,)."""
        assert found.problem.doubt is not None
        return found.problem.trusted[self.rows.rows] & (found.problem.doubt[self.rows.rows] > self.rows.alike * 1.001)

    def _beyond(self, found: Posterior) -> Bools:
        """Return which cards are of a tin that is stronger or weaker than any tin is."""
        log = found.state.factors[self.rows.lots]
        odd = {tin for tin, value in zip(self.rows.tins, log, strict=True) if abs(value) > np.log(STRONGEST)}
        trusted = found.problem.trusted[self.rows.rows]
        return np.array([bool(odd & set(card.tins)) for card in self.rows.cards]) & trusted

    def shown(self, found: Posterior, today: Mapping[str, str]) -> tuple[BankFit, StrengthPrior]:
        """Return the fit with what the cards show, and what is known of today's tins.

        What panels and cards leave open of a tint has a part that is as if its tin were stronger. That part is counted
        with the strength of the tin, together with what the cards leave open of that, and taken out of the draws of
        K and S: cards hold the sum of both far better than either.
        """
        panels = self.rows.panels
        K, S = found.state.optics(panels.anchor)
        trusted = found.problem.trusted[self.rows.rows]
        sprayed = {tin for card, counts in zip(self.rows.cards, trusted, strict=True) if counts for tin in card.tins}
        sprayed.update(tin for one in self.rows.among.told for tin in one.names)
        open_now = [(i, today[t.name]) for i, t in enumerate(panels.tints) if today.get(t.name) in sprayed]
        optics = replace(self.fit.optics, K=K, S=S, surface=found.state.surface, draws=None)
        # predictions are made with the middle's surface, so it mustn't vary beneath them
        held = replace(found, problem=replace(found.problem, free_surface=False))
        field, border = self._as_strengths(optics, open_now, len(held.system.schur))
        lots = np.array([self.rows.lot(tin) for _, tin in open_now], dtype=np.intp)
        covariance = np.zeros((0, 0))
        if open_now:
            moved, common = held.system.solve(field, border)
            covariance = np.einsum("wur,wus->rs", field, moved) + border.T @ common
        drawn = self._drawn(held, (field, border), open_now, lots)
        sd = np.minimum(np.sqrt(((drawn - np.log(np.stack([K, S]))) ** 2).mean(axis=0)), 9.0)
        fit = replace(self.fit, optics=replace(optics, draws=np.exp(drawn)), K_sd=sd[0], S_sd=sd[1])
        names = tuple(tin for _, tin in open_now)
        covariance = (covariance + covariance.T) / 2
        return fit, StrengthPrior(names, found.state.factors[lots], covariance, self.rows.among.spread)

    def _as_strengths(self, optics: TintOptics, tins: Sequence[tuple[int, str]], size: int) -> tuple[Floats, Floats]:
        """Return what makes the strengths of tins from field and border, shapes (31, 2n, r) and (size, r)."""
        n, m, anchor = len(self.rows.panels.tints), self.rows.factors.count, self.rows.panels.anchor
        field, border = np.zeros((SIZE, 2 * n, len(tins))), np.zeros((size, len(tins)))
        for i, (tint, tin) in enumerate(tins):
            by_k, by_s = self._as_strength(optics, tint, tin)
            border[self.rows.lot(tin), i] = 1.0
            field[:, tint, i] += by_k
            field[:, n + anchor, i] += by_k + by_s
            border[m + anchor, i] += (by_k + by_s).sum()
            if tint != anchor:
                field[:, n + tint, i] += by_s
                border[m + tint, i] += by_s.sum()
        return field, border

    def _as_strength(self, optics: TintOptics, tint: int, tin: str) -> Floats:
        """Return how much of a strength a change of log K and log S is, wavelength by wavelength, shape (2, 31).

        It is what a mixture like those that were sprayed of the tin reads otherwise, along what strength changes in it.
        """
        own = [i for i, card in enumerate(self.rows.cards) if tin in card.tins]
        shares = self.rows.panels.fractions[self.rows.rows][own].mean(axis=0)
        k, s = shares @ optics.K, shares @ optics.S
        slope = hiding_reading_slope(k / s, optics.surface) / s
        by_k, by_s = slope * shares[tint] * optics.K[tint], -slope * (k / s) * shares[tint] * optics.S[tint]
        by_strength = by_k + by_s
        size = float(by_strength @ by_strength)
        weights = np.stack([by_k, by_s]) * by_strength
        return weights / size if size > 1e-12 else np.zeros_like(weights)

    def _drawn(
        self, held: Posterior, strengths: tuple[Floats, Floats], tins: Sequence[tuple[int, str]], lots: Indices
    ) -> Floats:
        """Return draws of log K and log S, shape (d, 2, n, 31): of the tins as they are less what is their strength."""
        fields, borders = held.draws(OPTICS_DRAWS)
        drawn = optics_of_draws(held, fields, borders)
        field, border = strengths
        whole = np.einsum("dwu,wur->dr", fields, field) + borders @ border
        drawn[:, :, [tint for tint, _ in tins]] += (borders[:, lots] - whole)[:, None, :, None]
        return drawn
