"""What is written is whole and true: pages, help and links. The JSON page is tested in test_json_page."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest

from finishmatch.cli import COMMANDS, root
from tests.helpers.door_files import emptied
from tests.helpers.kept_ledger import put_ledger
from tests.helpers.shell import in_shell
from tools.doc_pages import ROOT, anchor, links, pages, sections, shown_commands, table_rows

Cli = Callable[..., Any]
COMMAND_PAGES = ROOT / "docs/commands"


def _walk(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Yield every command of the tree with its words, those that are loaded late included."""
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            found = command.get_command(context, name)
            assert found is not None, name
            yield from _walk(found, (*path, name))


TREE = dict(_walk(root))
LEAVES = {path: command for path, command in TREE.items() if not isinstance(command, click.Group)}


def _words(path: tuple[str, ...]) -> str:
    return " ".join(path) or "finishmatch"


each_command = pytest.mark.parametrize("path", TREE, ids=_words)
each_leaf = pytest.mark.parametrize("path", LEAVES, ids=_words)


def _documented(path: tuple[str, ...]) -> str:
    """Return what the pages say of a command: its section of the group's page, or the whole page."""
    page = COMMAND_PAGES / f"{path[0]}.md"
    assert page.is_file(), f"docs/commands/{path[0]}.md is missing"
    text = page.read_text("utf-8")
    if len(path) == 1:
        return text
    found = [body for title, body in sections(text).items() if title.split()[: len(path)] == list(path)]
    assert found, f"{page.name} has no section '## {_words(path)}'"
    return found[0]


def _option_rows(text: str) -> dict[str, str]:
    """Return the rows of the option tables, by option."""
    return {
        name: " ".join(row) for row in table_rows(text) for name in re.findall(r"(?<![\w-])--[a-z][a-z0-9-]*", row[0])
    }


def _defaults(option: click.Option) -> list[str]:
    """Return the default values that the help names."""
    values = option.default if isinstance(option.default, tuple | list) else [option.default]
    return [] if option.is_flag else [str(value) for value in values if isinstance(value, str | int | float) and value]


@each_leaf
def test_every_argument_and_option_is_on_the_page(path: tuple[str, ...]) -> None:
    text = _documented(path)
    rows = _option_rows(text)
    for param in LEAVES[path].params:
        if isinstance(param, click.Option):
            for name in param.opts:
                assert name in rows, f"{_words(path)} {name} is in no table of docs/commands/{path[0]}.md"
            row = rows[param.opts[0]]
            choices = param.type.choices if isinstance(param.type, click.Choice) else ()
            for word in [*choices, *_defaults(param)]:
                assert word in row, f"{_words(path)} {param.opts[0]}: the page doesn't give '{word}'"
        else:
            assert param.name is not None
            assert re.search(rf"\b{param.name.upper()}\b", text), (
                f"{_words(path)}: {param.name.upper()} isn't described"
            )


@each_leaf
def test_the_page_names_no_option_that_is_not_there(path: tuple[str, ...]) -> None:
    known = {name for param in LEAVES[path].params for name in (*param.opts, *param.secondary_opts)}
    assert set(_option_rows(_documented(path))) <= known


@each_leaf
def test_the_page_names_the_exit_status(path: tuple[str, ...]) -> None:
    page = (COMMAND_PAGES / f"{path[0]}.md").read_text("utf-8")
    assert "Exit status" in page


def test_every_page_is_of_a_command() -> None:
    assert {page.stem for page in COMMAND_PAGES.glob("*.md")} == set(COMMANDS)


@each_command
def test_every_option_has_its_help(path: tuple[str, ...]) -> None:
    for param in TREE[path].params:
        if isinstance(param, click.Option):
            assert param.help, param.opts


def _examples(command: click.Command) -> list[str]:
    """Return the lines of the example in a help page; a backslash joins lines."""
    paragraphs = (command.epilog or "").replace("\b", "").strip("\n").split("\n\n")
    found = [paragraph for paragraph in paragraphs if paragraph.strip().startswith("Example")]
    lines = "\n".join(found).replace("\\\n", " ").splitlines()
    return [" ".join(line.split()) for line in lines if not line.strip().startswith("Example")]


@each_command
def test_help_has_an_example(path: tuple[str, ...], cli: Cli) -> None:
    lines = _examples(TREE[path])
    assert any(f"{line} ".startswith(f"finishmatch {' '.join(path)}".strip() + " ") for line in lines), lines
    ran = cli(*path, "--help")
    assert ran.status == 0
    shown = " ".join(ran.out.replace("\\\n", " ").split())
    for line in lines:
        assert line in shown, f"{_words(path)} --help wraps or loses: {line}"


