"""The panels of a bank as they are weighed: into its panels.csv, and out of it again with their colours."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.optics.panel_plan import panel_name
from finishmatch.outputs import check_output, unmarked, write_output
from finishmatch.readings.bank_folder import read_weighed
from finishmatch.readings.bank_seen import COLUMNS as SEEN_COLUMNS
from finishmatch.readings.bank_seen import FILE as SEEN_FILE
from finishmatch.readings.table_edit import EditedTable
from finishmatch.steps.bank_made.as_it_stands import BankInHand
from finishmatch.steps.bank_made.begin import check_in_table
from finishmatch.steps.bank_made.tins import CLOSED, as_it_may_change
from finishmatch.steps.photo.looks_kept import forget_looks

FILE = "panels.csv"
REMARK = "what was weighed into the panels of this bank"
COLUMNS = ("panel", "tint", "grams")
FAR_FROM_PLAN = 1.5  # times as much of a tint, or as little, as was planned: it is asked about («common practice»)
MOST_G = 5000.0  # more is no panel
FINE_G = 2.0  # a part below this needs a scale that shows hundredths («common practice»: 0.1 g is a twentieth of it)


def weigh_panel(
    bank: BankInHand,
    parts: Sequence[tuple[str, float]],
    name: str = "",
    *,
    planned: Mapping[str, float] | None = None,
    anyway: bool = False,
) -> str:
    """Put a panel into a bank as it was weighed, and return what it is called.

    Parameters
    ----------
    bank : BankInHand
    parts : sequence of (tint, grams)
    name : str
        "" is named by its shares.
    planned : mapping of str to float, optional
        The grams that were to be weighed: what is far from them in proportion is asked about.
    anyway : bool
        It was weighed so.

    Raises
    ------
    InputError
        No weights, a tint that isn't in the bank, a panel of that name. Nothing is written then.
    """
    bank = as_it_may_change(bank)
    weighed = [(tint, grams) for tint, grams in parts if grams > 0]
    if not weighed:
        raise InputError("`grams`", "nothing was weighed", "type what the scale showed of each part")
    if (whole := sum(grams for _, grams in weighed)) > MOST_G:
        raise InputError("`grams`", f"{whole:g} g are no panel", "type what the scale showed of each part")
    for tint, _ in weighed:
        if bank.tint(tint) is None:
            raise InputError("`tint`", f"there is no tint {tint[:40]!r} in the bank", "choose one that is")
    if len({tint for tint, _ in weighed}) < len(weighed):
        raise InputError("`tint`", "one of them stands twice", "add its two weights up")
    if planned and not anyway:
        _check_as_planned(dict(weighed), planned)
    called = check_in_table("panel_name", name) if name else _free(bank, panel_name(weighed, bank.white))
    if any(one.name.casefold() == called.casefold() for one in bank.panels):
        raise InputError("`panel_name`", f"{called!r} is in the bank already", "call this one otherwise")
    table = EditedTable(bank.folder / FILE, COLUMNS, remark=REMARK)
    for tint, grams in weighed:
        table.add({"panel": called, "tint": tint, "grams": f"{grams:.9g}"})
    _write(bank, table)
    return called


def take_panel_out(bank: BankInHand, name: str) -> None:
    """Take a panel out of a bank, and the colours that photographs gave of it.

    Raises
    ------
    InputError
        No such panel, one that an instrument read, colours that somebody wrote by hand.
    """
    bank = as_it_may_change(bank)
    panel = bank.panel(name)
    if panel is None:
        raise InputError(
            "`panel_name`", f"there is no panel {name[:40]!r} in the bank any more", "look at the bank again"
        )
    if panel.by_instrument:
        raise InputError("`panel_name`", f"{name!r} stands in readings.csv", "take its readings out there first")
    table = EditedTable(bank.folder / FILE, COLUMNS)
    table.drop(lambda cells: cells["panel"] == name)
    if panel.seen:
        _forget_seen(bank.folder / SEEN_FILE, name)
    if table.rows:
        _write(bank, table)
    else:  # it stays with its header and what somebody remarked there
        write_file(bank.folder / FILE, table.text, mend=CLOSED)


def _free(bank: BankInHand, name: str) -> str:
    """Return a name that no panel has: one that is drawn again has a number behind it."""
    taken = {panel.name.casefold() for panel in bank.panels}
    times, free = 1, name
    while free.casefold() in taken:
        times += 1
        free = f"{name} ({times})"
    return free


def _check_as_planned(weighed: Mapping[str, float], planned: Mapping[str, float]) -> None:
    """Ask about a part whose share is far from the one that was planned: a slip in a weight spoils a panel unseen."""
    mend = "type it anew, or say that it was weighed so"
    for tint in planned:
        if tint not in weighed:
            raise InputError("`grams`", f"{tint} was planned and isn't weighed", mend)
    whole, meant = sum(weighed.values()), sum(planned.values())
    off = dict[str, float]()
    for tint, grams in weighed.items():
        if tint not in planned:
            raise InputError("`tint`", f"{tint} isn't in what was planned", mend)
        off[tint] = abs(math.log(grams / whole * meant / planned[tint]))
    worst = max(off, key=lambda tint: off[tint])
    if off[worst] > math.log(FAR_FROM_PLAN):
        share, asked = weighed[worst] / whole, planned[worst] / meant
        what = f"{worst} is {100 * share:.2g} % of what was weighed, and {100 * asked:.2g} % was planned"
        raise InputError("`grams`", what, mend)


def _write(bank: BankInHand, table: EditedTable) -> None:
    """Write the table once it reads as one of panels."""
    with tempfile.TemporaryDirectory(prefix="finishmatch-") as folder:
        tried = Path(folder) / FILE
        tried.write_text(table.text, "utf-8")
        try:
            read_weighed(tried, [tint.name for tint in bank.tints])
        except InputError as error:
            where = "`grams`" if error.where.endswith("column 'grams'") else error.where
            raise InputError(where.replace(str(tried), str(bank.folder / FILE)), error.what, error.mend) from None
    write_file(bank.folder / FILE, table.text, mend=CLOSED)


def _forget_seen(path: Path, name: str) -> None:
    """Take the colours of a panel out of seen.csv, which the program must have written."""
    if not os.path.lexists(path):
        return
    try:
        check_output(path)
    except InputError:
        what = f"was written or changed by hand, and holds {name!r}"
        raise InputError(str(path), what, "take its rows out there first") from None
    table = EditedTable(path, SEEN_COLUMNS)
    table.drop(lambda cells: cells["panel"] == name)
    if table.rows:
        write_output(path, unmarked(table.text))
    else:
        _take_file_out(path)
    forget_looks(path.parent, name)


def _take_file_out(path: Path) -> None:
    """Take a table that the program alone writes out of a bank, when it has no rows any more."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(str(path), f"can't be taken away: {error.strerror or error}", CLOSED) from None
