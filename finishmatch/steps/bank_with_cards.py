"""The bank as of today: its panels and the cards of the record, worked out together and kept beside the ledger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.card_as_panel import card_panel, doubt_between, seen_card_panel
from finishmatch.errors import InputError
from finishmatch.ledger.entries import SprayOutEntry
from finishmatch.ledger.home import ledger_home
from finishmatch.mix.weighing import Scale
from finishmatch.optics import BankToday, CardPanel, bank_today
from finishmatch.optics.strength import STRONGEST, StrengthEvidence
from finishmatch.readings.today_file import load_today, store_today, today_key
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.spray_out_strengths import Poured, reading_kept, sprayed_card
from finishmatch.steps.spray_outs_counted import CountedSprayOut, tins_of_panels


@dataclass(frozen=True)
class BankWithCards:
    """A bank with the cards of the record.

    Parameters
    ----------
    found : BankToday
    panels : int
        Of the bank itself.
    cards : tuple of CountedSprayOut
        Those that are panels of it, in its order.
    rest : tuple of CountedSprayOut
        Those that only show how strong their tins are: known as CIELAB alone, or of a film that can't be predicted, and
        letdowns that were read by themselves or are of tins that no card was of.
    own : str
        The ref of the job in hand; "" for none.
    fresh_key : str
        Of what was worked out anew and isn't kept beside the ledger yet; "" where there is nothing to keep.
    """

    found: BankToday
    panels: int
    cards: tuple[CountedSprayOut, ...] = ()
    rest: tuple[CountedSprayOut, ...] = ()
    own: str = ""
    fresh_key: str = ""

    @property
    def words(self) -> str:
        """What the bank as of today is, in a line; "" for the bank alone."""
        if not self.cards:
            return ""
        count = len(self.cards) - len(self.found.left_aside)
        cards = f"{count} card{'' if count == 1 else 's'} of the record"
        return f"the bank as of today: its {self.panels} panels and {cards}"

    @property
    def warnings(self) -> tuple[str, ...]:
        """A warning for each card that doesn't fit, or is left aside."""
        doubted = (
            f"the card of {self._named(self.cards[i])} doesn't fit the bank and the other cards, so it counts less: "
            "check what was poured, and read it again"
            for i in self.found.doubted
        )
        aside = (
            f"the card of {self._named(self.cards[i])} would make a tin more than {STRONGEST:g} times as strong as the "
            "bank's, or weaker by as much: it is left aside; check what was poured, read it again, or strike it"
            for i in self.found.left_aside
        )
        return (*doubted, *aside)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON form of what the bank as of today is."""
        return {
            "panels": self.panels,
            "cards": len(self.cards) - len(self.found.left_aside),
            "doubted": [self.cards[i].number for i in self.found.doubted],
            "left_aside": [self.cards[i].number for i in self.found.left_aside],
        }

    def _named(self, spray_out: CountedSprayOut) -> str:
        return f"spray-out #{spray_out.number}" + ("" if spray_out.job == self.own else f" of {spray_out.job}")


def bank_with_cards(
    fitted: FittedBank, spray_outs: Sequence[CountedSprayOut], today: Mapping[str, str], spread: float, own: str
) -> BankWithCards:
    """Return a bank with some cards of the record, from what was kept or worked out now.

    Parameters
    ----------
    fitted : FittedBank
    spray_outs : sequence of CountedSprayOut
    today : mapping of str to str
        Of each tint, what sets its open tin apart.
    spread : float
        Of the strength of tins nothing was sprayed of.
    own : str
        The ref of the job in hand; "" for none.
    """
    panels: list[tuple[CardPanel, CountedSprayOut]] = []
    rest = []
    for spray_out in spray_outs:
        card = _as_panel(fitted, spray_out)
        if card is None:
            rest.append(spray_out)
        else:
            panels.append((card, spray_out))
    panels.sort(key=lambda pair: pair[0].key)  # what is kept names cards by their place
    cards = [card for card, _ in panels]
    held = {tin for card in cards for tin in card.tins}
    open_now = {tint: tin for tint, tin in today.items() if tin in held}
    counted = tuple(spray_out for _, spray_out in panels)
    letdowns = [one for one in rest if _beside_panel(one) and held.issuperset(one.shown.names)]
    rest = [one for one in rest if not any(one is other for other in letdowns)]
    of_panels = tins_of_panels(fitted.bank.tints) & held
    shown = [one.shown for one in letdowns]
    found, fresh_key = _found(fitted, cards, (open_now, spread, of_panels, shown))
    drawn = {panel.panel for panel in fitted.fit.panels}  # several photographs may show one
    return BankWithCards(found, len(drawn), counted, tuple(rest), own, fresh_key)


def _beside_panel(spray_out: CountedSprayOut) -> bool:
    """Return whether it is a letdown seen beside its panel: what the bank is off by drops out of its strength alone."""
    entry = spray_out.letdown
    return entry is not None and entry.letdown is not None and bool(entry.letdown.get("seen"))


def keep_today(bank: BankWithCards | None) -> None:
    """Keep what was worked out anew beside the ledger, once something was recorded; else it is made anew."""
    if bank is not None and bank.fresh_key:
        store_today(ledger_home(), bank.fresh_key, bank.found)


def _found(
    fitted: FittedBank,
    cards: list[CardPanel],
    tins: tuple[Mapping[str, str], float, frozenset[str], list[StrengthEvidence]],
) -> tuple[BankToday, str]:
    """Return a bank with its cards, and the key to keep it by where it was worked out anew.

    `tins` is what `bank_today` is told of them.
    """
    if not cards or fitted.folder is None:
        return bank_today(fitted.fit, cards, *tins), ""
    key = today_key(fitted.fit, cards, *tins)
    kept = load_today(ledger_home(), key, fitted.fit)
    return (bank_today(fitted.fit, cards, *tins), key) if kept is None else (kept, "")


def _as_panel(fitted: FittedBank, spray_out: CountedSprayOut) -> CardPanel | None:
    """Return a card as a panel of the bank; None where it can't be one."""
    entry = spray_out.entry
    if entry is None or not (entry.seen or entry.reflectance is not None) or not spray_out.parts:
        return None
    alone, parts = replace(fitted, today=None), tuple(spray_out.parts)
    try:
        card = sprayed_card(alone, reading_kept(entry), entry, Poured(parts))
        found = _panel_of(card, entry, parts, spray_out.job)
    except InputError:
        return None
    tins = dict(zip(spray_out.tints, spray_out.shown.names, strict=True))
    if found is None or not set(found.names) <= set(tins):
        return None
    return replace(found, tins=tuple(tins[name] for name in found.names), mixture=spray_out.mixture)


def _panel_of(
    card: SprayedCard, entry: SprayOutEntry, parts: tuple[tuple[str, float], ...], job: str
) -> CardPanel | None:
    if entry.seen:
        return seen_card_panel(card.optics, card.tints, parts, card.reading, Scale(), job)
    # how far the build is off is an unknown of its own; what else the film may have been is a doubt of the reading
    doubts = tuple(doubt_between(*film, parts) for film in card.alternatives[1:])
    return card_panel(card.optics, card.tints, parts, card.reading, Scale(), doubts, entry.repeats)
