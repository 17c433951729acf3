"""`finishmatch photo`: photographs, and the shop's card for them. Each command is a file of its own."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {
    "read": (
        "photo.read:read_command",
        "Read colours from photographs that have a chart or card in them.",
    ),
    "card": ("photo.card:card_command", "Write the spray-out card to print, and register your own print of it."),
}


EXAMPLE = """\b
Examples:
  finishmatch photo read swatches/photo.jpg
  finishmatch photo card --out card.pdf
"""


@click.group(cls=LazyGroup, table=COMMANDS, epilog=EXAMPLE)
def photo_command() -> None:
    """Photographs as readings, and the shop's card that makes them trustworthy."""
