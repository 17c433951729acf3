"""What a screen works with: who asks, what was sent, the page that answers, and what was recorded meanwhile."""

from __future__ import annotations

import hmac
import math
import re
from collections.abc import AsyncIterator, Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException

from finishmatch.bench.bench import Bench
from finishmatch.bench.labels import in_words, is_of_field
from finishmatch.bench.pages import rendered
from finishmatch.bench.sessions import Session
from finishmatch.bench.uploads import kept_upload
from finishmatch.errors import InputError
from finishmatch.opened_once import opening_once
from finishmatch.readings.plain_number import number_hint, understood_number
from finishmatch.steps.cautions_shown import CautionsToShow, cautions_to_show
from finishmatch.steps.job.show import JobShown, show_job
from finishmatch.understood import listening, what_was_understood

LONGEST_TEXT = 4000
MOST_FIELDS = 400
MOST_FILES = 12
BY_SCRIPT = "x-bench-script"  # a header our own script sends: it is answered with where to go


@dataclass
class Desk:
    """One request, as a screen sees it.

    Parameters
    ----------
    request : Request
    bench : Bench
    session : Session or None
        None on the page where a device is paired.
    form : FormData or None
        What was sent; its token has been checked.
    wrong : InputError or None
        What is to be said of it on the page.
    since : sequence of StoryLine
        What was recorded since the page was opened, where that bears on what was sent.
    """

    request: Request
    bench: Bench
    session: Session | None
    form: FormData | None = None
    wrong: InputError | None = None
    since: tuple[Any, ...] = ()
    looked_at: bool = False
    """Whether what was sent is only looked at so far: the device keeps what was typed until it is recorded."""

    def shown(self, ref: str) -> JobShown:
        """Return a job as it stands; one there isn't is no page."""
        try:
            found: JobShown = self.bench.remembered(("job", ref), lambda: show_job(ref, history=True))
        except InputError as error:
            raise HTTPException(404, str(error)) from error
        return found

    def cautions(self, ref: str, bearing: tuple[str, ...]) -> CautionsToShow:
        """Return the cautions that bear on a screen: in full the first time in a job, in one line after that."""
        found: CautionsToShow = self.bench.remembered(
            ("cautions", ref, bearing), lambda: cautions_to_show(bearing, ref)
        )
        return found

    def text(self, name: str) -> str:
        """Return a field that was sent, without blanks at its ends; "" where it wasn't."""
        value = None if self.form is None else self.form.get(name)
        return value.strip()[:LONGEST_TEXT] if isinstance(value, str) else ""

    def texts(self, name: str) -> tuple[str, ...]:
        """Return all that was sent under a name, what is empty left out."""
        values = () if self.form is None else self.form.getlist(name)
        return tuple(value.strip()[:LONGEST_TEXT] for value in values if isinstance(value, str) and value.strip())

    def number(self, name: str) -> float | None:
        """Return a number that was sent, as a painter writes it; None where it was left empty.

        Raises
        ------
        InputError
            It is none.
        """
        text = self.text(name)
        return self.number_in(f"`{name}`", text) if text else None

    def number_in(self, where: str, text: str) -> float:
        """Return a number as a painter writes it.

        Raises
        ------
        InputError
            It is none.
        """
        try:
            value = understood_number(where, text)
        except ValueError:
            raise InputError(where, f"{text[:30]!r} is not a number", number_hint(text)) from None
        if not math.isfinite(value):
            raise InputError(where, f"{text[:30]!r} is beyond all bounds", "type it again")
        return value

    def needed(self, name: str) -> float:
        """Return a number that has to be sent."""
        value = self.number(name)
        if value is None:
            raise InputError(f"`{name}`", "is empty", "type a number")
        return value

    def whole(self, name: str) -> int | None:
        """Return a whole number that was sent; None where it was left empty."""
        value = self.number(name)
        if value is None:
            return None
        if value != int(value) or abs(value) > 10**9:
            raise InputError(f"`{name}`", f"{value:g} is not a whole number", "leave out the decimals")
        return int(value)

    def upload(self, name: str, suffixes: Collection[str]) -> Path | None:
        """Return a file that was sent, kept under a name of our own; None where none was.

        Parameters
        ----------
        name : str
            Of the field.
        suffixes : collection of str
            What its name may end in, as ".csv".
        """
        sent = None if self.form is None else self.form.get(name)
        if not isinstance(sent, UploadFile) or not sent.filename:
            return None
        return kept_upload(sent, suffixes, self.bench.uploads)

    def page(self, template: str, status: int = 200, **context: Any) -> HTMLResponse:
        """Return a template filled, with what every page needs."""
        said, noted = self._told()
        if self.wrong is not None and status == 200:
            status = 409 if self.since else 422
        text = rendered(template, desk=self, said=said, noted=noted, **context)
        return HTMLResponse(text, status)

    def kept_page(self, make: Callable[[], Response]) -> Response:
        """Return a page that is the same until something is recorded; made anew where there is something to be said.

        Parameters
        ----------
        make : callable
            Makes the page, from the record alone.
        """
        if self.session is None or self.session.said or self.session.noted or self.wrong is not None:
            return make()
        key = ("page", self.request.url.path, self.request.url.query, self.token)
        body: bytes = self.bench.remembered(key, lambda: bytes(make().body))
        return HTMLResponse(body)

    def sent(
        self,
        do: Callable[[], str],
        again: Callable[[], Response],
        *,
        ref: str | None = None,
        bearing: Collection[str] = (),
    ) -> Response:
        """Do what a form asks for, and lead on; what is wrong is said on the form, which keeps what was typed.

        Parameters
        ----------
        do : callable
            Calls the step, and returns the path that comes next.
        again : callable
            Returns the page with the form.
        ref : str or None
            The job that it is recorded in.
        bearing : collection of str
            The kinds of entry that bear on it: one recorded since the page was opened is shown first.
        """
        with self.bench.recording, listening(), opening_once():
            try:
                if ref is not None:
                    self._see_unchanged(ref, bearing)
                to = do()
            except InputError as error:
                self.wrong = self.without_folder(error)
                return again()
            self.note(*(f"understood: {line}" for line in what_was_understood()))
        return self.gone_to(to)

    def gone_to(self, path: str) -> Response:
        """Lead a browser, or our own script, to another page."""
        if BY_SCRIPT in self.request.headers:
            return JSONResponse({"to": path, "recorded": not self.looked_at})
        return RedirectResponse(path, 303)

    def say(self, *lines: str) -> None:
        """Have it said on the next page what was done."""
        if self.session is not None:
            self.session.said.extend(lines)

    def note(self, *lines: str) -> None:
        """Have it said on the next page what is to be borne in mind; parameters stand as the page calls them."""
        if self.session is not None:
            self.session.noted.extend(in_words(line) for line in lines)

    def without_folder(self, error: InputError) -> InputError:
        """Return an error with what was uploaded called by its name, and not by where it is kept meanwhile."""
        kept = re.compile(re.escape(str(self.bench.uploads)) + r"/[0-9a-f]{32}/")
        return InputError(*(kept.sub("", text) for text in (error.where, error.what, error.mend)))

    def wrong_in(self, name: str) -> InputError | None:
        """Return what is wrong with what was typed in a field; None where that is something else, or nothing."""
        typed = self.request.query_params if self.form is None else self.form
        if self.wrong is None or name not in typed or self.since:
            return None
        return self.wrong if is_of_field(self.wrong.where, name) else None

    def _told(self) -> tuple[list[str], list[str]]:
        """Return what is to be said and noted, once."""
        if self.session is None:
            return [], []
        told = self.session.said[:], self.session.noted[:]
        self.session.said.clear()
        self.session.noted.clear()
        return told

    def _see_unchanged(self, ref: str, bearing: Collection[str]) -> None:
        seen = self.whole("seen")
        if seen is None:
            return
        lines = self.shown(ref).story.lines
        self.since = tuple(line for line in lines if line.number > seen and line.kind in bearing)
        if self.since:
            what = "something was recorded since this page was opened"
            raise InputError("", what, "look at it below; if what you typed still holds, send it again")

    @property
    def token(self) -> str:
        """What every form brings along."""
        return "" if self.session is None else self.session.token

    def typed(self, name: str, otherwise: object = "") -> str:
        """Return what was typed in a field, where the form is shown again, or what stands there at first."""
        if self.form is not None and name in self.form:
            return self.text(name)
        return "" if otherwise is None else str(otherwise)


async def at_desk(request: Request) -> AsyncIterator[Desk]:
    """Yield the desk of a request; what was sent without the token of its session is refused."""
    bench: Bench = request.app.state.bench
    session: Session | None = getattr(request.state, "session", None)
    desk = Desk(request, bench, session)
    if request.method in ("GET", "HEAD"):
        yield desk
        return
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind in ("application/x-www-form-urlencoded", "multipart/form-data"):
        desk.form = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=200_000)
    try:
        if session is not None:
            token = request.headers.get("x-bench-token") or desk.text("token")
            if not hmac.compare_digest(token.encode("utf-8", "replace"), session.token.encode()):
                what = "this page was opened before the bench was started anew: load it again"
                raise HTTPException(403, what)
        yield desk
    finally:
        if desk.form is not None:
            await desk.form.close()


AtDesk = Annotated[Desk, Depends(at_desk)]
