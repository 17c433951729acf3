"""The program's own source, parsed once: modules, functions, imports, and who imports whom."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

from tests.conftest import ROOT

PACKAGE = "finishmatch"
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Module:
    """One source file of the package."""

    path: Path
    name: str  # dotted, without `.__init__`

    @cached_property
    def text(self) -> str:
        return self.path.read_text("utf-8")

    @cached_property
    def lines(self) -> list[str]:
        return self.text.splitlines()

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)

    @property
    def place(self) -> str:
        """Where the file lies, from the top of the repository."""
        return str(self.path.relative_to(ROOT))

    @property
    def room(self) -> str:
        """The room's name; empty for what lies at the top of the package."""
        parts = self.path.relative_to(ROOT / PACKAGE).parts
        return parts[0] if len(parts) > 1 else ""

    @property
    def package(self) -> str:
        """The dotted package that relative names start from."""
        return self.name if self.path.name == "__init__.py" else self.name.rpartition(".")[0]

    def functions(self) -> Iterator[Function]:
        return (node for node in ast.walk(self.tree) if isinstance(node, Function))

    def inner_imports(self) -> list[ast.Import | ast.ImportFrom]:
        """The imports that stand inside a function, each once."""
        found = {
            id(node): node
            for function in self.functions()
            for node in ast.walk(function)
            if isinstance(node, ast.Import | ast.ImportFrom)
        }
        return list(found.values())

    def strings(self) -> Iterator[ast.Constant]:
        """Every string, pieces of f-strings and docstrings included."""
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node


@cache
def modules() -> dict[str, Module]:
    """Every module of the package by its dotted name."""
    found = {}
    for path in sorted((ROOT / PACKAGE).rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = Module(path, name)
    return found


def imported(module: Module) -> set[str]:
    """The modules of the package that a module imports, by statement or by a name in one of its tables.

    A string counts where it is the dotted name of a module, from the top or from a package that the module lies in,
    with or without ":name" after it: so do the tables that commands, readers and the library's names are looked up in.
    """
    known = modules()
    lies_in = module.package.split(".")
    starts = ["", *(".".join(lies_in[: i + 1]) + "." for i in range(len(lies_in)))]
    found = set()
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = module.package.split(".")[: -(node.level - 1) or None] if node.level else []
            base = ".".join([*start, *([node.module] if node.module else [])])
            found.add(base)
            found.update(f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            named = node.value.partition(":")[0]
            found.update(start + named for start in starts)
    return {name for name in found if name in known}
