"""What the contributors' pages name in the code is there: files, folders, classes, functions and constants."""

from __future__ import annotations

import re

import pytest

from tools.doc_pages import ROOT

# each page, with the folders in which a short path of it is looked up
LOOKED_UP_IN = {
    "DEVELOPERS.md": (".", "finishmatch", "swatches/bank"),
    "docs/design.md": (".", "finishmatch"),
    "docs/defects.md": (".", "finishmatch/defects"),
    "docs/ledger.md": (".", "finishmatch", "finishmatch/ledger"),
    "docs/library.md": (".", "docs"),
}
# what a user's machine or a run of the program has, and a checkout hasn't
MADE = {"fit.json", "shop/", "ledger.db", "find.db", "fm.read_bank"}
SUFFIXES = ("py", "toml", "csv", "md", "json", "txt", "svg", "db")
SOURCE = "\n".join(
    path.read_text("utf-8")
    for folder in ("finishmatch", "booth", "tools", "tests", "benchmarks")
    for path in sorted((ROOT / folder).rglob("*.py"))
)


def _in_backticks(page: str) -> list[str]:
    text = re.sub(r"^```.*?^```$", "", (ROOT / page).read_text("utf-8"), flags=re.MULTILINE | re.DOTALL)
    return sorted({name for name in re.findall(r"`([^`\n]+)`", text) if name not in MADE})


def _is_path(name: str) -> bool:
    if not re.fullmatch(r"[\w.-]+(/[\w.-]*)*", name) or "NAME" in name or "NNNN" in name or "@" in name:
        return False
    return "/" in name or name.rpartition(".")[2] in SUFFIXES


def _found(page: str, name: str) -> bool:
    if any((ROOT / folder / name).exists() for folder in LOOKED_UP_IN[page]):
        return True
    # a file may go by its name alone where the text has said in which folder it is
    return "/" not in name and any((ROOT / "finishmatch").rglob(name))


@pytest.mark.parametrize("page", LOOKED_UP_IN)
def test_every_path_that_a_page_names_is_there(page: str) -> None:
    assert [name for name in _in_backticks(page) if _is_path(name) and not _found(page, name)] == []


def _names_in_code(page: str) -> list[str]:
    """Return the classes (CamelCase), constants (UPPER_CASE) and functions (with brackets) that a page names."""
    found = []
    for name in _in_backticks(page):
        called = re.match(r"(?:fm\.)?([a-z_]+)\(", name)
        named = re.fullmatch(r"([A-Z][a-z]+(?:[A-Z][a-z]+)*)(?:\.[a-z_0-9]+)?", name)
        constant = re.fullmatch(r"[A-Z]{3,}(?:_[A-Z]+)*", name)
        found += [match[1] if match.re.groups else match[0] for match in (called, named, constant) if match]
    return found


@pytest.mark.parametrize("page", LOOKED_UP_IN)
def test_every_name_of_the_code_on_a_page_is_in_the_code(page: str) -> None:
    assert [name for name in _names_in_code(page) if not re.search(rf"\b{name}\b", SOURCE)] == []


@pytest.mark.parametrize("room", ["defects", "ledger"])
def test_the_page_of_a_room_tells_of_each_of_its_files(room: str) -> None:
    page = (ROOT / f"docs/{room}.md").read_text("utf-8")
    files = sorted((ROOT / "finishmatch" / room).glob("[a-z]*.py"))
    assert [file.name for file in files if not re.search(rf"`(?:\w+/)*{file.name}`", page)] == []
