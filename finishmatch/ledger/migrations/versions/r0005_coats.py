"""Coats and what they met, and exposures marked as suspect."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision: str | None = "0004"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None

# table: its key, which no second row may take
KEYS = {"met": ("id",), "coat": ("number",), "coat_met": ("coat_number", "position"), "quarantine": ("id",)}


def upgrade() -> None:
    """Make the tables, then their guards."""
    op.create_table(
        "met",
        _whole("id"),
        *(_text(name) for name in ("kind", "value", "value_key")),
        sa.PrimaryKeyConstraint("id", name="pk_met"),
        sa.UniqueConstraint("kind", "value", name="uq_met_kind_value"),
    )
    op.create_table(
        "coat",
        _whole("number"),
        *(_text(name) for name in ("panel", "sprayed_on", "layer")),
        sa.PrimaryKeyConstraint("number", name="pk_coat"),
        sa.ForeignKeyConstraint(["number"], ["entry.number"], name="fk_coat_number"),
    )
    op.create_table(
        "coat_met",
        _whole("coat_number"),
        _whole("position"),
        _whole("met_id"),
        sa.PrimaryKeyConstraint("coat_number", "position", name="pk_coat_met"),
        sa.ForeignKeyConstraint(["coat_number"], ["coat.number"], name="fk_coat_met_coat_number"),
        sa.ForeignKeyConstraint(["met_id"], ["met.id"], name="fk_coat_met_met_id"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "quarantine",
        _whole("id"),
        *(_text(name) for name in ("kind", "value", "value_key", "state", "why", "made_at")),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_quarantine"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_quarantine_job_id"),
    )
    if op.get_bind().dialect.name == "sqlite":
        for table, key in KEYS.items():
            _guard_in_sqlite(table, key)


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=False)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=False)


def _guard_in_sqlite(table: str, key: Sequence[str]) -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    told = f"the ledger is never edited in place: {table} keeps every row"
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER keep_{table}_{verb.lower()} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{told}'); END"
        )
    taken = " AND ".join(f"{column} = NEW.{column}" for column in key)
    op.execute(
        f"CREATE TRIGGER keep_{table}_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {taken}) BEGIN SELECT RAISE(ABORT, '{told}'); END"
    )
