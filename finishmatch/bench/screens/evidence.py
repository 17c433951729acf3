"""Evidence: samples that survive, typed or as a file, are weighed; what they say is looked at, then recorded."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.kept import TABLES, found_again, kept_table, name_of
from finishmatch.bench.parameters import JobRef
from finishmatch.errors import InputError
from finishmatch.steps.evidence_kinds import evidence_kinds
from finishmatch.steps.readings_waiting import AS_READ, WaitingReading, readings_waiting
from finishmatch.steps.weigh_evidence import WeighedEvidence, WeighRequest, weigh_evidence

router = APIRouter(include_in_schema=False)

ROWS, MOST_ROWS = 3, 24
_ROW = re.compile(r", line ([0-9]{1,4})(?:, column '([A-Za-z]+)')?")  # the head of the table is its line 1
COLUMNS = ("name", "kind", "vehicle", "L", "a", "b")

Kept = Annotated[str, Query(pattern=r"^[0-9a-f]{32}$")]
Use = Annotated[str, Query(max_length=60)]
Pick = Annotated[int | None, Query(ge=1, le=200)]
Without = Annotated[list[str] | None, Query(max_length=200)]
Rows = Annotated[int, Query(ge=1, le=MOST_ROWS)]
Title = Annotated[str, Query(max_length=200)]


@router.get("/job/{ref}/evidence")
def evidence(ref: JobRef, desk: AtDesk, rows: Rows = ROWS) -> Response:
    """Show the form for samples."""
    shown = desk.shown(ref)
    read = (
        () if desk.form is not None else tuple(_filled_in(one) for one in readings_waiting(shown.entries)[:MOST_ROWS])
    )
    sent = len(read if desk.form is None else desk.form.getlist("name"))
    known = evidence_kinds().catalogue
    none = known.find_kind("", "the kind")  # of a sample of which nothing is stated
    kinds = [("", none.name)] + [(kind.name, kind.name) for kind in known.kinds if kind != none]
    uses = [(name, use.what) for name, use in known.uses.items()]
    many = max(rows, sent)
    return desk.page("evidence.html", shown=shown, rows=many, kinds=kinds, uses=uses, most=MOST_ROWS, read=read)


@router.post("/job/{ref}/evidence")
def enter(ref: JobRef, desk: AtDesk) -> Response:
    """Keep what was entered, and weigh it."""

    def do() -> str:
        path, rows = desk.upload("file", TABLES), []
        if path is None:
            rows = _typed_rows(desk, readings_waiting(desk.shown(ref).entries))
            path = kept_table("evidence", (*COLUMNS, *AS_READ), rows, desk.bench.uploads)
        use = desk.text("use") or WeighRequest.use
        try:
            weigh_evidence(path, WeighRequest(use=use))
        except InputError as error:
            raise _as_typed(error, rows) from error
        desk.looked_at = True
        return f"/job/{ref}/evidence/weighed?{urlencode({'kept': name_of(path), 'use': use})}"

    return desk.sent(do, lambda: evidence(ref, desk))


def _as_typed(error: InputError, rows: Sequence[dict[str, object]]) -> InputError:
    """Return what is wrong with a row of the table that was kept, in the words of the sample that was typed."""
    found = _ROW.search(error.where)
    if found is None or not 0 <= int(found[1]) - 2 < len(rows):
        return error
    name = str(rows[int(found[1]) - 2]["name"])[:40]
    return InputError(f"{found[2]} of {name}" if found[2] else f"sample {name}", error.what, error.mend)


def _filled_in(one: WaitingReading) -> dict[str, object]:
    """Return what a reading fills in of the form, and what is shown beside it."""
    colour = dict(zip("Lab", one.figures, strict=True))
    return {"number": one.number, "name": one.name, "u95": one.u95, **colour}


def _kept_of(sample: dict[str, object], waiting: Sequence[WaitingReading]) -> dict[str, object]:
    """Return the colour of a sample and how it was read, where it stands as the record has it."""
    lab = [float(str(sample[axis])) for axis in "Lab"]
    same = (one for one in waiting if str(one.number) == sample["from"] and one.told_as(lab))
    found = next(same, None)
    return dict.fromkeys(AS_READ, "") if found is None else found.as_row()


def _typed_rows(desk: Desk, waiting: Sequence[WaitingReading]) -> list[dict[str, object]]:
    """Return the samples that were typed; a row without a colour and a name is left out.

    One that was `waiting`, and that was left as it was filled in, keeps how it was read.
    """
    assert desk.form is not None
    sent = {name: [str(value).strip() for value in desk.form.getlist(name)] for name in (*COLUMNS, "from")}
    rows = []
    for i, name in enumerate(sent["name"]):
        row = {column: values[i] if i < len(values) else "" for column, values in sent.items()}
        colour = [row[axis] for axis in ("L", "a", "b")]
        if not name and not any(colour):
            continue
        if not all(colour):
            raise InputError(f"sample {name[:40] or i + 1}", "isn't whole", "give its L, a and b")
        numbers = {axis: desk.number_in(f"{axis} of {name[:40] or i + 1}", row[axis]) for axis in ("L", "a", "b")}
        whole = {**row, "name": name or f"sample {i + 1}", **numbers}
        rows.append({column: value for column, value in (whole | _kept_of(whole, waiting)).items() if column != "from"})
    if not rows:
        raise InputError("the samples", "are missing", "type at least one, or choose a file")
    return rows


@router.get("/job/{ref}/evidence/weighed")
def weighed(
    ref: JobRef,
    desk: AtDesk,
    kept: Kept,
    use: Use = WeighRequest.use,
    pick: Pick = None,
    without: Without = None,
    name: Title = "",
) -> Response:
    """Show what the samples are evidence of, before anything is recorded."""
    shown = desk.shown(ref)
    name = name or shown.story.job.colour_name or shown.story.job.title
    request = WeighRequest(use=use, pick=pick, without=tuple(without or ()), name=name or None)
    found = _weighed(desk, kept, request)
    if found is None:
        return evidence(ref, desk)
    colour = found.picked or found.found.colours[0]
    context: dict[str, Any] = {"kept": kept, "use": use, "pick": pick, "without": without or [], "name": name}
    return desk.page("weighed.html", shown=shown, found=found, colour=colour, **context)


def _weighed(desk: Desk, kept: str, request: WeighRequest) -> WeighedEvidence | None:
    try:
        return weigh_evidence(found_again(kept, desk.bench.uploads), request)
    except InputError as error:
        desk.wrong = desk.wrong or desk.without_folder(error)
        return None


@router.post("/job/{ref}/evidence/weighed")
def record(ref: JobRef, desk: AtDesk) -> Response:
    """Weigh again with some left out, or record samples and target."""
    kept, without, pick = desk.text("kept"), desk.texts("without"), desk.whole("pick")
    use, name = desk.text("use"), desk.text("name")

    def do() -> str:
        if desk.text("do") == "again":
            desk.looked_at = True
            query = {"kept": kept, "use": use, "name": name, "without": list(without)}
            picked = {} if pick is None else {"pick": pick}
            return f"/job/{ref}/evidence/weighed?{urlencode({**query, **picked}, doseq=True)}"
        why = desk.text("why")
        request = WeighRequest(use=use, pick=pick, without=without, why=why, name=name or None)
        found = weigh_evidence(found_again(kept, desk.bench.uploads), request, job=ref)
        if not found.recorded:
            raise InputError("`pick`", "isn't said: the samples are of several colours", "choose one")
        read = "1 reading" if len(found.recorded) == 2 else f"{len(found.recorded) - 1} readings"
        desk.say(f"Recorded: {read}, and the target {found.title} as #{found.recorded[-1]}")
        desk.note(*found.warnings)
        return f"/job/{ref}"

    def again() -> Response:
        return weighed(ref, desk, kept, use or WeighRequest.use, pick, list(without), name)

    return desk.sent(do, again, ref=ref, bearing=("target",))
