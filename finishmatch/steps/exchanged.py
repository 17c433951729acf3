"""A card and its standard that look exchanged, before anything is worked out by them: it would go the wrong way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch import evidence  # what two photographs share is worked out where there is a doubt
from finishmatch.colour import difference_words
from finishmatch.colour.gloss import lab_with_gloss
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.correct.blunders import Parts, SprayedCard
from finishmatch.correct.other_way_round import Exchange, PairSeen, exchange_seen
from finishmatch.errors import InputError
from finishmatch.optics.surface import fresnel_normal
from finishmatch.readings import Reading
from finishmatch.readings.geometry_names import WITH_GLOSS
from finishmatch.steps.piece_by_bank import PieceByBank
from finishmatch.steps.seen import SeenCard, off_target, refuse_other_piece

_WRONG_WAY = "what is found by it goes the wrong way"


def look_first(
    given: object, card: SprayedCard, parts: Parts, target: Reading, piece: PieceByBank, index: float, anyway: bool
) -> tuple[str, ...]:
    """See that a card and its standard aren't exchanged, nor the standard another piece; what is to be looked at first.

    Parameters
    ----------
    given : SeenCard, or whatever a card is known by
    card : SprayedCard
        The same, as it is beside the target.
    parts : tuple of (tint, grams)
        What it was sprayed of.
    target : Reading
        As it was given.
    piece : PieceByBank
        The same as the bank has it.
    index : float
        Of refraction, of the bank's binder.
    anyway : bool
        Take it as it is, with a warning.

    Raises
    ------
    InputError
        The two look exchanged, by what was poured and by how a camera saw each; as `refuse_other_piece`.
    """
    found = _found(given, card, parts, piece, index)
    if found is not None and found.surely:
        where, what, mend = _said(given, card.reading, found, target, index)
        if not anyway:
            raise InputError(where, f"{what}, and {_WRONG_WAY}", f"{mend}; with `anyway` it is taken as it is")
        return (f"{where}: {what}; it is taken as it is, and {_WRONG_WAY} if so",)
    if found is not None and found.likely:
        where, what, mend = _said(given, card.reading, found, target, index)
        return (f"{where}: {what}; if so, {_WRONG_WAY}: {mend}, before anything is poured",)
    unlikely = found is not None and found.log_odds < 0
    return refuse_other_piece(given, target, index, anyway, exchanged=not unlikely)


def _found(given: object, card: SprayedCard, parts: Parts, piece: PieceByBank, index: float) -> Exchange | None:
    """Return what speaks for an exchange; the target may have its gloss, unless it was read without it."""
    pairs, geometry = list[PairSeen](), piece.reading.geometry
    if isinstance(given, SeenCard) and given.pair is not None:
        pairs = [_pair(given, piece, None)]
        if not geometry or geometry in WITH_GLOSS:
            pairs.append(_pair(given, piece, fresnel_normal(index)))
    return exchange_seen(card, parts, pairs)


def _pair(given: SeenCard, piece: PieceByBank, surface: float | None) -> PairSeen:
    """Return standard and card as photographs tell each, seen through their gloss where that is given.

    What the bank takes from the target's colour is taken from both: the camera sees them as it saw the target.
    """
    assert given.pair is not None
    standard, card = (one.lab_in(one.light, one.observer) for one in given.pair)
    if surface is not None:
        light, observer = given.pair[0].light, given.pair[0].observer
        standard, card = (lab_with_gloss(lab, surface, light, observer) for lab in (standard, card))
    if piece.moved is not None:
        standard, card = standard + piece.moved, card + piece.moved
    facts = given.pair[0].target
    assert facts is not None
    assert facts.u95 is not None
    by = replace(facts, pictures=tuple(path.name for path in given.sources))
    doubt = evidence.doubt_of_two(piece.reading.target, by, evidence.common_catalogue().settings.same_camera)
    return PairSeen(standard, card, facts.u95, WITHIN_95 * float(np.sqrt(doubt.shared_var)))


def _said(given: object, card: Reading, found: Exchange, target: Reading, index: float) -> tuple[str, str, str]:
    """Return where two look exchanged, by what, and what is to be done."""
    seen, told = card.seen[0], []
    if isinstance(given, SeenCard) and given.pair is not None:
        standard, trial = (off_target(one, target, index) for one in given.pair)
        told = [f"the card lies ΔE00 {trial:.1f} from {target.name}, the standard {standard:.1f}"]
    expected = difference_words(found.standard, found.foretold)[:2]
    if expected:
        is_seen = " and ".join(difference_words(found.standard, found.standard + seen.delta)[:2]) or "no other"
        told.append(f"by what was poured it should be {' and '.join(expected)}, and it is seen {is_seen}")
    if not seen.pictures:
        return "`difference`", f"{'; '.join(told)}: it looks turned round", "give trial minus standard"
    where = ", ".join(path.name for path in given.sources) if isinstance(given, SeenCard) else card.name
    mend = "see which of the two is the card, and name it so, or photograph them anew"
    return where, f"{'; '.join(told)}: card and standard look exchanged", mend
