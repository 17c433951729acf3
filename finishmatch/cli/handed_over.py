"""What the commands that hand something over share: their paper, and what is said of what was written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar

import click

from finishmatch.errors import InputError
from finishmatch.steps.record import check_job

Command = TypeVar("Command", bound=Callable[..., Any])

paper_option = click.option(
    "--paper",
    type=click.Choice(["A4", "letter"], case_sensitive=False),
    default="A4",
    show_default=True,
    help="The paper it is made for.",
)


def named_for(job: str | None, out: str | None, name: str) -> str:
    """Return where something of a job is written: what was asked for, or `name` with the job's ref in front."""
    if out is not None:
        return out
    meant = check_job(job)
    assert meant is not None, "the command saw to it that there is a job"
    return f"{meant.ref}{name}"


@contextmanager
def folder_for(out: str) -> Iterator[Path]:
    """Yield the folder that is asked for, made where there is none; it is gone again where nothing came into it."""
    if not out.strip():
        raise InputError("--out", "is empty", "name a folder")
    folder = Path(out)
    made = [one for one in (folder, *folder.parents) if not one.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(out, f"can't be a folder: {error.strerror}", "name another with --out") from None
    try:
        yield folder
    finally:
        with suppress(OSError):  # what is in it stays, and so does it
            for one in made:
                one.rmdir()


def say_files(files: tuple[str, ...], standard: str) -> None:
    """Print what was written."""
    for file in files:
        about = f"  ({standard})" if standard and file.lower().endswith(".pdf") else ""
        click.echo(f"  {file}{about}")
