"""The strengths of the tins, as spray-outs told them."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision: str | None = "0001"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Make the table of the strengths, then its guards."""
    lists = [sa.Column(name, sa.JSON(), nullable=False) for name in ("tints", "lots", "log_mean", "log_covariance")]
    op.create_table(
        "strength",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("bank", sa.String(), nullable=False),
        sa.Column("spray_out_number", sa.Integer(), nullable=True),
        *lists,
        sa.Column("starts_from_number", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("number", name="pk_strength"),
        sa.ForeignKeyConstraint(["number"], ["entry.number"], name="fk_strength_number"),
        sa.ForeignKeyConstraint(["spray_out_number"], ["spray_out.number"], name="fk_strength_spray_out_number"),
        sa.ForeignKeyConstraint(["starts_from_number"], ["strength.number"], name="fk_strength_starts_from_number"),
    )
    if op.get_bind().dialect.name == "sqlite":
        _guard_in_sqlite()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    told = "the ledger is never edited in place: strength keeps every row"
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER keep_strength_{verb.lower()} BEFORE {verb} ON strength "
            f"BEGIN SELECT RAISE(ABORT, '{told}'); END"
        )
    op.execute(
        "CREATE TRIGGER keep_strength_replace BEFORE INSERT ON strength "
        "WHEN EXISTS (SELECT 1 FROM strength WHERE number = NEW.number) "
        f"BEGIN SELECT RAISE(ABORT, '{told}'); END"
    )
