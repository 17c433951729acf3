"""The hash of each entry, chained to the one before; entries that stand are chained when all steps are made."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision: str | None = "0010"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Make the table, then its guards."""
    op.create_table(
        "entry_link",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_entry_link"),
        sa.ForeignKeyConstraint(["number"], ["entry.number"], name="fk_entry_link_number"),
    )
    if op.get_bind().dialect.name == "sqlite":
        _guard_in_sqlite()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = "BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry_link keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_entry_link_{verb.lower()} BEFORE {verb} ON entry_link {abort}")
    taken = "WHEN EXISTS (SELECT 1 FROM entry_link WHERE number = NEW.number)"
    op.execute(f"CREATE TRIGGER keep_entry_link_replace BEFORE INSERT ON entry_link {taken} {abort}")
