"""What a batch was before and how much of that is in it, counts of the stock, and samples left out of a target."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision: str | None = "0008"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns, then make the table and its guards."""
    op.add_column("batch", sa.Column("continues_number", sa.Integer(), nullable=True))
    op.add_column("batch", sa.Column("share", sa.Double(), nullable=False, server_default="1"))
    op.add_column("batch", sa.Column("bank", sa.String(), nullable=False, server_default=""))
    op.add_column("batch", sa.Column("tin_l", sa.Double(), nullable=True))
    op.add_column("target", sa.Column("left_out", sa.JSON(), nullable=False, server_default="[]"))
    op.create_table(
        "stock_count",
        sa.Column("id", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("bank", "tint")),
        sa.Column("stock_g", sa.Double(), nullable=False),
        sa.Column("after_number", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stock_count"),
    )
    op.create_index("ix_stock_count_bank", "stock_count", ["bank"])
    if op.get_bind().dialect.name == "sqlite":
        _guard_in_sqlite()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = "BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: stock_count keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_stock_count_{verb.lower()} BEFORE {verb} ON stock_count {abort}")
    taken = "WHEN EXISTS (SELECT 1 FROM stock_count WHERE id = NEW.id)"
    op.execute(f"CREATE TRIGGER keep_stock_count_replace BEFORE INSERT ON stock_count {taken} {abort}")
