"""Run every command that the pages show after "$ " and paste what it prints below it.

Run: python tools/refresh_docs.py [PAGE …]. Each page's commands run in order in an empty bench that holds a copy of
swatches/, with a ledger of its own. A line of "…" alone in the old output stands for what is left out, and stays: as
many lines as stand before the first and after the last are kept, and a piece in between is found by its first line,
whatever its numbers. A command shown without output stays so. Times and today's date are set to one, paths to ~/bench;
a seal stays.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tools.doc_pages import ELISION, ROOT, Shown, pages, shown_commands

WHEN = "2024-05-02 10:15"
LEDGER_SHOWN = "~/.local/share/finishmatch"
_SEAL = re.compile(r"\bseal [0-9a-f]{64}\b")


def refreshed(text: str, bench: Path) -> str:
    """Return a page with the output of its commands as it is now."""
    lines = text.splitlines()
    home = bench.parent / "home"
    shift = 0
    for shown in shown_commands(text):
        output = _run(shown.command, bench, home)
        if not shown.output:
            continue
        pasted = [(shown.indent + line).rstrip() for line in _with_old_seals(shown, _shortened(shown, output))]
        lines[shown.body + shift : shown.end + shift] = pasted
        shift += len(pasted) - (shown.end - shown.body)
    return "\n".join(lines) + "\n"


def _run(command: str, bench: Path, home: Path) -> list[str]:
    environ = {**os.environ, "FINISHMATCH_HOME": str(home), "COLUMNS": "100"}
    environ["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{environ['PATH']}"
    ran = subprocess.run(["sh", "-c", command], cwd=bench, env=environ, capture_output=True, text=True, check=False)
    if ran.returncode not in (0, 1, 2) or "Traceback" in ran.stderr:
        sys.exit(f"{command}\n{ran.stderr}")
    printed = (ran.stdout + ran.stderr).replace(str(home), LEDGER_SHOWN).replace(str(bench), "~/bench")
    printed = re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d", WHEN, printed).replace(date.today().isoformat(), WHEN[:10])
    return [line.rstrip() for line in printed.splitlines()]


def _shortened(shown: Shown, output: Sequence[str]) -> list[str]:
    """Return the output without what the page left out before."""
    pieces: list[list[str]] = [[]]
    for line in shown.output:
        if line.strip() == ELISION:
            pieces.append([])
        else:
            pieces[-1].append(line)
    if len(pieces) == 1:
        return list(output)
    kept = list(output[: len(pieces[0])])
    at = len(kept)
    for piece in pieces[1:-1]:
        at = _find(shown.command, piece[0], output, at)
        kept += [ELISION, *output[at : at + len(piece)]]
        at += len(piece)
    return [*kept, ELISION, *output[len(output) - len(pieces[-1]) :]]


def _with_old_seals(shown: Shown, output: Sequence[str]) -> list[str]:
    """Return the output with the seals that the page has: a seal is another at each run, since it holds the time."""
    old = iter([line for line in shown.output if _SEAL.search(line)])
    return [_SEAL.sub(_SEAL.findall(next(old, line))[0], line) if _SEAL.search(line) else line for line in output]


def _find(command: str, wanted: str, output: Sequence[str], start: int) -> int:
    def plain(line: str) -> str:
        return " ".join(re.sub(r"[-+\d.]+", "#", line).split())

    for at in range(start, len(output)):
        if plain(output[at]) == plain(wanted):
            return at
    sys.exit(f"{command}: there is no line like {wanted!r} any more; paste the output anew")


def main(names: Sequence[str]) -> None:
    """Refresh the pages named, or all."""
    for page in [Path(name).resolve() for name in names] or pages():
        with tempfile.TemporaryDirectory() as folder:
            bench = Path(folder) / "bench"
            shutil.copytree(ROOT / "swatches", bench / "swatches", ignore=shutil.ignore_patterns("fit.json"))
            old = page.read_text("utf-8")
            new = refreshed(old, bench)
        if new != old:
            page.write_text(new, "utf-8")
            print(f"refreshed {page.relative_to(ROOT)}")


if __name__ == "__main__":
    main(sys.argv[1:])
