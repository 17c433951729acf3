"""Of a recipe, the tints that are best poured by a letdown, and on which scale."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision: str | None = "0022"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns; the guards of the table stand and keep them too."""
    op.add_column("recipe", sa.Column("let_down", sa.JSON(), server_default="[]", nullable=False))
    op.add_column("recipe", sa.Column("scale_step_g", sa.Double(), nullable=True))


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")
