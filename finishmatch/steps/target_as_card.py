"""The reading of the target that is given as a card: it would be a panel of the bank that no tin was sprayed of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.errors import InputError
from finishmatch.ledger import EntryView, ReadingEntry, SprayOutEntry, TargetEntry, known_again_by, same_reading
from finishmatch.readings import Reading

_OF_TARGET = ("evidence", "weighed target")  # how the roles of readings begin that a target was found from


def refuse_target(card: SprayOutEntry, views: Sequence[EntryView], anyway: bool) -> tuple[str, ...]:
    """See that a card isn't read to the last digit like the job's target, or like what that was found from.

    Parameters
    ----------
    card : SprayOutEntry
        As it was read; of one that was seen beside its standard nothing is asked.
    views : sequence of EntryView
        The entries of the job.
    anyway : bool
        Take it as it is, with a warning.

    Raises
    ------
    InputError
        Names the entry.

    Notes
    -----
    Two spectra are never alike to the last digit. L*, a* and b* to one decimal may be, so the way past is said.
    """
    cards = (view.entry for view in views if view.stands and isinstance(view.entry, SprayOutEntry))
    if card.seen or any(same_reading(one, card) for one in cards):  # the latter was asked when it was recorded
        return ()
    found = next((view for view in reversed(views) if view.stands and _is_of(view, card)), None)
    if found is None:
        return ()
    assert isinstance(found.entry, TargetEntry | ReadingEntry)
    its = "the target itself" if isinstance(found.entry, TargetEntry) else "a sample that the target was found from"
    which, what = f"the spray-out ({card.name or 'typed'})", f"is the reading of {its}, {found.entry.name} "
    what += f"(#{found.number})"
    if anyway:
        return (f"{which} {what}; it is taken as it is",)
    mend = "read the card that was sprayed of the tin; with `anyway` it is taken as it is"
    if card.reflectance is None:
        mend = "read the card that was sprayed of the tin; one that happens to read the same is taken with `anyway`"
    raise InputError(which, what, mend)


def _is_of(view: EntryView, card: SprayOutEntry) -> bool:
    """Whether an entry is of the target and reads like a card."""
    one = view.entry
    if not isinstance(one, TargetEntry) and not (isinstance(one, ReadingEntry) and one.role.startswith(_OF_TARGET)):
        return False
    read = SprayOutEntry(None, one.lab, one.reflectance, light=one.light, observer=one.observer)
    return not known_again_by(read).isdisjoint(known_again_by(card))


def target_itself(job: str | None, standard: Reading, card: Reading | None) -> tuple[str, ...]:
    """Return a warning where the card that is given reads like the target that is given.

    In a job nothing is said here: its card is held against all that the job has of its target.
    """
    if job is not None or card is None or card.seen:
        return ()
    if not np.array_equal(standard.repeats.mean(axis=0), card.repeats.mean(axis=0)):
        return ()
    return (f"the spray-out ({card.name}) is the reading of the target itself: read the card that was sprayed",)
