"""What every figure needs of matplotlib, which is imported here alone."""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

INK = "#2b2a27"
QUIET, HAIRLINE = "#6b655a", "#dcd8cf"
PRINT_FONT = "STIXGeneral"
PRINT_FONTS = (PRINT_FONT, "STIXGeneralItalic", "DejaVuSerif", "DejaVuSerif-Bold", "DejaVuSerif-Italic", "DejaVuSans")
_OF_PAGES = f"'{PRINT_FONT}'", f"'{PRINT_FONT}', 'STIX Two Text', Palatino, Georgia, 'DejaVu Serif', serif"


def drawing() -> SimpleNamespace:
    """Return what is drawn with: matplotlib's `axis`, `figure`, `patches`, `text` and `ticker`, and `rc_context`."""
    # half a second, which only a command that draws is to wait for
    from matplotlib import axis, figure, patches, rc_context, text, ticker

    return SimpleNamespace(axis=axis, figure=figure, patches=patches, text=text, ticker=ticker, rc_context=rc_context)


def print_fonts() -> tuple[Path, ...]:
    """Return the files of those fonts of the library that printed pages are set in, without loading the library."""
    found = importlib.util.find_spec("matplotlib")
    assert found is not None
    assert found.origin is not None
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    return tuple(folder / f"{name}.ttf" for name in PRINT_FONTS if (folder / f"{name}.ttf").is_file())


def blank_figure(width_in: float, height_in: float) -> Any:
    """Return an empty figure of a size, inches."""
    return drawing().figure.Figure(figsize=(width_in, height_in), layout="constrained")


def bare(axes: Any, label_size: float | None = None) -> None:
    """Take the upper and the right side of axes away, and set the size of their labels, points."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    if label_size is not None:
        axes.tick_params(labelsize=label_size)


def gridded(axes: Any) -> None:
    """Make axes bare, with a pale grid behind what is drawn."""
    bare(axes)
    axes.grid(color="#dcd8cf", linewidth=0.6)
    axes.set_axisbelow(True)


def png_bytes(figure: Any) -> bytes:
    """Return a figure as PNG."""
    out = io.BytesIO()
    _plain_text(figure)
    figure.savefig(out, format="png", dpi=110)
    return out.getvalue()


def _plain_text(figure: Any) -> None:
    """Let names stand as they were written: a $ in the name of a tint begins no formula."""
    modules = drawing()
    waiting = [figure]
    while waiting:
        artist = waiting.pop()
        if isinstance(artist, modules.text.Text):
            artist.set_parse_math(artist.get_text().startswith("$\\mathdefault{"))  # what an axis numbers by itself
        numbered = isinstance(artist, modules.axis.Axis) and isinstance(
            artist.get_major_formatter(), modules.ticker.ScalarFormatter
        )
        # an axis makes its numbers anew each time it is asked for them
        waiting += [artist.label] if numbered else artist.get_children()


def svg_text(figure: Any) -> str:
    """Return a figure as SVG text for a page."""
    out = io.StringIO()
    _plain_text(figure)
    # text stays text, and the same plot is the same file
    with drawing().rc_context({"svg.fonttype": "none", "svg.hashsalt": "finishmatch"}):
        figure.savefig(out, format="svg", metadata={"Date": None}, transparent=True)
    text = out.getvalue().replace(*_OF_PAGES)
    return text[text.index("<svg") :]


@contextmanager
def in_print() -> Iterator[None]:
    """Draw in the type of printed pages while something is drawn."""
    with drawing().rc_context({"font.family": PRINT_FONT, "font.size": 9.5, "axes.edgecolor": QUIET}):
        yield
