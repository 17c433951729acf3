"""Names a package offers without importing their modules until they are asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def offered_later(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return the `__getattr__` of a package: it imports the module of a name the first time the name is asked for.

    Parameters
    ----------
    package : str
        Its full name.
    homes : mapping of str to str
        Of each name, the module of the package that holds it.
    """

    def offered(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{homes[name]}"), name)

    return offered
