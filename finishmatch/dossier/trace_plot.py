"""Where a defect came from, drawn: its share over time, and the odds ratios of what was met."""

from __future__ import annotations

import math
from typing import Any

from finishmatch.defects.trace import Trace
from finishmatch.dossier.figures import INK, bare, blank_figure, drawing, png_bytes

_BAD, _PALE = "#a8442a", "#c9c4b8"
_WIDEST = 200.0  # an odds ratio beyond it, infinity included, is drawn at the edge


def trace_png(found: Trace, what: str) -> bytes:
    """Return a PNG: on the left the share of bad coats over time, on the right each exposure's odds ratio.

    Parameters
    ----------
    found : Trace
    what : str
        The defect, for the title.
    """
    figure = blank_figure(10.5, 1.6 + 0.36 * max(len(found.suspects), 6))
    left, right = figure.subplots(1, 2)
    _draw_time(left, found, what)
    _draw_ratios(right, found)
    return png_bytes(figure)


def _draw_time(axes: Any, found: Trace, what: str) -> None:
    periods = found.onset.periods
    at = range(len(periods))
    axes.bar(at, [100 * period.bad / period.coats for period in periods], color=_BAD, width=0.75)
    step = max(1, math.ceil(len(periods) / 10))
    axes.set_xticks(list(at)[::step], [period.label for period in periods][::step], rotation=45, ha="right", fontsize=8)
    for i, period in enumerate(periods):
        if len(periods) <= 26:
            axes.annotate(f"{period.bad}/{period.coats}", (i, 100 * period.bad / period.coats), (0, 2),
                          textcoords="offset points", ha="center", fontsize=7, color=INK)  # fmt: skip
    axes.set_ylabel("coats that came out bad, %", fontsize=9)
    began = f"; began about {found.onset.day}" if found.onset.began else ""
    axes.set_title(f"{what}: {found.bad} of {found.coats} coats{began}", fontsize=9, loc="left")
    axes.margins(y=0.15)
    bare(axes, label_size=8)


def _draw_ratios(axes: Any, found: Trace) -> None:
    ticker = drawing().ticker
    shown = [item for item in found.worth_showing if item.exposed and item.others][::-1]
    for i, item in enumerate(shown):
        low, high = max(item.low, 1 / _WIDEST), min(item.high, _WIDEST)
        middle = min(max(item.odds_ratio, 1 / _WIDEST), _WIDEST)
        colour = _BAD if item.stands_out else INK
        axes.plot([low, high], [i, i], color=colour, lw=1.6, alpha=0.5 if item.small else 1.0)
        axes.plot([middle], [i], marker="o", ms=6, color=colour, mfc="white" if item.small else colour)
    axes.set_yticks(range(len(shown)), [item.name for item in shown], fontsize=8)
    axes.set_xscale("log")
    axes.xaxis.set_major_formatter(ticker.FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_minor_formatter(ticker.NullFormatter())
    axes.axvline(1, color=_PALE, lw=1, zorder=0)
    axes.set_xlabel("odds ratio with its 95 % interval (hollow: small counts)", fontsize=9)
    axes.set_title("what the coats met; red stands out", fontsize=9, loc="left")
    axes.set_ylim(-0.7, len(shown) - 0.3)
    bare(axes, label_size=8)