@pytest.fixture
def bench(kept_fit: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The bundled scenario in a folder that all tests call the same, shown a little wider than a terminal."""
    folder = emptied(tmp_path_factory.getbasetemp() / "bench")
    shutil.copytree(ROOT / "swatches", folder / "swatches")
    shutil.copy(kept_fit, folder / "swatches/bank")
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")
    return folder


def _job_under_way(home: Path) -> None:
    """Open J1 with a film, a defect that is decided and one that isn't, and a colour that is mixed and poured."""
    lines = (
        'job new "Tarnbeck Six, roof"',
        "job film J1 --panel bonnet --layer primer --build 62,58,60",
        "job film J1 --panel bonnet --layer colour --build 98,104,101",
        "defect log run --job J1 --panel bonnet --count 1",
        'defect advise --job J1 --choose "rub" --why "one small run"',
        "defect log crater --job J1 --panel bonnet --count 4 --reached primer",
        "mix swatches/target.csv --bank swatches/bank --grams 500 --max-tints 3 --job J1",
        "job pour J1 swatches/batch1.csv",
    )
    put_ledger(home, lines, ends=(0, 1))


def _run(line: str, cli: Cli, bench: Path) -> Any:
    """Run a line as it is shown: ours in this process, anything else (printf, cp) by the shell."""
    words = shlex.split(line)
    if words[0] == "finishmatch":
        return cli(*words[1:])
    in_shell(line, bench)
    return None


EXAMPLES = {path: _examples(command) for path, command in TREE.items()}
# what two commands show alike runs once
ONCE = {tuple(lines): path for path, lines in EXAMPLES.items()}.values()


@pytest.mark.slow
@pytest.mark.parametrize("path", ONCE, ids=map(_words, ONCE))
def test_the_example_in_the_help_runs(
    path: tuple[str, ...], cli: Cli, bench: Path, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = EXAMPLES[path]
    if path == ("ledger", "move"):
        with monkeypatch.context() as elsewhere:
            elsewhere.setenv("FINISHMATCH_HOME", "demo-out")
            assert cli("job", "new", "Roof").status == 0
    if path == ("import",):  # its bundle comes from elsewhere
        with monkeypatch.context() as elsewhere:
            elsewhere.setenv("FINISHMATCH_HOME", str(tmp_path / "elsewhere"))
            for line in ('job new "Roof"', 'job note J1 "half dried"', "export J1 --out J1.zip"):
                assert cli(*shlex.split(line)).status == 0
    a_record = ("J1 ", "job check", "finishmatch backup")  # there must be one to look at
    needs_a_job = any(words in f"{line} " for line in lines for words in a_record)
    if needs_a_job and not any("job new" in line for line in lines):
        _job_under_way(home)
    for line in lines:
        ran = _run(line, cli, bench)
        assert ran is None or ran.status in (0, 1), f"{line}: {ran.err}"


PAGES = {str(page.relative_to(ROOT)): page for page in pages()}


@pytest.mark.parametrize("page", ["README.md", *(f"docs/commands/{name}.md" for name in COMMANDS)])
def test_every_guide_shows_what_is_printed(page: str) -> None:
    assert any(shown.output for shown in shown_commands((ROOT / page).read_text("utf-8")))


@pytest.mark.parametrize("name", PAGES)
def test_links_lead_somewhere(name: str) -> None:
    page = PAGES[name]
    for link in links(page.read_text("utf-8")):
        target, _, place = link.partition("#")
        assert not re.match(r"[a-z]+:", target), f"{name} links outside: {link}"
        found = (page.parent / target).resolve() if target else page
        assert found.exists(), f"{name}: {link}"
        assert found.is_relative_to(ROOT), f"{name}: {link}"
        if place:
            assert place in {anchor(title) for title in sections(found.read_text("utf-8"))}, f"{name}: {link}"


@pytest.mark.parametrize("name", PAGES)
def test_the_files_of_the_project_that_a_page_names_are_there(name: str) -> None:
    named = re.findall(r"(?<![\w/])(?:tests|benchmarks|booth|tools)/[\w/]+\.\w+", PAGES[name].read_text("utf-8"))
    assert [file for file in named if not (ROOT / file).exists()] == []


def test_the_readme_names_the_version_option_and_every_command() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    for param in root.params:
        assert param.opts[0] in text
    for name in COMMANDS:
        assert f"docs/commands/{name}.md" in text
