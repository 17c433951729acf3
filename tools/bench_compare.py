"""Hold the ratios of the benchmarks against those of another revision, on this machine, in turn.

    python -m tools.bench_compare REV          two rounds of each, the better of each ratio counts
    python -m tools.bench_compare REV --rounds 3

Both run in this environment, REV in a working tree of its own. Prints one table; exits with 1 where a ratio rose by
more than a third, and with 2 where REV can't be measured so.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
WORSE = 4 / 3
Ratios = dict[str, float]


class NotMeasuredError(Exception):
    """A revision gives no ratios; says why in one line."""


def main(arguments: Sequence[str]) -> int:
    """Measure both, print the table, and return the exit status."""
    parser = argparse.ArgumentParser(description="Hold the ratios of the benchmarks against those of another revision.")
    parser.add_argument("rev", help="a commit, a branch or a tag")
    parser.add_argument("--rounds", type=int, default=2, help="how often each is measured")
    options = parser.parse_args(arguments)
    try:
        with tempfile.TemporaryDirectory(prefix="finishmatch-bench-") as made, _tree(options.rev, Path(made)) as tree:
            before, now = measured_in_turn((tree, ROOT), Path(made), options.rounds)
    except NotMeasuredError as error:
        print(f"bench_compare: {error}", file=sys.stderr)
        return 2
    worse = compared(before, now)
    print("\n".join(table(before, now)))
    print(f"worse by more than a third: {', '.join(worse)}" if worse else "none is worse by more than a third")
    return 1 if worse else 0


@contextmanager
def _tree(rev: str, folder: Path) -> Iterator[Path]:
    """Yield a working tree of a revision, gone afterwards."""
    tree = folder / "tree"
    git = ["git", "-C", str(ROOT), "worktree"]
    made = subprocess.run(
        [*git, "add", "--quiet", "--detach", str(tree), rev], capture_output=True, text=True, check=False
    )
    if made.returncode:
        raise NotMeasuredError(f"{rev} is no revision here: {made.stderr.strip().splitlines()[-1]}")
    try:
        yield tree
    finally:
        subprocess.run([*git, "remove", "--force", str(tree)], check=False)


def measured_in_turn(trees: Sequence[Path], folder: Path, rounds: int) -> list[Ratios]:
    """Return the least of each ratio of each tree; the trees take turns, so that a drifting machine matters less."""
    least: list[Ratios] = [{} for _ in trees]
    for turn in range(rounds):
        for i, tree in enumerate(trees):
            print(f"round {turn + 1} of {rounds}: {'before' if i == 0 else 'now'}", flush=True)
            for name, ratio in _measured(tree, folder / f"{i}-{turn}.json").items():
                least[i][name] = min(ratio, least[i].get(name, ratio))
    return least


def _measured(tree: Path, file: Path) -> Ratios:
    command = [sys.executable, "-m", "pytest", "benchmarks", "-m", "timed", "-q"]
    environment = os.environ | {"PYTHONPATH": str(tree), "FINISHMATCH_RATIOS": str(file)}
    ran = subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True, check=False)
    if not file.exists():
        last = (ran.stdout.strip() or ran.stderr.strip()).splitlines()[-1:]
        raise NotMeasuredError(f"{tree.name} told no ratios, it may be older than they are: {''.join(last)}")
    return {f"{told['what']} / {told['peer']}": told["ratio"] for told in json.loads(file.read_text())}


def compared(before: Ratios, now: Ratios) -> list[str]:
    """Return the names of the ratios that rose by more than a third."""
    return [name for name, ratio in now.items() if name in before and ratio > WORSE * before[name]]


def table(before: Ratios, now: Ratios) -> list[str]:
    """Return the lines of the table: before, now, and how many times it is; what only one of them has is shown so."""
    names = list(dict.fromkeys((*before, *now)))
    wide = max(len(name) for name in names)
    lines = [f"{'ratio (less is better)':{wide}}  {'before':>8}  {'now':>8}  {'times':>6}"]
    for name in names:
        old, new = before.get(name), now.get(name)
        times = f"{new / old:6.2f}" if old and new is not None else f"{'':6}"
        lines.append(f"{name:{wide}}  {_figure(old)}  {_figure(new)}  {times}")
    return lines


def _figure(ratio: float | None) -> str:
    return f"{'-':>8}" if ratio is None else f"{ratio:8.3g}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
