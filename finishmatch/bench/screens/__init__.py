"""The screens: one module for each, its template beside it under templates/ by the same name.

A screen is an `APIRouter` called `router`; it takes the desk (`AtDesk`) and, where it is of a job, its ref (`JobRef`).
"""

from finishmatch.bench.screens import (
    devices,
    entry,
    events,
    job,
    jobs,
    pair,
    scale,
    swatches,
    weigh,
)

_ALL = (
    pair,
    devices,
    jobs,
    job,
    entry,
    events,
    weigh,
    scale,
    swatches,
)
SCREENS = tuple(screen.router for screen in _ALL)
