"""How much of a recipe is poured before its first card, and what the rest fills the tin up to."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision: str | None = "0015"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns."""
    op.add_column("recipe", sa.Column("first_share", sa.Double(), nullable=True))
    op.add_column("correction", sa.Column("fills_to", sa.Double(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
