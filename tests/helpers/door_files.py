"""What comes to the door: small files and banks for the tests to write, command lines, and a look at a folder."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

MIX = ("mix", "target.csv", "--bank", "bank", "--grams", "500")
CORRECT = ("correct", "target.csv", "--bank", "bank", "--batch", "batch1.csv", "--sprayed", "card1.csv")


def put(arguments: tuple[str, ...], old: str, new: str) -> tuple[str, ...]:
    """A command line with one word put in place of another."""
    return tuple(new if word == old else word for word in arguments)


HOUSE_NM = tuple(range(400, 701, 10))


def smooth(nm: Iterable[float]) -> list[float]:
    """A smooth invented spectrum, 0.1 to 0.7."""
    return [float(0.4 + 0.3 * np.sin((x - 400) / 90)) for x in nm]


def spectra_csv(rows: Sequence[tuple[str, Sequence[float]]], nm: Sequence[float] = HOUSE_NM) -> str:
    """A readings file of spectra."""
    head = "name," + ",".join(f"{x:g}" for x in nm)
    return "\n".join([head, *(name + "," + ",".join(f"{v:.9g}" for v in values) for name, values in rows)]) + "\n"


def write(path: Path, text: str | bytes) -> Path:
    """Write a file and return its path."""
    if isinstance(text, bytes):
        path.write_bytes(text)
    else:
        path.write_text(text, encoding="utf-8", newline="")
    return path


def tell(bench: Path, tint: str, hazard: str | None, colour_index: str | None = None) -> None:
    """Write a hazard, or leave the column out, and another pigment's name, into the bank's row of a tint."""
    path = bench / "bank" / "tints.csv"
    lines = [line.split(",") for line in path.read_text("utf-8").splitlines()]
    for cells in lines:
        if cells[0] == tint and colour_index is not None:
            cells[2] = colour_index
        if hazard is not None:
            cells.append("hazard" if cells[0] == "tint" else hazard if cells[0] == tint else "")
    write(path, "\n".join(",".join(cells) for cells in lines) + "\n")


def snapshot(*folders: Path) -> dict[str, str]:
    """What stands in folders: every path, with the hash of a file's bytes (large ones by size alone)."""
    seen = {}
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            size = path.lstat().st_size
            small = path.is_file() and size < 5_000_000
            seen[str(path)] = hashlib.sha256(path.read_bytes()).hexdigest() if small else f"{path.is_dir()} {size}"
    return seen


def emptied(folder: Path) -> Path:
    """A folder with nothing in it, whatever was there before."""
    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir()
    return folder


def small_bank(source: Path, folder: Path, tints: Sequence[str]) -> Path:
    """A few tints of a bank, with the panels mixed of these alone."""
    folder.mkdir()

    def rows(name: str) -> tuple[list[str], list[list[str]]]:
        lines = [line.split(",") for line in (source / name).read_text("utf-8").splitlines() if line[:1] != "#"]
        return lines[0], lines[1:]

    def put(name: str, head: list[str], kept: Iterable[list[str]]) -> None:
        write(folder / name, "\n".join(",".join(cells) for cells in [head, *kept]) + "\n")

    head, body = rows("tints.csv")
    put("tints.csv", head, [row for row in body if row[0] in tints])
    head, body = rows("panels.csv")
    others = {row[0] for row in body if row[1] not in tints}
    put("panels.csv", head, [row for row in body if row[0] not in others])
    head, body = rows("readings.csv")
    put("readings.csv", head, [row for row in body if row[0] not in others])
    for name in ("grounds.csv", "bank.toml"):
        write(folder / name, (source / name).read_bytes())
    return folder
