"""A line as a person types it in a shell, where the program of this environment is found."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def in_shell(line: str, folder: Path) -> None:
    """Run a line in a folder; it must succeed."""
    paths = os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")])
    subprocess.run(["sh", "-c", line], cwd=folder, env=os.environ | {"PATH": paths}, check=True, timeout=60)
