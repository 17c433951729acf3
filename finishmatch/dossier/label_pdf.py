"""Labels for tins as a PDF: sheets of eight to cut, or one after the other on a tape of 62 mm."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import segno

from finishmatch.cautions import DEFER
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.document import shown
from finishmatch.dossier.typeset import typeset
from finishmatch.ledger import weight_words
from finishmatch.steps.handover.label import Label

PAPERS = {"A4": "a4", "letter": "us-letter", "62": "62"}
ON_A_SHEET = 8
MOST_PARTS = 14  # lines there is room for; the code holds all
FEWEST_PARTS = 5  # that are shown where what harms needs the room
QUIET_SQUARES = 4  # around the code, as ISO/IEC 18004 asks for
SQUARE_MM = 0.42  # of a code: at 200 dots per inch more than three dots
LEAST_MM, MOST_MM = 31.0, 43.0
TWO_PACK = "Once catalysed it holds isocyanates: air-fed protection."


def label_pdf(label: Label, paper: str) -> tuple[bytes, str]:
    """Return the labels as a PDF, and by which standard it is.

    Parameters
    ----------
    label : Label
    paper : str
        "A4", "letter", or "62": a tape so many mm wide.
    """
    code = label.code
    squares = segno.make(label.text, error="M", micro=False, boost_error=False)
    drawn = io.BytesIO()
    squares.save(drawn, kind="svg", border=QUIET_SQUARES, unit="", xmldecl=False, svgns=True)
    wide = squares.symbol_size(border=QUIET_SQUARES)[0] * SQUARE_MM
    parts = label.kept.formula.parts if label.kept.formula is not None else ()
    rows = [[shown(part.tint), shown(part.colour_index), weight_words(part.grams)] for part in parts[:MOST_PARTS]]
    data: dict[str, Any] = {
        "paper": PAPERS[paper],
        "count": label.count or (1 if paper == "62" else ON_A_SHEET),
        "day": code.day,
        "name": shown(code.name),
        "title": shown(label.kept.job.title),
        "job": code.job,
        "lot": shown(code.lot),
        "grams": f"{sum(part.grams for part in parts):.1f} g",
        "rows": rows,
        "parts": len(parts),
        "fewest": FEWEST_PARTS,
        "colour": "" if code.lab is None else lab_to_hex(np.array(code.lab)),
        "harm": [[shown(text) for text in said] for said in label.hazards],
        "cautions": [TWO_PACK, DEFER],
        "use_by": label.use_by,
        "code": "code.svg",
        "code_mm": min(max(wide, LEAST_MM), MOST_MM),
        "code_shows": shown(f"Square code of the formula: {label.text}"),
    }
    return typeset("label.typ", data, {"code.svg": drawn.getvalue()}, code.day)
