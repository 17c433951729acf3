"""`finishmatch photo`: photographs, and the shop's card for them. Each command is a file of its own."""

from __future__ import annotations

import click

from finishmatch.cli.photo.card import card_command
from finishmatch.cli.photo.read import read_command

EXAMPLE = """\b
Examples:
  finishmatch photo read swatches/photo.jpg
  finishmatch photo card --out card.pdf
"""


@click.group(epilog=EXAMPLE)
def photo_command() -> None:
    """Photographs as readings, and the shop's card that makes them trustworthy."""


photo_command.add_command(read_command)
photo_command.add_command(card_command)
