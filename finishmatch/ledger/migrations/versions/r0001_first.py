"""The first form of the ledger: jobs, entries and the table of each kind, files, and the guards against editing."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision: str | None = None
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None

# table: its key, which no second row may take
KEYS = {
    "job": ("id",),
    "source_file": ("sha256",),
    "entry": ("number",),
    "entry_source": ("entry_number", "position"),
    "reading": ("number",),
    "target": ("number",),
    "recipe": ("number",),
    "batch": ("number",),
    "spray_out": ("number",),
    "verdict": ("number",),
    "correction": ("number",),
    "film_layer": ("number",),
    "defect": ("number",),
    "exposure": ("entry_number", "position"),
    "decision": ("number",),
    "note": ("number",),
}


def upgrade() -> None:
    """Make the tables, then the guards."""
    _job_and_entry()
    _colour_kinds()
    _finish_kinds()
    if op.get_bind().dialect.name == "sqlite":
        for table, key in KEYS.items():
            _guard_in_sqlite(table, key)


def downgrade() -> None:
    """There is nothing before the first form."""
    raise NotImplementedError("the first form of the ledger can't be taken back")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=False)


def _whole(name: str, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=nullable)


def _real(name: str, nullable: bool = False) -> sa.Column[float]:
    return sa.Column(name, sa.Double(), nullable=nullable)


def _json(name: str, nullable: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.JSON(), nullable=nullable)


def _link(table: str, column: str, other: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [other], name=f"fk_{table}_{column}")


def _job_and_entry() -> None:
    op.create_table(
        "job",
        _whole("id"),
        _text("title"),
        _text("vehicle"),
        _text("colour_name"),
        _text("note"),
        _text("made_at"),
        sa.PrimaryKeyConstraint("id", name="pk_job"),
    )
    op.create_table(
        "source_file",
        _text("sha256"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_source_file"),
    )
    op.create_table(
        "entry",
        _whole("number"),
        _whole("job_id"),
        _text("kind"),
        _text("made_at"),
        _whole("supersedes_id", nullable=True),
        _text("reason"),
        sa.PrimaryKeyConstraint("number", name="pk_entry"),
        _link("entry", "job_id", "job.id"),
        sa.UniqueConstraint("number", "job_id", "kind", name="uq_entry_number_job_id_kind"),
        sa.UniqueConstraint("supersedes_id", name="uq_entry_supersedes_id"),
        sa.ForeignKeyConstraint(
            ["supersedes_id", "job_id", "kind"],
            ["entry.number", "entry.job_id", "entry.kind"],
            name="fk_entry_supersedes_id_job_id_kind",
        ),
    )
    op.create_index("ix_entry_job_id", "entry", ["job_id"])
    op.create_table(
        "entry_source",
        _whole("entry_number"),
        _whole("position"),
        _text("name"),
        _text("sha256"),
        sa.PrimaryKeyConstraint("entry_number", "position", name="pk_entry_source"),
        _link("entry_source", "entry_number", "entry.number"),
        _link("entry_source", "sha256", "source_file.sha256"),
    )


def _entry_table(name: str, *columns: sa.schema.SchemaItem) -> None:
    op.create_table(
        name,
        _whole("number"),
        *columns,
        sa.PrimaryKeyConstraint("number", name=f"pk_{name}"),
        _link(name, "number", "entry.number"),
    )


def _colour_columns() -> list[sa.schema.SchemaItem]:
    lab = (_real(f"lab_{axis}") for axis in "lab")
    return [*lab, _text("light"), _whole("observer"), _json("reflectance", nullable=True)]


def _repeat_columns() -> list[sa.schema.SchemaItem]:
    return [_text("geometry"), _whole("repeats"), _real("spread_de00", nullable=True)]


def _colour_kinds() -> None:
    _entry_table("reading", _text("role"), _text("name"), *_repeat_columns(), *_colour_columns())
    _entry_table(
        "target",
        _text("name"),
        _real("tolerance"),
        _real("u95", nullable=True),
        _json("evidence"),
        *_colour_columns(),
    )
    _entry_table(
        "recipe",
        _text("bank"),
        _text("bank_digest"),
        _real("grams"),
        _json("parts"),
        _json("lights"),
        _real("metamerism", nullable=True),
        _real("cost", nullable=True),
        _real("sensitivity_de00_p95", nullable=True),
        _whole("rank"),
        *_colour_columns(),
    )
    _entry_table(
        "batch",
        _json("parts"),
        _whole("recipe_number", nullable=True),
        _link("batch", "recipe_number", "recipe.number"),
    )
    _entry_table(
        "spray_out",
        _whole("batch_number", nullable=True),
        _text("name"),
        _text("ground"),
        _whole("coats", nullable=True),
        _real("build_um", nullable=True),
        _text("surface"),
        *_repeat_columns(),
        *_colour_columns(),
        _link("spray_out", "batch_number", "batch.number"),
    )
    _entry_table(
        "verdict",
        _text("standard"),
        _text("trial"),
        _real("de00"),
        _real("de76"),
        _json("lights"),
        _real("metamerism", nullable=True),
        _json("words"),
        _real("tolerance"),
        _text("verdict"),
    )
    _entry_table(
        "correction",
        _whole("batch_number", nullable=True),
        _json("additions"),
        _real("growth"),
        sa.Column("reachable", sa.Boolean(), nullable=False),
        _json("lights"),
        _json("strengths"),
        _text("why"),
        _link("correction", "batch_number", "batch.number"),
    )


def _finish_kinds() -> None:
    _entry_table("film_layer", _text("panel"), _whole("position"), _text("layer"), _json("builds_um"), _json("places"))
    _entry_table(
        "defect",
        _text("defect_kind"),
        _text("panel"),
        _text("place"),
        _whole("count", nullable=True),
        _real("size_mm", nullable=True),
        _real("depth_um", nullable=True),
        sa.Column("layer_reached", sa.String(), nullable=True),
        _text("seen_on"),
    )
    op.create_index("ix_defect_defect_kind", "defect", ["defect_kind"])
    op.create_table(
        "exposure",
        _whole("entry_number"),
        _whole("position"),
        _text("kind"),
        _text("value"),
        _text("value_key"),
        sa.PrimaryKeyConstraint("entry_number", "position", name="pk_exposure"),
        _link("exposure", "entry_number", "defect.number"),
    )
    op.create_index("ix_exposure_kind_value_key_entry_number", "exposure", ["kind", "value_key", "entry_number"])
    _entry_table(
        "decision",
        _whole("defect_number", nullable=True),
        _json("options"),
        _text("chosen"),
        _text("why"),
        _text("outcome"),
        _link("decision", "defect_number", "defect.number"),
    )
    _entry_table("note", _text("text"))


def _guard_in_sqlite(table: str, key: Sequence[str]) -> None:
    """Abort what would change or remove a row; REPLACE doesn't ask the DELETE guard, so it has its own."""
    told = f"the ledger is never edited in place: {table} keeps every row"
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER keep_{table}_{verb.lower()} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{told}'); END"
        )
    taken = " AND ".join(f"{column} = NEW.{column}" for column in key)
    if table == "entry":
        taken += " OR supersedes_id = NEW.supersedes_id"
    op.execute(
        f"CREATE TRIGGER keep_{table}_replace BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {taken}) "
        f"BEGIN SELECT RAISE(ABORT, '{told}'); END"
    )
