"""TOML, a painter's or what the program comes with."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any

from finishmatch.errors import InputError


def parse_toml(text: str, file: str) -> dict[str, Any]:
    """Return what a painter's TOML text holds; `file` is what it is called in messages.

    Raises
    ------
    InputError
        Not TOML.
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers of thousands of digits, and brackets within brackets
        raise InputError(file, f"is not valid TOML: {str(error)[:120]}", "mend that line") from None


def packaged_text(room: str, name: str) -> str:
    """Return a data file that the program comes with, by its room ("finish") and its name in the room's `data`."""
    return resources.files(f"finishmatch.{room}").joinpath("data").joinpath(name).read_text("utf-8")


def packaged_toml(room: str, name: str) -> dict[str, Any]:
    """Return what a TOML file holds that the program comes with."""
    return tomllib.loads(packaged_text(room, name))
