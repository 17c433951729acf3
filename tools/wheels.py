"""Build the wheel and install it on every Python from 3.11 that is at hand; run the demo with each.

    python -m tools.wheels              those on PATH, and those a version manager keeps under ~/.pyenv/versions
    python -m tools.wheels PYTHON ...   these

The packages come at the versions of `constraints.txt`. Exits with 1 where one of them fails.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
LEAST = (3, 11)
HIGHEST_MINOR = 30  # of Python 3: what is looked for on PATH


def main(arguments: Sequence[str]) -> int:
    """Install and run on each Python, print how it went, and return the exit status."""
    with tempfile.TemporaryDirectory(prefix="finishmatch-wheels-") as made:
        folder = Path(made)
        wheel = build(folder)
        print(f"built {wheel.name}, {wheel.stat().st_size / 1e6:.1f} MB")
        failed = 0
        for version, python in sorted(pythons(arguments).items()):
            start = time.monotonic()
            problem = installed_and_run(python, wheel, folder / f"env-{version[0]}.{version[1]}")
            failed += bool(problem)
            told = f"failed: {problem}" if problem else "installed, the demo ran"
            print(f"Python {version[0]}.{version[1]}: {told} ({time.monotonic() - start:.0f} s)", flush=True)
    return 1 if failed else 0


def build(folder: Path) -> Path:
    """Return the wheel, built in a folder."""
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(command, check=True)
    (wheel,) = folder.glob("*.whl")
    return wheel


def pythons(named: Sequence[str]) -> dict[tuple[int, int], str]:
    """Return the Pythons by version that are named, or at hand; the first found of each version."""
    at_hand = [found for minor in range(LEAST[1], HIGHEST_MINOR) if (found := shutil.which(f"python3.{minor}"))]
    kept = (Path.home() / ".pyenv/versions").glob("3.*/bin/python")
    found: dict[tuple[int, int], str] = {}
    for python in named or [*map(str, sorted(kept)), *at_hand]:
        asked = subprocess.run(
            [python, "-c", "import sys; print(*sys.version_info[:2])"], capture_output=True, text=True, check=False
        )
        if asked.returncode == 0:  # a version manager's stand-in for a version it doesn't have fails
            major, minor = map(int, asked.stdout.split())
            if (major, minor) >= LEAST:
                found.setdefault((major, minor), python)
    return found


def installed_and_run(python: str, wheel: Path, environment: Path) -> str:
    """Install the wheel in an environment of its own and run the demo; return what went wrong, or ""."""
    own = str(environment / "bin/python")
    out = environment / "demo"
    pip = [own, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    steps = (
        [python, "-m", "venv", str(environment)],
        [*pip, "-c", str(ROOT / "constraints.txt"), str(wheel)],
        [str(environment / "bin/finishmatch"), "demo", "--out", str(out)],
    )
    for step in steps:
        ran = subprocess.run(step, capture_output=True, text=True, check=False, cwd=environment.parent)
        if ran.returncode:
            last = (ran.stderr or ran.stdout).strip().splitlines()[-1:]
            return f"{' '.join(step[:3])} …: {''.join(last)}"
    return ""


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
