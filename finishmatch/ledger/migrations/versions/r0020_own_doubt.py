"""Of a reading that photographs told, the part of its u95 that it doesn't share with the others in them."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision: str | None = "0019"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the column; the guards of the table stand and keep it too."""
    op.add_column("reading", sa.Column("u95_own", sa.Double(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
