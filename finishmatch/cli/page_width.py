"""What is written fits the terminal: prose folds at word ends, a table that is too wide turns into blocks.

Where the output goes to no terminal nothing is folded: whoever reads it there cuts lines as they like. Nowhere does a
name steer the terminal: of what does, the program's own styles alone pass, all else is shown as signs.
"""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO, cast

import click

from finishmatch.signs import shown as shown_signs

NARROWEST = 30  # columns; a terminal that says less is taken as so wide
_GAP = "   "  # between what stands side by side in a block
_MARK = re.compile(r" *(?:[-!*>] |note: |\d+\. )?")  # further lines are set under what follows it
_COMMAND = re.compile(r"(?:[A-Z_]+=\S+ )?\S*finishmatch ")
_ARGUMENT = re.compile(r"""(?:[^\s"']|"[^"]*"|'[^']*')+""")
_SWATCH = re.compile(r"\x1b\[[0-9;]+m +\x1b\[0m")
_OWN_STYLE = re.compile(r"(\x1b\[(?:0|1|9|48;2;\d{1,3};\d{1,3};\d{1,3})m)")
_FILLED = "\ue000"  # stands for a column of a swatch while words are counted; nobody writes it


def page_width() -> int | None:
    """Return how many columns a line may fill; None where the output goes to no terminal."""
    return _columns() if sys.stdout.isatty() else None


def _columns() -> int:
    return max(NARROWEST, shutil.get_terminal_size((80, 24)).columns)


def unfolded() -> TextIO:
    """Return standard output as it takes lines of any length."""
    return cast("TextIO", getattr(sys.stdout, "unfolded", sys.stdout))


def bare_errors() -> TextIO:
    """Return standard error as it takes what moves on its line, which is to be written over."""
    return cast("TextIO", getattr(sys.stderr, "bare", sys.stderr))


@contextmanager
def folded_to_terminal() -> Iterator[None]:
    """While something runs, show what it writes as signs, and fold what goes to a terminal."""
    with ExitStack() as stack:
        stack.enter_context(redirect_stdout(cast("TextIO", _to_page(sys.stdout))))
        stack.enter_context(redirect_stderr(cast("TextIO", _to_page(sys.stderr))))
        yield


def _to_page(stream: TextIO) -> _Page:
    return _Page(stream, _columns() if stream.isatty() else None)


class _Page:
    """A stream on which no name steers the terminal, and whose lines are folded where it has a width.

    In all else it is the bare stream; `unfolded` is it without a width.
    """

    def __init__(self, bare: TextIO, width: int | None = None) -> None:
        self.bare = bare
        self.unfolded = self if width is None else _Page(bare)
        self._width = width

    def write(self, text: str) -> int:
        text = "".join(
            part if _OWN_STYLE.fullmatch(part) else shown_signs(part) for part in _OWN_STYLE.split(text) if part
        )
        if self._width is not None:
            lines = text.split("\n")
            text = "\n".join(part for line in lines for part in folded(line, self._width))
        return self.bare.write(text)

    @property
    def buffer(self) -> Any:
        raise AttributeError("buffer")  # whoever writes bytes past this page writes them to the bare stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self.bare, name)


def folded(line: str, width: int) -> list[str]:
    """Return a line as lines of at most so many columns, broken at word ends; a longer word stays whole.

    A command line is broken as a shell takes it, with a backslash. What is set apart by two blanks or more stays
    together where it can.
    """
    if len(click.unstyle(line)) <= width or "\r" in line:
        return [line]
    swatches = _SWATCH.findall(line)
    line = _SWATCH.sub(lambda found: _FILLED * len(click.unstyle(found[0])), line)
    mark = _MARK.match(line)
    lead = mark[0] if mark is not None else ""
    body = line[len(lead) :]
    if _COMMAND.match(body):
        lines = _folded_command(lead, _ARGUMENT.findall(body), width)
    else:
        hang = " " * (len(lead) if lead.strip() else len(lead) + 2)
        lines = _filled(lead, hang, _pieces(body, width - len(hang)), width)
    restored = "\n".join(lines)
    for swatch in swatches:
        restored = restored.replace(_FILLED * len(click.unstyle(swatch)), swatch, 1)
    return restored.split("\n")


def _folded_command(lead: str, words: Sequence[str], width: int) -> list[str]:
    lines = _filled(lead, lead + "    ", words, width - 2)
    return [*(f"{line} \\" for line in lines[:-1]), lines[-1]]


def _pieces(text: str, room: int) -> list[str]:
    """Return what stays together: what wide gaps set apart where that fits, and else the words of it."""
    found: list[str] = []
    for piece in re.split(r"(?<=\S)( {2,})(?=\S)", text):
        if not piece.strip(" ") and found:
            found[-1] += piece[1:]  # the gap, less the blank that joins any two
        elif len(click.unstyle(piece)) <= room:
            found.append(piece)
        else:
            found += piece.split(" ")
    return found


def _filled(lead: str, hang: str, pieces: Sequence[str], width: int) -> list[str]:
    """Return lines filled with pieces, a blank between each and the one before it."""
    lines = [lead]
    fresh = True
    for piece in pieces:
        joined = lines[-1] + ("" if fresh else " ") + piece
        if fresh or len(click.unstyle(joined).rstrip()) <= width:
            lines[-1] = joined
        else:
            lines[-1] = lines[-1].rstrip(" ")
            lines.append(hang + piece)
        fresh = False
    return [*lines[:-1], lines[-1].rstrip(" ")]


def blocks(
    header: Sequence[str], rows: Sequence[Sequence[str]], indent: str, width: int, *, swatches: bool
) -> list[str]:
    """Return a table as blocks, one for each row: what it is, and below it each further cell behind its heading.

    `swatches` says whether the colours of a row stand before what it is.
    """
    lines = []
    for row in rows:
        coloured = [cell for cell in row if cell and not click.unstyle(cell).strip()]
        cells = [(head.strip(), cell.strip()) for head, cell in zip(header, row, strict=True) if cell not in coloured]
        named = [(head, cell) for head, cell in cells if cell]
        if not named:
            continue
        (head, first), *others = named
        if head and len(others) > 0 and re.fullmatch(r"[-+±<>#\d.,% ]+", first):
            first = f"{head} {first}"
        lines += folded(indent + ("".join(coloured) + " " if swatches and coloured else "") + first, width)
        alone = len(header) == 2 and len(others) == 1
        items = [cell if alone or not head else f"{head} {cell}" for head, cell in others]
        if items:
            lines += _flowing(items, indent + "  ", width)
    return lines


def _flowing(items: Sequence[str], lead: str, width: int) -> list[str]:
    """Return items side by side as they fit; one that is wider than a line has lines of its own."""
    rows = [items[0]]
    for item in items[1:]:
        joined = rows[-1] + _GAP + item
        if len(lead) + len(click.unstyle(joined)) <= width:
            rows[-1] = joined
        else:
            rows.append(item)
    return [line for row in rows for line in folded(lead + row, width)]


def labelled(pairs: Sequence[tuple[str, str]], width: int, indent: str = "  ") -> list[str]:
    """Return values behind their labels, set in a column; where that leaves too little room, below them."""
    widest = max((len(label) for label, _ in pairs), default=0)
    room = width - len(indent) - widest - 2
    lines = []
    for label, value in pairs:
        if room < width // 2:
            lines += folded(f"{indent}{label}", width)
            lines += _filled(indent + "  ", indent + "  ", value.split(), width) if value else []
        else:
            lead = f"{indent}{label:{widest}}  "
            lines += _filled(lead, " " * len(lead), value.split(), width)
    return [line.rstrip() for line in lines]
