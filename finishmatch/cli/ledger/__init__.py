"""`finishmatch ledger`: where the record is kept."""

from __future__ import annotations

import click

from finishmatch.cli.lazy_group import LazyGroup

COMMANDS = {"move": ("ledger.move:move_command", "Onto a server that several bays share, or back into a folder.")}


@click.group(
    "ledger",
    cls=LazyGroup,
    table=COMMANDS,
    epilog="""\b
Example:
  finishmatch ledger move --help
""",
)
def ledger_command() -> None:
    """Where the record is kept: in a folder of this machine, or on a server (PostgreSQL) that several bays share."""
