"""A document as one HTML page that needs nothing else."""

from __future__ import annotations

import base64

from finishmatch.dossier.document import Block, Document, Photograph, Plot, shown, shown_cell
from finishmatch.dossier.template import environment


def document_html(document: Document) -> str:
    """Return a document as HTML text, its drawings and pictures inline."""
    made = environment()
    made.filters["shown"] = shown
    made.filters["cell"] = shown_cell
    made.filters["picture"] = _picture
    made.tests["named"] = _named
    return made.get_template("document.html.j2").render(document=document)


def _named(block: Block, name: str) -> bool:
    """Return whether a block is of a kind, by the name of its class."""
    return type(block).__name__ == name


def _picture(block: Photograph | Plot) -> str:
    """Return a picture as the address of its own content."""
    kind, content = ("jpeg", block.jpeg) if isinstance(block, Photograph) else ("svg+xml", block.svg.encode())
    return f"data:image/{kind};base64,{base64.b64encode(content).decode()}"
