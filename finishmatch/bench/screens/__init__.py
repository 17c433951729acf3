"""The screens: one module for each, its template beside it under templates/ by the same name.

A screen is an `APIRouter` called `router`; it takes the desk (`AtDesk`) and, where it is of a job, its ref (`JobRef`).
"""

from finishmatch.bench.screens import (
    bank_panels,
    bank_photo,
    banks,
    card,
    defect,
    devices,
    entry,
    events,
    evidence,
    film,
    film_map,
    job,
    jobs,
    pair,
    photo,
    photo_read,
    recipe,
    scale,
    swatches,
    weigh,
)

_ALL = (
    pair,
    devices,
    jobs,
    banks,
    bank_panels,
    bank_photo,
    job,
    entry,
    events,
    evidence,
    recipe,
    weigh,
    scale,
    photo,
    photo_read,
    card,
    swatches,
    film,
    film_map,
    defect,
)
SCREENS = tuple(screen.router for screen in _ALL)
