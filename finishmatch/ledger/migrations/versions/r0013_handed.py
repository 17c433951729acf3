"""The tints of a bank, the weight of each sample, and where an imported job, its entries and its files came from."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision: str | None = "0012"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None

_GUARDED = {"bank_tint": "id", "job_origin": "job_id", "entry_origin": "number", "source_left": "sha256"}


def upgrade() -> None:
    """Add the columns, then make the tables and their guards."""
    for name in ("weights", "doubts"):
        op.add_column("target", sa.Column(name, sa.JSON(), nullable=False, server_default="[]"))
    op.create_table(
        "bank_tint",
        sa.Column("id", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("bank", "tint", "role", "colour_index")),
        sa.Column("density_kg_l", sa.Double(), nullable=False),
        sa.Column("lot", sa.String(), nullable=False),
        sa.Column("hazards", sa.JSON(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("hazards_by", "made_at")),
        sa.PrimaryKeyConstraint("id", name="pk_bank_tint"),
    )
    op.create_index("ix_bank_tint_bank", "bank_tint", ["bank"])
    op.create_table(
        "job_origin",
        *(sa.Column(name, sa.Integer(), nullable=False) for name in ("job_id", "hashed_as")),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("bundle_sha256", "imported_at")),
        sa.PrimaryKeyConstraint("job_id", name="pk_job_origin"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_job_origin_job_id"),
    )
    op.create_table(
        "entry_origin",
        *(sa.Column(name, sa.Integer(), nullable=False) for name in ("number", "hashed_as")),
        sa.PrimaryKeyConstraint("number", name="pk_entry_origin"),
        sa.ForeignKeyConstraint(["number"], ["entry.number"], name="fk_entry_origin_number"),
    )
    op.create_table(
        "source_left",
        *(sa.Column(name, sa.String(), nullable=False) for name in ("sha256", "left_sha256")),
        sa.PrimaryKeyConstraint("sha256", name="pk_source_left"),
        sa.ForeignKeyConstraint(["sha256"], ["source_file.sha256"], name="fk_source_left_sha256"),
    )
    if op.get_bind().dialect.name == "sqlite":
        for table, key in _GUARDED.items():
            _guard_in_sqlite(table, key)


def downgrade() -> None:
    """A form of the ledger is never taken back: what it keeps would be lost."""
    raise NotImplementedError("a form of the ledger can't be taken back")


def _guard_in_sqlite(table: str, key: str) -> None:
    """Abort what would change or remove a row, as for the tables of the first form."""
    abort = f"BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: {table} keeps every row'); END"
    for verb in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER keep_{table}_{verb.lower()} BEFORE {verb} ON {table} {abort}")
    taken = f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})"
    op.execute(f"CREATE TRIGGER keep_{table}_replace BEFORE INSERT ON {table} {taken} {abort}")
