"""Run the tests as other processors would compute: with other kernels of linear algebra, and with fewer instructions.

Run: python tools/other_kernels.py [ARGUMENTS OF PYTEST]. Every run is whole; the exit status is 1 when any fails. What
fails under one kernel and not under another rests on the last digit of a float: such a check needs a tolerance.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
CORE_TYPES = ("Haswell", "Nehalem")  # OpenBLAS kernels that any x86-64 of today can run


def environments() -> dict[str, dict[str, str]]:
    """Return what to set for each run, by what it is called."""
    found = np.show_config(mode="dicts")["SIMD Extensions"].get("found", [])
    runs = {f"OpenBLAS as on {name}": {"OPENBLAS_CORETYPE": name} for name in CORE_TYPES}
    if found:
        runs["NumPy without " + ", ".join(found)] = {"NPY_DISABLE_CPU_FEATURES": " ".join(found)}
    return runs


def main(arguments: list[str]) -> int:
    """Run pytest once for each environment, and say how each ended."""
    ended = {}
    for name, extra in environments().items():
        print(f"\n== {name}", flush=True)
        command = [sys.executable, "-m", "pytest", *(arguments or ["tests"])]
        ended[name] = subprocess.run(command, cwd=ROOT, env=os.environ | extra, check=False).returncode
    for name, status in ended.items():
        print(f"{'passed' if status == 0 else 'FAILED'}: {name}")
    return int(any(ended.values()))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
