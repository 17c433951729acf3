"""Tints of a batch that the bank can't tell anything of yet: a card of it is no use before their panels are drawn."""

from __future__ import annotations

from finishmatch.optics import Bank, tints_untold
from finishmatch.steps.matching import Parts


def untold_in(parts: Parts, bank: Bank | None) -> tuple[str, ...]:
    """Return the tints in some parts, (tint, grams), whose strength no panel of a bank shows; none without a bank."""
    untold = () if bank is None else tints_untold(bank)
    return tuple(tint for tint in untold if any(name == tint and grams > 0 for name, grams in parts))


def untold_said(tints: tuple[str, ...]) -> tuple[str, ...]:
    """Return one warning of a batch that holds such tints; nothing where it holds none."""
    if not tints:
        return ()
    strong, of_it = ("is", "it") if len(tints) == 1 else ("are", "them")
    names = " and ".join(filter(None, (", ".join(tints[:-1]), tints[-1])))
    return (
        f"no panel of the bank shows yet how strong {names} {strong}: until letdowns of {of_it} are drawn and read, a "
        "card of this batch can't be predicted, corrected or learnt from",
    )
