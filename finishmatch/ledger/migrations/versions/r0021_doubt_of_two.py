"""Of a target its photographs and what of its u95 is its own; what a verdict is known to; of a recipe its batch."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision: str | None = "0020"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns; the guards of the tables stand and keep them too."""
    op.add_column("target", sa.Column("u95_own", sa.Double(), nullable=True))
    op.add_column("target", sa.Column("pictures", sa.JSON(), server_default="[]", nullable=False))
    op.add_column("verdict", sa.Column("u95", sa.Double(), nullable=True))
    op.add_column("recipe", sa.Column("again_number", sa.Integer(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
