"""Parts of tins that stand aside: kept back while the rest was gone on with, and not gone on with since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from finishmatch.ledger.entries import BatchEntry
from finishmatch.ledger.pouring import batch_before, divides
from finishmatch.ledger.views import EntryView

_LEAST = 1e-3  # of a batch: less is what rounding leaves


@dataclass(frozen=True)
class PartAside:
    """A part of a batch that stands aside.

    Parameters
    ----------
    batch : int
        The number of the batch it is of, as that was before anything was done with the rest.
    share : float
        How much of that batch it is, 0 to 1.
    grams : float
    recipe : int or None
        What it was poured by.
    meant_for : str
        What it is meant for; "" where that wasn't said.
    """

    batch: int
    share: float
    grams: float
    recipe: int | None
    meant_for: str = ""

    @property
    def text(self) -> str:
        """What stands aside, in words."""
        of = "" if self.recipe is None else f", poured by recipe #{self.recipe}"
        meant = f"; meant for {self.meant_for}" if self.meant_for else ""
        part = "" if self.share == 1 else f"{100 * self.share:.3g} % of "
        return f"{self.grams:.1f} g stand aside: {part}batch #{self.batch} as it was{of}{meant}"

    def as_dict(self) -> dict[str, Any]:
        """Return the fields of its JSON form that don't depend on the face."""
        return {
            "batch": self.batch,
            "share": self.share,
            "grams": self.grams,
            "recipe": self.recipe,
            "meant_for": self.meant_for,
        }


def parts_aside(views: Sequence[EntryView]) -> tuple[PartAside, ...]:
    """Return the parts of tins that stand aside, in the order they were poured.

    Parameters
    ----------
    views : sequence of EntryView
        All entries of a job, replaced and struck ones included.

    Notes
    -----
    What was set aside of a batch is what no part of it that was gone on with holds. Gone on with itself, it leaves the
    first part standing aside in its turn.
    """
    batches = sorted((v for v in views if v.stands and isinstance(v.entry, BatchEntry)), key=lambda view: view.place)
    by_place = {view.place: view for view in batches}
    taken = dict.fromkeys(by_place, 0.0)  # how much of each batch was gone on with
    divided: dict[int, int] = {}  # of each batch that is a part of a tin, which tin that was
    said: dict[int, str] = {}  # of each batch that was divided, what the part of it that was left was last meant for
    for view in batches:
        before = batch_before(view, views)
        if before is None or before.place not in by_place:
            continue
        assert isinstance(view.entry, BatchEntry)
        taken[before.place] += view.entry.share
        if divides(view) or before.place in divided:
            divided[view.place] = divided.get(before.place, before.place)
        if divides(view) and view.entry.aside_for:
            said[before.place] = view.entry.aside_for
    in_hand = divided.get(batches[-1].place) if batches else None
    found = []
    for place, view in by_place.items():
        assert isinstance(view.entry, BatchEntry)
        left, of_parts = 1 - taken[place], 0 < taken[place] < 1
        other = taken[place] == 0 and view is not batches[-1] and in_hand is not None and divided.get(place) == in_hand
        if (of_parts or other) and left > _LEAST:
            grams = sum(g for _, g in view.entry.parts) * left
            # the other was left where its tin was gone on with
            meant = said.get(divided[place] if other else place, "")
            found.append(PartAside(view.number, round(left, 6), round(grams, 1), view.entry.recipe, meant))
    return tuple(found)
