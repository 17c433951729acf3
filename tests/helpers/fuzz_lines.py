"""Command lines and files as somebody who means harm, or is only unlucky, would write them; each by its seed.

`tests/cli/test_fuzz.py` runs some of them in its own process, `tools/fuzz.py` as many as wanted, each apart.
"""

from __future__ import annotations

import os
import random
import shutil
import sys
import unicodedata
from collections.abc import Sequence
from pathlib import Path

import click
import numpy as np

from booth.dng_writer import Sensor, dng
from finishmatch.cli import root
from tests.conftest import ROOT
from tests.helpers.hostile_words import HOSTILE_NUMBERS, HOSTILE_PATHS, HOSTILE_TEXTS, LINES

STATUSES = (0, 1, 2)
HARMLESS = "\n\u00ad\u200c\u200d"  # what joins letters steers nothing
KEPT_ANEW = ("fit.json", "today.json")
CASES_BETWEEN = 40  # after so many the scenario is laid out anew


def lay_out(folder: Path) -> None:
    """Lay out the scenario in a folder, emptied first, with a bank of few tints, which is fitted quickly."""
    for item in folder.iterdir():
        if item.is_dir() and not item.is_symlink():
            shutil.rmtree(item)
        else:
            item.unlink()
    shutil.copytree(ROOT / "swatches", folder, dirs_exist_ok=True)
    lines = {name: (folder / "bank" / name).read_text("utf-8").splitlines() for name in ("tints.csv", "panels.csv")}
    kept = ("tint", "white", "black", "blue", "red oxide", "clean yellow")
    others = {
        line.split(",")[0] for line in lines["panels.csv"] if line.count(",") == 2 and line.split(",")[1] not in kept
    }
    others.discard("panel")
    _write(folder / "bank/tints.csv", [line for line in lines["tints.csv"] if line.split(",")[0] in kept])
    for name in ("panels.csv", "readings.csv"):
        rows = (folder / "bank" / name).read_text("utf-8").splitlines()
        _write(folder / "bank" / name, [line for line in rows if line.split(",")[0] not in others])
    counts = np.full((96, 128), 6000, np.uint16)
    (folder / "raw.dng").write_bytes(dng(counts, Sensor(preview=True)))
    if sys.platform != "win32":
        os.mkfifo(folder / "fifo")
    (folder / "link").symlink_to(folder / "nowhere")
    (folder / "loop").symlink_to(folder / "loop")


def _write(path: Path, lines: Sequence[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


class Dice(random.Random):
    """Chance by a seed; `apart` says whether what is harmful to others may be chosen too."""

    apart = False


def case(seed: int, folder: Path, apart: bool = False) -> tuple[list[str], str]:
    """Return the words of a command line, and which file of the folder was spoilt for it, if one was.

    `apart` says that it is run where it can do no harm: then devices and files of the system are named too.
    """
    dice = Dice(seed)
    dice.apart = apart
    words = dice.choice(LINES).split()
    spoilt = ""
    files = [word for word in words if (folder / word).exists()]
    if files and dice.random() < 0.6:
        spoilt = _spoil(dice, folder, dice.choice(files))
    for _ in range(dice.choice((0, 1, 1, 2)) if spoilt else dice.choice((1, 1, 2, 3))):
        words = _harmed(dice, words)
    return words, spoilt


def what_is_wrong(status: int, said: str) -> str:
    """Return what no command line may do, by its exit status and all it said on both streams; "" when it did well."""
    if "Traceback" in said:
        return "a traceback"
    if status not in STATUSES:
        return f"status {status}"
    steering = {sign for sign in said if unicodedata.category(sign) in ("Cc", "Cf") and sign not in HARMLESS}
    if steering:
        return f"signs that steer a terminal: {sorted(map(ord, steering))[:5]}"
    if status == 2 and said.count("\n") > 1:
        return "an error of several lines"
    return ""


def standing(folder: Path) -> dict[str, tuple[int, int]]:
    """Return size and time of all that stands in a folder, but for what is kept of a bank beside it."""
    found = {}
    for path in folder.rglob("*"):
        if path.name not in KEPT_ANEW and not path.is_dir():
            at = path.lstat()
            found[str(path.relative_to(folder))] = (at.st_size, at.st_mtime_ns)
    return found


def _hostile(dice: Dice) -> str:
    texts = (*HOSTILE_TEXTS, *HOSTILE_PATHS) if dice.apart else HOSTILE_TEXTS
    text = dice.choice(HOSTILE_NUMBERS if dice.random() < 0.5 else texts)
    return f"white={text}" if dice.random() < 0.05 else text


def _harmed(dice: Dice, words: list[str]) -> list[str]:
    """Return a command line with a word replaced, left out or added, or one more of the command's options."""
    command: click.Command = root
    depth = 0
    context = click.Context(root)
    while isinstance(command, click.Group) and depth < len(words):
        found = command.get_command(context, words[depth])
        if found is None:
            break
        command, depth = found, depth + 1
    way = dice.random()
    if way < 0.5 and depth < len(words):
        at = dice.randrange(depth, len(words))
        return [*words[:at], _hostile(dice), *words[at + 1 :]]
    if way < 0.9:
        options = [
            one for one in command.params if isinstance(one, click.Option) and one.name not in ("help", "port", "lan")
        ]
        if options:
            option = dice.choice(options)
            return [*words, dice.choice(option.opts), *([] if option.is_flag else [_hostile(dice)])]
    if way < 0.95:
        return [*words, _hostile(dice)]
    return words[:-1] or words


def _spoil(dice: Dice, folder: Path, name: str) -> str:
    """Spoil a file, or one of a folder's, and return its name."""
    path = folder / name
    if path.is_dir():
        path = dice.choice(sorted(item for item in path.rglob("*") if item.is_file()) or [folder / "target.csv"])
    if not path.is_file():  # a pipe
        return ""
    data = path.read_bytes()
    text = path.suffix in (".csv", ".toml") and dice.random() < 0.8
    path.write_bytes(_spoilt_text(dice, data) if text else _spoilt_bytes(dice, data))
    return str(path.relative_to(folder))


def _spoilt_bytes(dice: Dice, data: bytes) -> bytes:
    found = bytearray(data)
    for _ in range(dice.choice((1, 3, 30))):
        if found:
            found[dice.randrange(len(found) if dice.random() < 0.5 else min(len(found), 600))] = dice.randrange(256)
    return bytes(found[: dice.randrange(len(found) + 1)]) if dice.random() < 0.2 else bytes(found)


def _spoilt_text(dice: Dice, data: bytes) -> bytes:
    lines = data.decode("utf-8", "replace").splitlines()
    at = dice.randrange(len(lines)) if lines else 0
    way = dice.randrange(6)
    if not lines or way == 0:
        return b""
    if way == 1:
        del lines[at]
    elif way == 2:
        lines.insert(at, dice.choice(lines))
    else:
        sign = "=" if " = " in lines[at] else ","
        cells = lines[at].split(sign)
        cells[dice.randrange(len(cells))] = _hostile(dice)
        lines[at] = sign.join(cells)
    return "\n".join(lines).encode("utf-8", "surrogatepass") + b"\n"
