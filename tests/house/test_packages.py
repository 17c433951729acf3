"""What is handed on: the wheel and the source package hold all they need, and the wheel runs the demo by itself."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

from tests.conftest import ROOT

BUNDLED = [path.relative_to(ROOT) for path in (ROOT / "swatches").rglob("*.*") if path.name != "fit.json"]
TABLES = [path.relative_to(ROOT) for path in (ROOT / "finishmatch").rglob("data/**/*.*")]
SHOWN = (".html", ".css", ".js", ".svg")
TABLES += [path.relative_to(ROOT) for path in (ROOT / "finishmatch/bench").rglob("*.*") if path.suffix in SHOWN]


def pip(folder: Path, *arguments: object) -> None:
    """Run pip in a folder, without asking a registry for anything."""
    command = [sys.executable, "-m", "pip", *(str(argument) for argument in arguments), "--no-deps", "--quiet"]
    subprocess.run(command, check=True, capture_output=True, cwd=folder)


def wheel_of(source: Path, folder: Path) -> Path:
    """Build the wheel of a checkout or of a source package."""
    pip(folder, "wheel", "--no-build-isolation", "--wheel-dir", folder / "wheels", source)
    (wheel,) = (folder / "wheels").glob("*.whl")
    return wheel


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return wheel_of(ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("source")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "sdist", "--directory", str(folder)]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    (package,) = folder.glob("*.tar.gz")
    return package


def contents(wheel: Path) -> dict[str, int]:
    """Every file of a wheel with its checksum; the list of these checksums itself left out."""
    with zipfile.ZipFile(wheel) as packed:
        return {one.filename: one.CRC for one in packed.infolist() if not one.filename.endswith("/RECORD")}


@pytest.mark.slow
def test_the_wheel_holds_program_tables_and_swatches(wheel: Path) -> None:
    held = set(contents(wheel))
    assert {f"finishmatch/{path}" for path in BUNDLED} <= held
    assert {str(path) for path in TABLES} <= held
    assert not [name for name in held if not name.startswith("finishmatch") or name.endswith("/fit.json")]


@pytest.mark.slow
def test_the_source_package_makes_the_same_wheel(source: Path, wheel: Path, tmp_path: Path) -> None:
    with tarfile.open(source) as packed:
        held = {name.partition("/")[2] for name in packed.getnames()}
    assert {str(path) for path in BUNDLED + TABLES} | {"README.md", "pyproject.toml"} <= held
    assert contents(wheel_of(source, tmp_path)) == contents(wheel)


@pytest.mark.slow
def test_the_demo_runs_from_a_wheel_outside_the_checkout(wheel: Path, tmp_path: Path) -> None:
    pip(tmp_path, "install", "--target", tmp_path / "site", wheel)
    venv.create(tmp_path / "env", with_pip=False)
    # the libraries come from this environment, but not the checkout that is installed in it
    libraries = [path for path in sys.path if path.endswith("site-packages")]
    script = "import sys; sys.path[:0] = sys.argv.pop(1).split(':'); from finishmatch.cli import main; main()"
    empty = tmp_path / "empty"
    empty.mkdir()
    search = ":".join([str(tmp_path / "site"), *libraries])
    ran = subprocess.run(
        [str(tmp_path / "env/bin/python"), "-c", script, search, "demo", "--json"],
        capture_output=True,
        text=True,
        cwd=empty,
        env={name: value for name, value in os.environ.items() if name != "PYTHONPATH"},
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert json.loads(ran.stdout)["page"] == str((empty / "demo-out/match.html").resolve())
    assert (empty / "demo-out/match.html").stat().st_size > 20_000
