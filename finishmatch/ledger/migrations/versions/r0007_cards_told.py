"""What a card by itself told of its tins; and the bank a job is mixed from."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision: str | None = "0006"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns, then make the table and its guards."""
    for name in ("card_precision", "card_information"):
        op.add_column("strength", sa.Column(name, sa.JSON(), nullable=True))
    op.create_table(
        "job_bank",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("bank", "folder", "made_at")),
        sa.PrimaryKeyConstraint("id", name="pk_job_bank"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_job_bank_job_id"),
    )
    op.create_index("ix_job_bank_job_id", "job_bank", ["job_id"])
    if op.get_bind().dialect.name == "sqlite":
        _guard_in_sqlite()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = "BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: job_bank keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_job_bank_{verb.lower()} BEFORE {verb} ON job_bank {abort}")
    taken = "WHEN EXISTS (SELECT 1 FROM job_bank WHERE id = NEW.id)"
    op.execute(f"CREATE TRIGGER keep_job_bank_replace BEFORE INSERT ON job_bank {taken} {abort}")
