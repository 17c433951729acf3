"""Plans: what was planned, the answer and its figures."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision: str | None = "0003"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Make the table, then its guards."""
    op.create_table(
        "plan",
        sa.Column("number", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("about", "verdict", "answer")),
        *(sa.Column(name, sa.JSON(), nullable=False) for name in ("figures", "notes")),
        sa.PrimaryKeyConstraint("number", name="pk_plan"),
        sa.ForeignKeyConstraint(["number"], ["entry.number"], name="fk_plan_number"),
    )
    if op.get_bind().dialect.name == "sqlite":
        _guard_plan()


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_plan() -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = "BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: plan keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_plan_{verb.lower()} BEFORE {verb} ON plan {abort}")
    taken = "WHEN EXISTS (SELECT 1 FROM plan WHERE number = NEW.number)"
    op.execute(f"CREATE TRIGGER keep_plan_replace BEFORE INSERT ON plan {taken} {abort}")
