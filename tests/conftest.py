"""Fixtures shared by the tests: a home of their own, the bundled scenario, a way to run a command line."""

from __future__ import annotations

import gc
import json
import shutil
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cli import RARELY, run
from finishmatch.ledger import opening
from tests.helpers.one_dialect import engine_alike

QUICK_OF_A_FILE = 2  # tests that --quick runs of each file
ROOT = Path(__file__).resolve().parent.parent
BENCHMARKS = ROOT / "benchmarks"


@dataclass(frozen=True)
class Ran:
    """How a command line ended."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The one JSON object it printed."""
        return json.loads(self.out)

    @property
    def error(self) -> str:
        """The one line it printed for wrong input, after checking that it is one and that nothing else was said."""
        assert self.status == 2, (self.status, self.out, self.err)
        assert self.out == ""
        lines = self.err.splitlines()
        assert len(lines) == 1, self.err
        assert "Traceback" not in self.err
        return lines[0]


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--quick` is what `make quick` runs with."""
    parser.addoption(
        "--quick", action="store_true", help="a few tests of each file, with the first of their cases; none marked slow"
    )


def quick_of(items: Iterable[pytest.Item]) -> set[pytest.Item]:
    """Return those tests that `--quick` runs."""
    first_cases: dict[Path, dict[str, pytest.Item]] = {}
    for item in items:
        if not item.get_closest_marker("slow"):
            first_cases.setdefault(item.path, {}).setdefault(item.nodeid.partition("[")[0], item)
    return {item for cases in first_cases.values() for item in list(cases.values())[:QUICK_OF_A_FILE]}


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Look for no rubbish while the tests are read, nor ever again among what they imported; then seldom, as `main`."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.freeze()
        gc.set_threshold(*RARELY)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Put files that take long first, so that no process is left with one at the end; choose what is quick."""
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: (item.path.parent != BENCHMARKS, item.path not in slow))
    if config.getoption("--quick"):
        kept = quick_of(items)
        config.hook.pytest_deselected(items=[item for item in items if item not in kept])
        items[:] = [item for item in items if item in kept]


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say which tests were skipped; `pytest_sessionfinish` fails the run for them."""
    for report in terminalreporter.stats.get("skipped", []):
        terminalreporter.write_line(f"skipped, which counts as failed: {report.nodeid}")


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A check that didn't run isn't a check that passed."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if exitstatus == 0 and reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session", autouse=True)
def _one_dialect() -> Iterator[None]:
    """Compile what is asked of a ledger once for all ledgers of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening, "create_engine", engine_alike)
        yield


@pytest.fixture(autouse=True)
def home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A ledger home of the test's own."""
    folder = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("FINISHMATCH_HOME", str(folder))
    return folder


@pytest.fixture
def cli(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run one command line in this process."""

    def call(*arguments: object) -> Ran:
        capsys.readouterr()
        status = run([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Ran(status, captured.out, captured.err)

    return call


@pytest.fixture
def swatches(tmp_path: Path) -> Path:
    """A copy of the bundled scenario that a test may change."""
    folder = tmp_path / "swatches"
    shutil.copytree(ROOT / "swatches", folder)
    return folder
