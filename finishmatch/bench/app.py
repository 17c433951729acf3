"""The page as one application: the guard, the screens, what is said when something isn't there."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from finishmatch.bench.bench import Bench
from finishmatch.bench.desk import Desk, at_desk
from finishmatch.bench.guard import Guard, TooMuchError
from finishmatch.bench.labels import in_words
from finishmatch.bench.screens import SCREENS
from finishmatch.bench.sheets import STATIC, edition
from finishmatch.errors import InputError

LEAST_PACKED, PACKED_BY = 1500, 5  # bytes; a page says nothing to others: cookies are of the same site alone
PLAIN_STATUS = {404: "There is no such page.", 405: "That can't be done here.", 413: "That is too much."}


def bench_app(bench: Bench) -> FastAPI:
    """Return the application that serves a bench.

    Parameters
    ----------
    bench : Bench
    """

    @asynccontextmanager
    async def running(_app: FastAPI) -> AsyncIterator[None]:
        yield
        bench.close()

    app = FastAPI(title="finishmatch bench", openapi_url=None, docs_url=None, redoc_url=None, lifespan=running)
    app.state.bench = bench
    for router in SCREENS:
        app.include_router(router, dependencies=[Depends(at_desk)])
    for path in (f"/static/{edition()}", "/static"):
        app.mount(path, StaticFiles(directory=STATIC))
    app.add_exception_handler(HTTPException, _not_served)
    app.add_exception_handler(RequestValidationError, _not_served)
    app.add_exception_handler(InputError, _not_served)
    app.add_exception_handler(TooMuchError, _not_served)
    app.add_middleware(GZipMiddleware, minimum_size=LEAST_PACKED, compresslevel=PACKED_BY)
    app.add_middleware(Guard, bench=bench)
    return app


async def _not_served(request: Request, error: Exception) -> Response:
    """Return what is said in place of a page, in the form that was asked for."""
    status, what = _said_of(error)
    what = in_words(what)
    if request.url.path.startswith("/api/") or "text/html" not in request.headers.get("accept", ""):
        return JSONResponse({"error": what}, status)
    desk = Desk(request, request.app.state.bench, getattr(request.state, "session", None))
    return desk.page("not_here.html", status=status, what=what)


def _said_of(error: Exception) -> tuple[int, str]:
    if isinstance(error, HTTPException):
        own = isinstance(error.detail, str) and error.detail not in ("Not Found", "Method Not Allowed")
        return error.status_code, error.detail if own else PLAIN_STATUS.get(error.status_code, str(error.detail))
    if isinstance(error, RequestValidationError):
        in_path = any("path" in item.get("loc", ()) for item in error.errors())
        return (404, PLAIN_STATUS[404]) if in_path else (422, "what was sent isn't what is asked for")
    if isinstance(error, TooMuchError):
        return 413, PLAIN_STATUS[413]
    return 422, str(error)
