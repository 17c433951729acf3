"""Of a colour that was photographed, what the camera saw besides; of a target, how it was read."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision: str | None = "0021"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns; the guards of the tables stand and keep them too."""
    for table in ("reading", "target"):
        op.add_column(table, sa.Column("camera_saw", sa.JSON(), server_default="[]", nullable=False))
    op.add_column("target", sa.Column("geometry", sa.String(), server_default="", nullable=False))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
