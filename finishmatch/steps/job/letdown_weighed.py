"""What was weighed into a letdown: as in the panel it is drawn after, but for what was said."""

from __future__ import annotations

from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.optics import Bank, Panel
from finishmatch.readings import read_batch
from finishmatch.steps.matching import Parts, PartsLike, typed_parts


def weighed_into(bank: Bank, panel: Panel, weighed: PartsLike | None) -> tuple[Parts, tuple[str, ...]]:
    """Return what was weighed into a letdown, as in its panel but for what was said; and a note where some was said."""
    meant = tuple((tint, grams) for tint, grams in panel.grams if grams > 0)
    if weighed is None:
        return meant, ()
    known = bank.densities
    of_file = isinstance(weighed, str | Path)
    parts = (
        read_batch(Path(weighed), known)
        if isinstance(weighed, str | Path)
        else typed_parts(weighed, known, "`weighed`")
    )
    said, wanted = {tint for tint, _ in parts}, {tint for tint, _ in meant}
    own = {tint for tint, grams in parts if grams > 0}
    rest = () if of_file else tuple((tint, grams) for tint, grams in meant if tint not in said)
    if own | {tint for tint, _ in rest} != wanted:
        strange, without = ", ".join(sorted(own - wanted)), ", ".join(sorted(wanted - own))
        what = f"is of other tints than the panel {panel.name}: {strange}" if strange else f"is without {without}"
        raise InputError("`weighed`", what, f"weigh {', '.join(sorted(wanted))}, or name another panel")
    as_meant = ", ".join(f"{tint} {grams:g} g" for tint, grams in rest)
    return (*parts, *rest), ((f"taken as in the panel {panel.name}: {as_meant}",) if rest else ())
