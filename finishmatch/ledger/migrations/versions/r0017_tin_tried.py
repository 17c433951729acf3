"""Of a strength, the letdown that it was found from, where it wasn't a spray-out."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision: str | None = "0016"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("strength", sa.Column("letdown", sa.JSON(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
