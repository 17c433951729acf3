"""Of a batch, what the part of it that is set aside is meant for."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision: str | None = "0018"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("batch", sa.Column("aside_for", sa.String(), nullable=False, server_default=""))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
