"""How surely a target is known, as the covariance of its L*, a*, b*."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision: str | None = "0005"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column; the guards of the table stand and keep it too."""
    op.add_column("target", sa.Column("covariance", sa.JSON(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
