"""How drops of strong tints are poured by a letdown."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision: str | None = "0014"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("correction", sa.Column("letdowns", sa.JSON(), server_default="[]", nullable=False))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
