"""Of a photographed reading, the part of its u95 that is its own; of a recipe that was enlarged, what was asked for."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision: str | None = "0019"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns; the guards of the tables stand and keep them too."""
    op.add_column("reading", sa.Column("u95_own", sa.Double(), nullable=True))
    op.add_column("recipe", sa.Column("asked_g", sa.Double(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
