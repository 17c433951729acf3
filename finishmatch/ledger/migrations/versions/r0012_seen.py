"""How a spray-out was seen beside its standard, where its own colour wasn't read."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision: str | None = "0011"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column; the guards of the table stand and keep it too."""
    op.add_column("spray_out", sa.Column("seen", sa.JSON(), server_default="[]", nullable=False))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
