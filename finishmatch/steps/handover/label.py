"""What goes on the lid: the formula of a job as a label, and the formula back from a photograph of one."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.outputs import check_output, write_output
from finishmatch.photo.find.square_code import read_square_codes
from finishmatch.photo.open.picture import open_picture
from finishmatch.readings.ghs import ghs_codes, ghs_said, on_the_tin
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.label_code import MARK, LabelCode, LabelPart, label_text, read_label_text
from finishmatch.steps.days import day_of
from finishmatch.steps.handover.kept_job import FormulaPart, KeptJob, kept_job
from finishmatch.steps.progress import Progress, quiet

MOST_LABELS = 80


@dataclass(frozen=True)
class LabelRequest:
    """What is asked of a label: the last day the mix may be used, its lot, how many labels; None is as usual."""

    use_by: str | None = None
    lot: str | None = None
    count: int | None = None


@dataclass(frozen=True)
class Label:
    """A label as it is drawn.

    Parameters
    ----------
    kept : KeptJob
    code : LabelCode
        What its square code holds, and what stands beside.
    text : str
        The square code as text.
    use_by : str
        YYYY-MM-DD, or "": a line to write on.
    count : int or None
    hazards : tuple of (tuple of str)
        What harms in it, a sentence each; as fully as there is room for: in full, without the tints' names, as codes.
    """

    kept: KeptJob
    code: LabelCode
    text: str
    use_by: str
    count: int | None
    hazards: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class LabelWritten:
    """A label that was drawn or read: its code as text, what it says, the file and the standard of its PDF.

    `hazards` say what harms in the mix, a sentence each; nothing of a label that was read, whose code doesn't hold it.
    """

    code: LabelCode
    text: str
    file: str | None = None
    standard: str | None = None
    hazards: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "label": self.code.as_dict(),
            "code": self.text,
            "hazards": list(self.hazards),
            "file": self.file,
            "pdf_standard": self.standard,
        }


def write_label(job: str, request: LabelRequest, draw: Callable[[Label], tuple[str, str]]) -> LabelWritten:
    """Write the label of a job's formula.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    request : LabelRequest
    draw : callable
        Is given the label, writes it, and returns the file and the standard of its PDF.

    Raises
    ------
    InputError
        No such job, one in which nothing was mixed, a day that is none or before that of the mix.
    """
    if request.use_by is not None:
        request = replace(request, use_by=day_of("`use_by`", request.use_by, to_come=True))
    if request.count is not None and not 1 <= request.count <= MOST_LABELS:
        raise InputError("`count`", f"{request.count} labels can't be drawn", f"give 1 to {MOST_LABELS}")
    kept = kept_job(job, files=False)
    label = label_of(kept, request)
    file, standard = draw(label)
    return LabelWritten(label.code, label.text, file, standard, label.hazards[0])


def label_of(kept: KeptJob, request: LabelRequest = LabelRequest()) -> Label:
    """Return the label of a job's formula.

    Raises
    ------
    InputError
        Nothing was mixed in the job, or only after the last day it may be used.
    """
    formula, job = kept.formula, kept.job
    if formula is None:
        raise InputError(f"job {job.ref}", "has no batch and no recipe yet", "mix, or pour, first")
    mixed_on = datetime.fromisoformat(formula.made_at).astimezone().date().isoformat()
    if request.use_by is not None and request.use_by < mixed_on:
        what = f"{request.use_by} is before the day of the mix, {mixed_on}"
        raise InputError("`use_by`", what, "give the last day the mix may be used")
    colour = kept.target or kept.card
    name = job.colour_name or ("" if kept.target is None else kept.target.name) or job.title
    code = LabelCode(
        name=name,
        job=job.ref,
        lot=request.lot or f"{job.ref}-{formula.number}",
        day=formula.made_at[:10],
        light="D65" if colour is None else colour.light,
        observer=10 if colour is None else colour.observer,
        lab=None if colour is None else tuple(round(value, 2) for value in colour.lab),
        parts=tuple(LabelPart(part.tint, part.colour_index, round(part.grams, 2)) for part in formula.parts),
    )
    return Label(kept, code, label_text(code), request.use_by or "", request.count, _harm(formula.parts))


def _harm(parts: Sequence[FormulaPart]) -> tuple[tuple[str, ...], ...]:
    """Return what the tints hold that harms, and what the GHS has on their tins: in full, and twice shorter."""
    holders: dict[str, list[str]] = {}
    ghs: list[str] = []
    for part in parts:
        held, words = on_the_tin(part.hazards)
        ghs += words
        if held:
            holders.setdefault(", ".join(held), []).append(part.tint)
    by_tint = tuple(f"Holds {words} ({', '.join(tints)})." for words, tints in holders.items())
    substances = dict.fromkeys(word for words in holders for word in words.split(", "))
    together = (f"Holds {', '.join(substances)}.",) if substances else ()
    _, every = on_the_tin(ghs)
    said, codes = ((f"Its tins say: {words}",) if every else () for words in (ghs_said(every), ghs_codes(every)))
    return (*by_tint, *said), (*together, *said), (*together, *codes)


def read_label(
    photograph: str | Path, *, save: str | Path | None = None, replace: bool = False, progress: Progress = quiet
) -> LabelWritten:
    """Return the formula that a photograph of a label holds.

    Parameters
    ----------
    photograph : str or Path
    save : str, Path or None
        Where the formula is written as a batch file.
    replace : bool
        Whether that may be written over a file that the program didn't write.
    progress : Progress

    Raises
    ------
    InputError
        No code of a label is found, or it was read wrong.
    """
    check_output(save, replace)
    path = Path(photograph)
    with progress(f"reading {path.name}"):
        texts = read_square_codes(open_picture(path))
    ours = [text for text in texts if text.startswith(MARK)] or texts
    if not ours:
        raise InputError(
            str(path), "no square code can be read in it", "photograph the label nearer, sharp and evenly lit"
        )
    code = read_label_text(ours[0], str(path))
    if save is not None:
        write_output(save, _batch_file(code), replace)
    return LabelWritten(code, ours[0], None if save is None else str(save))


def _batch_file(code: LabelCode) -> str:
    text = io.StringIO()
    text.write(f"# {' '.join(code.name.split())}, {code.job}, lot {code.lot}, {code.day}: read from its label\n")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["tint", "grams"])
    writer.writerows((guarded(part.tint), f"{part.grams:g}") for part in code.parts)
    return text.getvalue()
