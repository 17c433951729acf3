"""The house keeps its shape: functions that can be read, imports at the top, options known to the face alone."""

from __future__ import annotations

import ast
import re
from collections import Counter

from tests.conftest import ROOT
from tests.helpers.source_tree import PACKAGE, Function, Module, imported, modules

MOST_LINES = 60
MOST_PARAMETERS = 9
MOST_INNER_IMPORTS = 10
MOST_FILE_LINES = 330
LISTS = {"entries.py", "rows.py"}  # of the ledger: one class a kind of entry, and its table, one after the other
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
ENTRANCES = {PACKAGE, f"{PACKAGE}.__main__", f"{PACKAGE}.cli"}
STEPS_OF_MIGRATION = f"{PACKAGE}.ledger.migrations."  # Alembic finds them; one that was released never changes
ALL = list(modules().values())


def parameters(function: Function) -> list[str]:
    """The names a function is called with; the object a method belongs to isn't one."""
    arguments = function.args
    names = [one.arg for one in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]]
    return [name for i, name in enumerate(names) if i or name not in ("self", "cls")]


def explained(module: Module, node: ast.stmt) -> bool:
    """Whether an import has its reason in a comment, on its line or on the one above."""
    above, own = module.lines[node.lineno - 2], module.lines[node.lineno - 1]
    return above.strip().startswith("#") or bool(re.search(r"#(?! noqa)", own))


def test_no_function_is_over_sixty_lines() -> None:
    long = [
        f"{module.place}:{function.lineno} {function.name}: {function.end_lineno - function.lineno + 1} lines"
        for module in ALL
        if not module.name.startswith(STEPS_OF_MIGRATION)
        for function in module.functions()
        if function.end_lineno is not None and function.end_lineno - function.lineno >= MOST_LINES
    ]
    assert not long, "\n".join(long)


def test_no_function_takes_more_than_nine_parameters() -> None:
    many = [
        f"{module.place}:{function.lineno} {function.name}: {len(parameters(function))} parameters"
        for module in ALL
        for function in module.functions()
        if len(parameters(function)) > MOST_PARAMETERS
    ]
    assert not many, "\n".join(many)


def test_no_file_is_much_over_three_hundred_lines() -> None:
    long = [
        f"{module.place}: {len(module.lines)} lines"
        for module in ALL
        if len(module.lines) > MOST_FILE_LINES and not (module.room == "ledger" and module.path.name in LISTS)
    ]
    assert not long, "\n".join(long)


def test_imports_stand_at_the_top_but_for_ten_that_say_why() -> None:
    inner = [(module, node) for module in ALL for node in module.inner_imports()]
    places = [f"{module.place}:{node.lineno}" for module, node in inner]
    assert len(inner) <= MOST_INNER_IMPORTS, f"{len(inner)}:\n" + "\n".join(places)
    bare = [place for place, (module, node) in zip(places, inner, strict=True) if not explained(module, node)]
    assert not bare, "\n".join(bare)


def test_imports_for_types_alone_stand_only_where_a_package_exports_late() -> None:
    """Or where what is imported is there for the checker of types alone."""
    reason = ("def __getattr__", "from _typeshed")
    typed = [m.place for m in ALL if "TYPE_CHECKING" in m.text and not any(why in m.text for why in reason)]
    assert not typed, "\n".join(typed)


def test_only_the_face_knows_options() -> None:
    """Neither code nor the tables beside it."""
    named = [
        f"{module.place}:{node.lineno} {OPTION.findall(str(node.value))}"
        for module in ALL
        if module.room != "cli"
        for node in module.strings()
        if OPTION.search(str(node.value))
    ]
    for path in sorted((ROOT / PACKAGE).rglob("data/**/*.toml")):
        named += [f"{path.relative_to(ROOT)} {found}" for found in OPTION.findall(path.read_text("utf-8"))]
    assert not named, "\n".join(named)


def test_only_the_face_prints() -> None:
    printed = [
        f"{module.place}:{node.lineno}"
        for module in ALL
        if module.room != "cli"
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    assert not printed, "\n".join(printed)


def test_the_program_imports_nothing_that_only_stands_beside_it() -> None:
    beside = re.compile(r"^\s*(?:from|import) (?:tests|benchmarks|booth|tools)\b", re.MULTILINE)
    assert [module.place for module in ALL if beside.search(module.text)] == []


def test_every_module_is_used_by_the_program() -> None:
    """What only tests or benchmarks use doesn't belong in it."""
    reached, waiting = set(), set(ENTRANCES)
    while waiting:
        name = waiting.pop()
        reached.add(name)
        parents = {name[:at] for at, letter in enumerate(name) if letter == "."}
        waiting |= (imported(modules()[name]) | parents) - reached
    unused = [name for name in modules() if name not in reached and not name.startswith(STEPS_OF_MIGRATION)]
    assert not unused, "\n".join(unused)


def test_a_file_name_occurs_once_in_a_room() -> None:
    """In the face and in the steps the folder of a command makes a name plain: mix/shown.py, correct/shown.py."""
    places = {module: (module.room if module.room not in ("cli", "steps") else module.package) for module in ALL}
    files = [module for module in ALL if module.path.name != "__init__.py"]
    names = Counter((places[module], module.path.name) for module in files)
    twice = [module.place for module in files if names[places[module], module.path.name] > 1]
    assert not twice, "\n".join(twice)
