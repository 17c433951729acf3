"""Bringing a ledger of an earlier form up to date, by the steps in `migrations/versions`."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.chain import link_all
from finishmatch.ledger.row_chain import link_rows

LINKED = "0011"  # the first form whose entries carry a hash
ROWS_LINKED = "0014"  # the first form that has hashes of what stands beside the entries


def apply_steps(connection: Connection, path: Path | str, revision: str | None, newest: str) -> None:
    """Apply the steps that a ledger lacks, in the transaction that is open.

    Parameters
    ----------
    connection : Connection
    path : Path or str
        Of the ledger, for messages.
    revision : str or None
        The form it is in; None is an empty file.
    newest : str
        The form this program writes.

    Raises
    ------
    InputError
        A form that this program doesn't know.
    """
    config = Config()
    steps = Path(__file__).parent / "migrations"
    config.set_main_option("script_location", str(steps).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    known = {step.revision for step in ScriptDirectory.from_config(config).walk_revisions()}
    if revision is not None and revision not in known:
        raise InputError(
            str(path),
            f"the ledger was written by a newer finishmatch (form {revision}, this one knows up to {newest})",
            "update finishmatch",
        )
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def link_what_was_unlinked(session: Session, revision: str) -> None:
    """Give what a ledger of an earlier form holds the hashes that form had none of, as it stands."""
    if revision < LINKED:
        link_all(session)
    if revision < ROWS_LINKED:
        link_rows(session)
