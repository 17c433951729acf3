"""Entries that were struck, and of which spray-out a verdict and a correction are."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision: str | None = "0009"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns, then make the table and its guards."""
    for table in ("verdict", "correction"):
        op.add_column(table, sa.Column("spray_out_number", sa.Integer(), nullable=True))
    op.create_table(
        "strike",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("struck_number", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_strike"),
        sa.ForeignKeyConstraint(["number"], ["entry.number"], name="fk_strike_number"),
        sa.ForeignKeyConstraint(["struck_number"], ["entry.number"], name="fk_strike_struck_number"),
    )
    if op.get_bind().dialect.name == "sqlite":
        _guard_in_sqlite()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = "BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: strike keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_strike_{verb.lower()} BEFORE {verb} ON strike {abort}")
    taken = "WHEN EXISTS (SELECT 1 FROM strike WHERE number = NEW.number)"
    op.execute(f"CREATE TRIGGER keep_strike_replace BEFORE INSERT ON strike {taken} {abort}")
