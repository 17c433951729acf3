"""The hash of what stands beside the entries: banks of jobs, their tints, stock counts, marks on exposures."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision: str | None = "0013"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Make the table, then its guards."""
    op.create_table(
        "row_link",
        sa.Column("kept_in", sa.String(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("kept_in", "about", "row_id", name="pk_row_link"),
    )
    if op.get_bind().dialect.name == "sqlite":
        _guard_in_sqlite()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = "BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: row_link keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_row_link_{verb.lower()} BEFORE {verb} ON row_link {abort}")
    taken = " AND ".join(f"{column} = NEW.{column}" for column in ("kept_in", "about", "row_id"))
    taken = f"WHEN EXISTS (SELECT 1 FROM row_link WHERE {taken})"
    op.execute(f"CREATE TRIGGER keep_row_link_replace BEFORE INSERT ON row_link {taken} {abort}")
