"""What is asked of `mix`, `predict` and `correct`, of the bundled bank and of forty tints, against a bare start.

The peer is a process that only imports what every command must. It is the interpreter's own work, a search mostly NumPy
on small arrays, and processors and builds of Python differ in the one against the other: the same program took 4.6 to 6
starts on one machine, and 5.9 to 6.8 on another (6.1 and 11 to 13 with forty tints). The limits are a fifth above that.
Each process counts its own processor time; beside other tests, which share its caches, a search takes more of it, and a
start hardly: so these run alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryFile

import pytest

from benchmarks.ratios import BARE_START, holds, tell
from benchmarks.test_mix_speed import target_spectrum, write_forty
from finishmatch.optics import predicted_reflectance
from finishmatch.steps.bank import open_bank

pytestmark = pytest.mark.timed

SWATCHES = Path(__file__).parents[1] / "swatches"
MOST, MOST_OF_FORTY = 8, 15
SIX_LIGHTS = tuple(f"--light={light}" for light in ("D65", "A", "F11", "F2", "D50", "LED-B3"))
ASKED = (
    ("mix", "--grams", "500", "--tolerance", "0.01", *SIX_LIGHTS),
    ("predict", "--pour", "violet=60", "--scale-step", "1"),
    ("correct", "--tolerance", "0.3", "--smallest", "40"),
    ("correct", "--tolerance", "0.05", *SIX_LIGHTS),
    ("correct", "--tolerance", "0.02", "--scale-step", "20"),
)
ASKED_OF_FORTY = (
    ("mix", "--grams", "500"),
    ("correct", "--tolerance", "0.02", "--scale-step", "5"),
    ("correct", "--tolerance", "0.05", "--fill-to", "900"),
)


def cpu_seconds(home: Path, *line: str) -> float:
    """Return the processor time of one process, user and system, on one thread."""
    environment = os.environ | {"FINISHMATCH_HOME": str(home), "OPENBLAS_NUM_THREADS": "1"}
    with TemporaryFile() as said:
        process = subprocess.Popen([sys.executable, *line], stdout=subprocess.DEVNULL, stderr=said, env=environment)
        _, status, used = os.wait4(process.pid, 0)  # its own time, whatever else runs
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read().decode()
    assert process.returncode in (0, 1), text
    assert "Traceback" not in text
    return used.ru_utime + used.ru_stime


def floor(home: Path) -> float:
    """Return the processor time of a process that only imports what every command must."""
    return min(cpu_seconds(home, "-c", BARE_START) for _ in range(3))


def slowest(
    home: Path, inputs: dict[str, tuple[str, ...]], asked: tuple[tuple[str, ...], ...], most: float, at_once: int
) -> float:
    """Return the processor time of the slowest of some commands over the floor; `at_once` run together."""

    floors: list[float] = []

    def ratio(command: str, *options: str) -> float:
        line = ("-m", "finishmatch", command, *inputs[command], *options, "--json")
        seconds = cpu_seconds(home, *line)
        if not floors or seconds > most * floors[-1]:  # whatever slows the machine slows both
            floors.append(floor(home))
        least = floors[-1]
        print(f"{command} {' '.join(options)}: {seconds:.2f} s of processor time, {seconds / least:.1f} floors")
        return seconds / least

    with ThreadPoolExecutor(at_once) as running:
        return max(running.map(lambda wish: holds(lambda: ratio(*wish), most, tries=3), asked))


def test_whatever_is_asked_of_the_bundled_bank_takes_at_most_eight_starts(tmp_path: Path) -> None:
    bank = ("--bank", str(SWATCHES / "bank"))
    target, batch = f"{SWATCHES / 'evidence.csv'}@tin", str(SWATCHES / "batch1.csv")
    inputs = {
        "mix": (target, *bank),
        "predict": (batch, *bank),
        "correct": (target, *bank, "--batch", batch, "--sprayed", str(SWATCHES / "card1.csv")),
    }
    cpu_seconds(tmp_path, "-m", "finishmatch", "bank", "fit", bank[1])
    ratio = slowest(tmp_path, inputs, ASKED, MOST, 2)
    tell("slowest mix, predict or correct, bundled bank", "a bare start", ratio, MOST)
    assert ratio <= MOST


def test_whatever_is_asked_of_forty_tints_takes_at_most_fifteen_starts(tmp_path: Path) -> None:
    write_forty(tmp_path / "bank")
    cpu_seconds(tmp_path, "-m", "finishmatch", "bank", "fit", str(tmp_path / "bank"))
    fitted = open_bank(tmp_path / "bank")
    assert not fitted.fresh  # it stands in the bank's folder
    optics, names = fitted.fit.optics, fitted.fit.optics.names
    wavelengths = ",".join(str(nm) for nm in range(400, 701, 10))

    def reading(file: str, spectrum: object) -> str:
        values = ",".join(f"{value:.6f}" for value in spectrum)  # type: ignore[attr-defined]
        (tmp_path / file).write_text(f"name,{wavelengths}\nt,{values}\n", encoding="utf-8")
        return str(tmp_path / file)

    grams = {0: 400.0, 3: 60.0, 9: 22.0, 14: 8.0}
    poured = [grams.get(i, 0.0) * (1.04 if i == 3 else 1.0) for i in range(len(names))]
    batch = tmp_path / "batch.csv"
    batch.write_text("tint,grams\n" + "".join(f"{names[i]},{g}\n" for i, g in grams.items()), encoding="utf-8")
    bank = ("--bank", str(tmp_path / "bank"))
    target = reading("target.csv", target_spectrum(optics))
    card = reading("card.csv", predicted_reflectance(optics, poured))
    inputs = {
        "mix": (target, *bank),
        "correct": (target, *bank, "--batch", str(batch), "--sprayed", card),
    }
    ratio = slowest(tmp_path, inputs, ASKED_OF_FORTY, MOST_OF_FORTY, 1)
    tell("slowest mix, predict or correct, forty tints", "a bare start", ratio, MOST_OF_FORTY)
    assert ratio <= MOST_OF_FORTY
