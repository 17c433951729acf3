"""The HTML templates of the room."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined


def filled(template: str, page: object, **further: str) -> str:
    """Return a template with a page put in, as HTML text; `further` is SVG text made here."""
    return environment().get_template(template).render(page=page, **further)


def environment() -> Environment:
    """Return what the templates are filled by; text is text in them, whatever stands in it."""
    loader = PackageLoader("finishmatch.dossier")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
