"""Signs, checks, rating and place of a defect; the day of an exposure; whether a decision's work came right."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision: str | None = "0002"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add columns; what was recorded before has none of it."""
    for name in ("seen", "checks", "at_mm", "over_mm"):
        op.add_column("defect", sa.Column(name, sa.JSON(), nullable=False, server_default="[]"))
    op.add_column("defect", sa.Column("rating", sa.String(), nullable=False, server_default=""))
    op.add_column("exposure", sa.Column("met_on", sa.String(), nullable=False, server_default=""))
    op.add_column("decision", sa.Column("result", sa.String(), nullable=False, server_default=""))


def downgrade() -> None:
    """What was recorded is kept."""
    raise NotImplementedError("a step of the ledger can't be taken back")
