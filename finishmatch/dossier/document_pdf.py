"""A document as a PDF: tagged, its fonts embedded, for an archive."""

from __future__ import annotations

from typing import Any

from finishmatch.dossier.document import (
    Block,
    Document,
    Facts,
    Grid,
    Paragraph,
    Photograph,
    Plot,
    Swatches,
    Warned,
    shown,
    shown_rows,
)
from finishmatch.dossier.typeset import typeset

PAPERS = {"A4": "a4", "letter": "us-letter"}


def document_pdf(document: Document, paper: str = "A4") -> tuple[bytes, str]:
    """Return a document as a PDF on a paper of `PAPERS`, and by which standard it is."""
    pictures: dict[str, bytes] = {}
    chapters = [
        {
            "heading": shown(chapter.heading),
            "begins": chapter.begins,
            "blocks": [_data(block, pictures) for block in chapter.blocks],
        }
        for chapter in document.chapters
    ]
    texts = {name: shown(getattr(document, name)) for name in ("title", "subtitle", "kicker", "foot")}
    data = {**texts, "paper": PAPERS[paper], "accent": document.accent, "day": document.day, "chapters": chapters}
    return typeset("document.typ", data, pictures, document.day)


def _data(block: Block, pictures: dict[str, bytes]) -> dict[str, Any]:
    """Return a block as plain data; its picture is put beside, under a name."""
    kind = {"kind": type(block).__name__.lower()}
    if isinstance(block, Paragraph):
        return {**kind, "text": shown(block.text), "quiet": block.quiet, "lead": block.lead}
    if isinstance(block, Swatches):
        each = [{"name": shown(s.name), "about": shown(s.about), "colour": s.hex_colour} for s in block.swatches]
        return {**kind, "swatches": each, "tall": block.tall}
    if isinstance(block, Facts):
        return {**kind, "rows": shown_rows(block.rows)}
    if isinstance(block, Grid):
        block = block.filled
        table = block.table
        (header,) = shown_rows([table.header])
        texts = {"caption": shown(table.caption), "header": header, "rows": shown_rows(table.rows)}
        return {**kind, **texts, "texts": block.texts, "strong_last": block.strong_last}
    if isinstance(block, Plot):
        return {**kind, "file": _kept(pictures, block.svg.encode(), "svg"), "shows": shown(block.shows)}
    if isinstance(block, Photograph):
        texts = {"caption": shown(block.caption), "shows": shown(block.shows)}
        return {**kind, **texts, "file": _kept(pictures, block.jpeg, "jpg"), "ratio": block.ratio, "share": block.share}
    assert isinstance(block, Warned)
    return {**kind, "heading": shown(block.heading), "cautions": [shown(one) for one in block.cautions]}


def _kept(pictures: dict[str, bytes], content: bytes, suffix: str) -> str:
    name = f"picture-{len(pictures)}.{suffix}"
    pictures[name] = content
    return name
