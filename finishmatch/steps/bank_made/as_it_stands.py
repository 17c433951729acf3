"""A bank as it stands while it is being made: its tins, what was weighed into its panels, which of these are read."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger.home import ledger_home
from finishmatch.optics.bank import Tint
from finishmatch.readings.bank_folder import read_head, read_weighed
from finishmatch.readings.bank_seen import FILE as SEEN_FILE
from finishmatch.readings.bank_seen import seen_rows
from finishmatch.readings.bank_tints import read_tints
from finishmatch.readings.scenario import swatches_folder
from finishmatch.readings.table_file import NoRowsError, read_table
from finishmatch.steps.known_banks import FOLDER, known_banks, made_banks

_REF_DIGITS = 10


@dataclass(frozen=True)
class SeenIn:
    """The colour of a panel in one picture: CIELAB (D65, 10°), and the ΔE00 that hold it 95 times in 100."""

    picture: str
    lab: tuple[float, float, float]
    u95: float


@dataclass(frozen=True)
class WeighedPanel:
    """A panel as it was weighed: its parts in grams, the pictures that tell its colour, whether it was read besides."""

    name: str
    parts: tuple[tuple[str, float], ...]
    seen: tuple[SeenIn, ...] = ()
    by_instrument: bool = False

    @property
    def read(self) -> bool:
        """Whether anything tells its colour."""
        return bool(self.seen) or self.by_instrument


@dataclass(frozen=True)
class BankInHand:
    """A bank as it stands.

    Parameters
    ----------
    ref : str
        By which a face asks for it: it tells no path.
    name : str
    folder : Path
    geometry : str
    tints : tuple of Tint
    panels : tuple of WeighedPanel
    bundled : bool
        The invented example, which is left as it is.
    own : bool
        Whether it lies beside the ledger, as those do that were begun on a face.
    wrong : InputError or None
        What hinders its files from being read: nothing of it is shown or changed then.
    """

    ref: str
    name: str
    folder: Path
    geometry: str = ""
    tints: tuple[Tint, ...] = ()
    panels: tuple[WeighedPanel, ...] = ()
    bundled: bool = False
    own: bool = False
    wrong: InputError | None = None

    @property
    def may_change(self) -> bool:
        """Whether tins and panels may be put into it from a face."""
        return not self.bundled and self.wrong is None

    @property
    def white(self) -> str:
        """The tint that lets the others down; "" while there is none."""
        return next((tint.name for tint in self.tints if tint.role == "white"), "")

    @property
    def to_mix(self) -> bool:
        """Whether its tins can be mixed: a white, and another that colours."""
        return bool(self.white) and sum(tint.role != "clear" for tint in self.tints) > 1

    @property
    def unread(self) -> tuple[WeighedPanel, ...]:
        """The panels that were weighed and that nothing tells the colour of yet."""
        return tuple(panel for panel in self.panels if not panel.read)

    def tint(self, name: str) -> Tint | None:
        """Return the tint of a name; None where there is none."""
        return next((tint for tint in self.tints if tint.name == name), None)

    def panel(self, name: str) -> WeighedPanel | None:
        """Return the panel of a name; None where there is none."""
        return next((panel for panel in self.panels if panel.name == name), None)


def banks_in_hand(named: Sequence[Path] = ()) -> tuple[BankInHand, ...]:
    """Return the banks there are, begun ones too: those that can be mixed from first, the bundled one last.

    Parameters
    ----------
    named : sequence of Path
        Folders of banks besides those that jobs were mixed from and those that lie beside the ledger.
    """
    known = [one.folder for one in known_banks(named) if not one.bundled]
    places = {os.path.realpath(folder): folder for folder in (*known, *named, *made_banks())}
    found = [bank_as_it_stands(folder) for folder in places.values()]
    return (*found, bank_as_it_stands(_bundled()))


def ref_of_bank(folder: Path) -> str:
    """Return what a bank is asked for by: digits of the SHA-256 of its place."""
    return "B" + hashlib.sha256(os.path.realpath(folder).encode("utf-8", "surrogateescape")).hexdigest()[:_REF_DIGITS]


def bank_as_it_stands(folder: Path) -> BankInHand:
    """Return a bank as its files have it; what hinders that from being told is told in it."""
    place, own = os.path.realpath(folder), os.path.realpath(ledger_home() / FOLDER)
    mine = place.startswith(own + os.sep)
    ref, bundled, name = ref_of_bank(folder), place == os.path.realpath(_bundled()), folder.name
    try:
        name, geometry, _ = read_head(folder / "bank.toml")
        tints = _tints(folder)
        panels = _panels(folder, [tint.name for tint in tints])
    except InputError as error:
        return BankInHand(ref, name, folder, bundled=bundled, own=mine, wrong=error)
    return BankInHand(ref, name, folder, geometry, tints, panels, bundled, mine)


def _bundled() -> Path:
    return swatches_folder() / "bank"


def _tints(folder: Path) -> tuple[Tint, ...]:
    if not os.path.lexists(folder / "tints.csv"):
        return ()
    try:
        return read_tints(folder / "tints.csv")[0]
    except NoRowsError:  # the last was taken out, and the file stays with its remarks
        return ()


def _panels(folder: Path, tints: Sequence[str]) -> tuple[WeighedPanel, ...]:
    if not os.path.lexists(folder / "panels.csv"):
        return ()
    try:
        weighed = read_weighed(folder / "panels.csv", tints)
    except NoRowsError:
        return ()
    seen, by_instrument = _seen(folder / SEEN_FILE), _by_instrument(folder / "readings.csv")
    return tuple(
        WeighedPanel(name, tuple(parts.items()), tuple(seen.get(name, ())), name in by_instrument)
        for name, parts in weighed.items()
    )


def _seen(path: Path) -> Mapping[str, list[SeenIn]]:
    found: dict[str, list[SeenIn]] = {}
    if not os.path.lexists(path):
        return found
    for row in seen_rows(path):
        lab = (row.number("L"), row.number("a"), row.number("b"))
        own, shared = (float(row.number(column)) if row.cells.get(column) else 0.0 for column in ("u95", "u95_shared"))
        found.setdefault(row.text("panel"), []).append(
            SeenIn(row.cells.get("picture", ""), lab, (own**2 + shared**2) ** 0.5)
        )
    return found


def _by_instrument(path: Path) -> frozenset[str]:
    if not os.path.lexists(path):
        return frozenset()
    return frozenset(row.cells["panel"] for row in read_table(path, required=("panel",)).rows)
