"""The command line that closes what is open in a job."""

from __future__ import annotations

from typing import Any

from finishmatch.ledger import JobView, OpenItem
from finishmatch.ledger.parts_aside import PartAside
from finishmatch.steps.job.next_step import Known

NOTHING = Known()

# by what is needed, once the job knows the rest; capitals stand for what only the painter knows
_COMMANDS = {
    "target": "finishmatch evidence weigh EVIDENCE.csv{option}",
    "batch": "finishmatch job pour{argument} --as {number}",
    "decision": "finishmatch defect advise --defect {number}{option}",
    "outcome": "finishmatch job outcome{argument} TEXT --decision {number}",
    "plan law": "finishmatch plan law PRODUCT --rules RULES{option}",
    "plan air": "finishmatch plan air PRODUCT --temperature T --humidity H{option}",
    "plan angles": "finishmatch plan angles STANDARD TRIAL{option}",
}
_JUDGED = {
    "spray-out": "finishmatch judge CARD{option}",
    "verdict": "finishmatch judge{option}",
    "correction": "finishmatch correct{option}",
}
_SEEN = {  # where the last card was seen beside its standard
    "photo": "finishmatch judge PHOTO.jpg{option}",
    "told": "finishmatch judge --difference dL,da,db{option}",
}
_BY_HAND = {  # where the job lacks a target, a bank or a batch
    "spray-out": "finishmatch job spray{argument} READINGS.csv",
    "verdict": "finishmatch compare TARGET SPRAYED --job {job}",
    "correction": "finishmatch correct TARGET --bank BANK --batch BATCH.csv --sprayed SPRAYED --job {job}",
}


def next_command(job: JobView, item: OpenItem, known: Known = NOTHING, *, in_use: bool = False) -> str:
    """Return the command line that closes an open item of a job.

    Parameters
    ----------
    job : JobView
    item : OpenItem
    known : Known
        What needn't be named.
    in_use : bool
        Whether the job is in use, so that it needn't be named either.
    """
    names = {
        "job": job.ref,
        "option": "" if in_use else f" --job {job.ref}",
        "argument": "" if in_use else f" {job.ref}",
        "number": item.number,
    }
    if item.needs == "recipe":
        lacking = (
            ("" if known.target else " TARGET"),
            ("" if known.bank else " --bank BANK"),
            ("" if known.grams else " --grams G"),
        )
        return f"finishmatch mix{''.join(lacking)}{names['option']}"
    if item.tints:
        parts = (f'"{tint}=G"' if " " in tint else f"{tint}=G" for tint in item.tints)
        return f"finishmatch job pour{names['argument']} {' '.join(parts)}"
    if item.needs in _COMMANDS:
        part = known.first_g.get(item.number) if item.needs == "batch" else None
        return _COMMANDS[item.needs].format(**names) + ("" if part is None else f" --grams {part:g}")
    whole = known.target and known.bank and known.batch
    if whole and item.needs == "spray-out" and known.seen:
        return _SEEN[known.seen].format(**names)
    return (_JUDGED if whole else _BY_HAND)[item.needs].format(**names)


def open_document(job: JobView, item: OpenItem, known: Known = NOTHING, *, in_use: bool = False) -> dict[str, Any]:
    """Return the JSON form of an open item, with the command that closes it."""
    return {**item.as_dict(), "next": next_command(job, item, known, in_use=in_use)}


def aside_command(job: JobView, part: PartAside) -> str:
    """Return the command line that goes on with a part that stands aside; capitals are what only the painter knows."""
    rest = "" if part.share == 1 else f" --set-aside {100 * (1 - part.share):.6g}%"
    return f"finishmatch job pour {job.ref} TINT=GRAMS --to {part.batch}{rest}"
