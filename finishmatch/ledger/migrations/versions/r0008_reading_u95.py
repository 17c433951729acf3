"""How surely a reading is known: its u95, where that was told, as of a photograph."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision: str | None = "0007"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column; the guards of the table stand and keep it too."""
    op.add_column("reading", sa.Column("u95", sa.Double(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
