"""The command that enters what a film lacks, named where nothing can be said of a defect without it."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from contextlib import contextmanager

from finishmatch.errors import InputError
from finishmatch.steps.defect.logged import FilmNotReadError, UnnamedLayerError


@contextmanager
def film_asked_for(job: str | None) -> Iterator[None]:
    """Name `job film`, as it is to be typed, in what is said of a film that wasn't read or can't be told."""
    try:
        yield
    except FilmNotReadError as error:
        command = f"finishmatch job film {error.job} --panel {shlex.quote(error.panel)} --layer primer --build UM,UM,UM"
        raise InputError(error.where, error.what, f"read it: {command}") from None
    except UnnamedLayerError as error:
        command = f"finishmatch job film {shlex.quote(str(job))} --replaces {error.number} --layer NAME --why TEXT"
        raise InputError(error.where, error.what, f"{error.mend}: {command}") from None
