"""A whole job in a terminal of fifty columns: from nothing to a corrected tin, in few commands with few options."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import termios
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from booth.bank_writer import Noise, drawdown_panels, letdown_panels, mixture_fractions, write_bank
from booth.banks import tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.ledger import BatchEntry, CorrectionEntry, RecipeEntry, open_ledger
from tests.helpers.door_files import spectra_csv, write
from tests.helpers.forked import begun, ended

COLUMNS = 50
MOST_COMMANDS = 10
MOST_OPTIONS = 3
SPECS = tint_specs(31, 6)
NAMES = [spec.name for spec in SPECS]
WANTED = {NAMES[0]: 300.0, NAMES[3]: 150.0, NAMES[4]: 50.0}
AS_THE_BANK = np.ones(len(SPECS))
TODAY = np.exp(np.random.default_rng(4).normal(0, 0.07, len(SPECS)))  # no tin is as strong as the bank's
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")

Parts = dict[str, float]


def sprayed(parts: Parts, strengths: np.ndarray) -> np.ndarray:
    """What is read of a card of these grams, from tins of these strengths."""
    pigments = [spec.pigment.strengthened(float(s)) for spec, s in zip(SPECS, strengths, strict=True)]
    return film_reflectance(mixture_fractions(SPECS, parts), pigments)


@dataclass
class Terminal:
    """A pseudo-terminal of fifty columns, and the command lines that were typed in it."""

    bench: Path
    typed: list[list[str]] = field(default_factory=list)

    def type(self, *words: object) -> tuple[int, str]:
        """Run a command line, and return its exit status and what stands on the screen."""
        line = [str(word) for word in words]
        self.typed.append(line)
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, COLUMNS, 0, 0))
        running = begun(line, self.bench, (theirs,) * 3, before=_as_wide_as_the_terminal)
        os.close(theirs)
        shown = b""
        with suppress(OSError):  # the end of a pseudo-terminal is an error
            while piece := os.read(ours, 65536):
                shown += piece
        os.close(ours)
        status = ended(running)
        screen = ESCAPES.sub("", shown.decode("utf-8")).replace("\r\n", "\n")
        assert "Traceback" not in screen, screen
        return status, screen


def _as_wide_as_the_terminal() -> None:
    for name in ("COLUMNS", "LINES"):
        os.environ.pop(name, None)
    os.environ["TERM"] = "xterm-256color"


@pytest.fixture
def terminal(tmp_path: Path) -> Terminal:
    """A terminal in a folder with a bank, a chip of the wanted colour and nothing else."""
    panels = letdown_panels(SPECS) + drawdown_panels(SPECS, NAMES)
    write_bank(tmp_path / "bank", SPECS, panels, noise=Noise(0.0005, 0.05), seed=3)
    write(tmp_path / "chip.csv", spectra_csv([("chip", sprayed(WANTED, AS_THE_BANK))]))
    return Terminal(tmp_path)


def poured_as(kind: type[RecipeEntry | CorrectionEntry]) -> Parts:
    """What the record says is to be weighed out: the best recipe, or what is to be added."""
    with open_ledger(create=False) as ledger:
        views = ledger.entries(ledger.find_job("J1"), current_only=True, kind=kind)
    for view in views:
        if isinstance(view.entry, RecipeEntry) and view.entry.rank == 1:
            return dict(view.entry.parts)
        if isinstance(view.entry, CorrectionEntry):
            return dict(view.entry.additions)
    raise AssertionError(f"no {kind.KIND}")


def in_the_tin() -> Parts:
    """What the record says is in the tin."""
    with open_ledger(create=False) as ledger:
        view = ledger.latest(ledger.find_job("J1"), BatchEntry)
    assert view is not None
    assert isinstance(view.entry, BatchEntry)
    parts: Parts = {}
    for tint, grams in view.entry.parts:
        parts[tint] = parts.get(tint, 0.0) + grams
    return parts


def spray_a_card(terminal: Terminal, name: str) -> float:
    """Spray a card of the tin, read it into a file, and return how far it is off the chip."""
    card, chip = sprayed(in_the_tin(), TODAY), sprayed(WANTED, AS_THE_BANK)
    write(terminal.bench / name, spectra_csv([(name.removesuffix(".csv"), card)]))
    return float(de00(reflectance_to_lab(chip), reflectance_to_lab(card)))


def weigh_out(terminal: Terminal, parts: Parts) -> None:
    """Write down what is in the tin."""
    rows = "".join(f"{tint},{grams:g}\n" for tint, grams in parts.items())
    (terminal.bench / "tin.csv").write_text(f"tint,grams\n{rows}", "utf-8")


@pytest.mark.slow
def test_from_nothing_to_a_corrected_tin_in_ten_commands(terminal: Terminal) -> None:
    assert terminal.type("job", "new", "Tarnbeck Six, Saltmarsh Blue")[0] == 0
    assert terminal.type("job", "use", "J1")[0] == 0
    assert terminal.type("mix", "chip.csv", "--bank", "bank", "--grams", 500)[0] == 0
    recipe = poured_as(RecipeEntry)
    weigh_out(terminal, recipe)
    assert terminal.type("job", "pour", "tin.csv")[0] == 0
    before = spray_a_card(terminal, "card1.csv")
    status, screen = terminal.type("judge", "card1.csv")
    assert status == 1
    assert "the card is outside the tolerance of 0.5" in " ".join(screen.split())
    status, screen = terminal.type("next")
    assert "card outside 0.5" in screen
    assert "is not poured yet" in screen
    additions = poured_as(CorrectionEntry)
    weigh_out(terminal, {tint: recipe.get(tint, 0) + additions.get(tint, 0) for tint in {**recipe, **additions}})
    assert terminal.type("job", "pour", "tin.csv")[0] == 0
    after = spray_a_card(terminal, "card2.csv")
    status, screen = terminal.type("judge", "card2.csv")
    assert status == 0, screen
    assert "the card is inside the tolerance of 0.5" in " ".join(screen.split())
    assert before > 0.5 > after
    status, screen = terminal.type("next")
    assert "nothing is open" in screen
    assert len(terminal.typed) <= MOST_COMMANDS
    for line in terminal.typed:
        assert sum(word.startswith("--") for word in line) <= MOST_OPTIONS, line


@pytest.mark.slow
def test_what_leads_through_a_job_fits_fifty_columns(terminal: Terminal) -> None:
    screens = [
        terminal.type("next")[1],
        terminal.type("job", "new", "Tarnbeck Six drophead coupé of 1934, Saltmarsh Blue")[1],
        terminal.type("job", "use", "J1")[1],
        terminal.type("next")[1],
    ]
    (terminal.bench / "tin.csv").write_text(f"tint,grams\n{NAMES[0]},300\n", "utf-8")
    terminal.type("job", "pour", "tin.csv")
    screens += [
        terminal.type("next")[1],
        terminal.type("job", "strike", 1, "--why", "poured into another tin")[1],
        terminal.type("next")[1],
    ]
    ledger_path = str(Path(os.environ["FINISHMATCH_HOME"]))
    lines = [line for screen in screens for line in screen.splitlines() if ledger_path not in line]
    assert [line for line in lines if len(line) > COLUMNS] == []
