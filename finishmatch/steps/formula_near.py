"""A recipe starts from what was mixed before: the formula of an earlier job."""

from __future__ import annotations

from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.handover.kept_job import kept_job
from finishmatch.steps.matching import Parts, PartsLike, parts_of
from finishmatch.understood import understood


def formula_near(near: PartsLike | None, like: str | None, fitted: FittedBank) -> PartsLike | None:
    """Return the batch to stay near: the one that is given, or the formula of a job.

    Parameters
    ----------
    near : PartsLike or None
    like : str or None
        A ref or an exact title. Tints that the bank doesn't have are left out, and said.
    fitted : FittedBank

    Raises
    ------
    InputError
        Both are given, no such job, one in which nothing was mixed, or none of its tints is in the bank.
    """
    if like is None:
        return near
    if near is not None:
        raise InputError("`like`", "is given with `near`", "leave one of them out")
    kept = kept_job(like, files=False)
    if kept.formula is None:
        raise InputError(f"job {kept.job.ref}", "has no formula yet", "name a job in which something was mixed")
    known = set(fitted.bank.tint_names)
    parts = {tint: grams for tint, grams in kept.formula.pairs if tint in known}
    lacking = [tint for tint, _ in kept.formula.pairs if tint not in known]
    if not parts:
        raise InputError(f"job {kept.job.ref}", "none of the tints of its formula is in the bank", "leave out `like`")
    if lacking:
        understood(f"{kept.job.ref}", f"{', '.join(lacking)} of its formula isn't in the bank: left out")
    return parts


def to_stay_near(near: PartsLike | None, like: str | None, fitted: FittedBank) -> Parts:
    """Return the coloured parts of the batch to stay near, as of `formula_near`; clears thin, and make no colour."""
    batch = formula_near(near, like, fitted)
    if batch is None:
        return ()
    clears = {tint.name for tint in fitted.bank.tints if tint.role == "clear"}
    coloured = tuple(part for part in parts_of(batch, fitted.bank.densities)[0] if part[0] not in clears)
    if not coloured:
        where = str(batch) if isinstance(batch, str | Path) else "`near`"
        raise InputError(where, "holds no coloured tint", "name the batch file of a recipe")
    return coloured
