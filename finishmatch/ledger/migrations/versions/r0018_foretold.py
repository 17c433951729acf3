"""Of a card how far it came from what was foretold; of a recipe what it did without; of a batch its tins' lots."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision: str | None = "0017"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns."""
    op.add_column("strength", sa.Column("foretold", sa.JSON(), nullable=True))
    op.add_column("batch", sa.Column("from_lots", sa.JSON(), nullable=False, server_default="[]"))
    op.add_column("recipe", sa.Column("without", sa.JSON(), nullable=False, server_default="[]"))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
