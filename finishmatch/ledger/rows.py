"""The tables of the ledger as SQLAlchemy classes: one row in `entry` and one in the table of its kind per entry.

What is asked for across jobs has a column of its own; spectra and lists are JSON.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    LargeBinary,
    MetaData,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The tables' common ground; every constraint has a name, so that a later migration can find it."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map = {float: Double, list[Any]: JSON, dict[str, Any]: JSON}  # noqa: RUF012  (read once by SQLAlchemy)


def _json_or_null() -> Mapped[list[Any] | None]:
    return mapped_column(JSON(none_as_null=True))


def _json_list() -> Mapped[list[Any]]:
    """A list that rows of an older form don't have."""
    return mapped_column(JSON, server_default="[]")


class JobRow(Base):
    """A job: one colour or one piece of work on one vehicle."""

    __tablename__ = "job"

    id: Mapped[int] = mapped_column(primary_key=True)
    title: Mapped[str]
    vehicle: Mapped[str]
    colour_name: Mapped[str]
    note: Mapped[str]
    made_at: Mapped[str]


class JobBankRow(Base):
    """The bank a job was mixed from, and its folder on this machine; the last one of a job stands."""

    __tablename__ = "job_bank"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    bank: Mapped[str]
    folder: Mapped[str]
    made_at: Mapped[str]


class StockCountRow(Base):
    """A stock as the bank's table had it when that was first seen; what is poured after it goes off it."""

    __tablename__ = "stock_count"

    id: Mapped[int] = mapped_column(primary_key=True)
    bank: Mapped[str] = mapped_column(index=True)
    tint: Mapped[str]
    stock_g: Mapped[float]
    after_number: Mapped[int]
    made_at: Mapped[str]


class BankTintRow(Base):
    """A tint as a bank's table had it when a job was mixed from it; the last one of a tint stands."""

    __tablename__ = "bank_tint"

    id: Mapped[int] = mapped_column(primary_key=True)
    bank: Mapped[str] = mapped_column(index=True)
    tint: Mapped[str]
    role: Mapped[str]
    colour_index: Mapped[str]
    density_kg_l: Mapped[float]
    lot: Mapped[str]
    hazards: Mapped[list[Any]]
    hazards_by: Mapped[str]
    made_at: Mapped[str]


class RowLinkRow(Base):
    """The hash of a row beside the entries, chained to that of the one before in its table that is about the same."""

    __tablename__ = "row_link"

    kept_in: Mapped[str] = mapped_column(primary_key=True)
    about: Mapped[str] = mapped_column(primary_key=True)
    row_id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    sha256: Mapped[str]


class JobOriginRow(Base):
    """A job that was imported: the number it is hashed under, and the hash of the bundle it came in."""

    __tablename__ = "job_origin"

    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), primary_key=True)
    hashed_as: Mapped[int]
    bundle_sha256: Mapped[str]
    imported_at: Mapped[str]


class EntryOriginRow(Base):
    """An entry that was imported: the number it is hashed under, which it had where it was written."""

    __tablename__ = "entry_origin"

    number: Mapped[int] = mapped_column(ForeignKey("entry.number"), primary_key=True)
    hashed_as: Mapped[int]


class SourceFileRow(Base):
    """The bytes of a file, once, under their SHA-256."""

    __tablename__ = "source_file"

    sha256: Mapped[str] = mapped_column(primary_key=True)
    content: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)


class SourceLeftRow(Base):
    """A file of which only a part was imported, and the hash of that: a photograph without its place."""

    __tablename__ = "source_left"

    sha256: Mapped[str] = mapped_column(ForeignKey("source_file.sha256"), primary_key=True)
    left_sha256: Mapped[str]


class EntrySourceRow(Base):
    """Which file an entry was found with, and under what name."""

    __tablename__ = "entry_source"

    entry_number: Mapped[int] = mapped_column(ForeignKey("entry.number"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    sha256: Mapped[str] = mapped_column(ForeignKey("source_file.sha256"))


class EntryLinkRow(Base):
    """The hash of an entry, chained to that of the one before in its job."""

    __tablename__ = "entry_link"

    number: Mapped[int] = mapped_column(ForeignKey("entry.number"), primary_key=True)
    sha256: Mapped[str]


class EntryRow(Base):
    """What every entry has.

    The composite key lets the database itself see to it that a replacement is of the same job and kind, and the unique
    one that an entry is replaced only once.
    """

    __tablename__ = "entry"
    __table_args__ = (
        UniqueConstraint("number", "job_id", "kind"),
        UniqueConstraint("supersedes_id"),
        ForeignKeyConstraint(["supersedes_id", "job_id", "kind"], ["entry.number", "entry.job_id", "entry.kind"]),
    )
    __mapper_args__ = {"polymorphic_on": "kind"}  # noqa: RUF012

    number: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str]
    made_at: Mapped[str]
    supersedes_id: Mapped[int | None]
    reason: Mapped[str]

    sources: Mapped[list[EntrySourceRow]] = relationship(order_by=EntrySourceRow.position)


def _kind(name: str) -> dict[str, Any]:
    return {"polymorphic_identity": name}


def _entry_key() -> Mapped[int]:
    return mapped_column(ForeignKey("entry.number"), primary_key=True)


class ColourColumns:
    """CIELAB with its light and observer, and the spectrum where there is one."""

    lab_l: Mapped[float]
    lab_a: Mapped[float]
    lab_b: Mapped[float]
    light: Mapped[str]
    observer: Mapped[int]
    reflectance: Mapped[list[Any] | None] = _json_or_null()


class ReadingRow(ColourColumns, EntryRow):
    __tablename__ = "reading"
    __mapper_args__ = _kind("reading")
    number: Mapped[int] = _entry_key()
    role: Mapped[str]
    name: Mapped[str]
    geometry: Mapped[str]
    repeats: Mapped[int]
    spread_de00: Mapped[float | None]
    u95: Mapped[float | None]
    u95_own: Mapped[float | None]
    camera_saw: Mapped[list[Any]] = _json_list()


class TargetRow(ColourColumns, EntryRow):
    __tablename__ = "target"
    __mapper_args__ = _kind("target")
    number: Mapped[int] = _entry_key()
    name: Mapped[str]
    tolerance: Mapped[float]
    u95: Mapped[float | None]
    evidence: Mapped[list[Any]]
    covariance: Mapped[list[Any] | None] = _json_or_null()
    left_out: Mapped[list[Any]] = _json_list()
    weights: Mapped[list[Any]] = _json_list()
    doubts: Mapped[list[Any]] = _json_list()
    u95_own: Mapped[float | None]
    pictures: Mapped[list[Any]] = _json_list()
    camera_saw: Mapped[list[Any]] = _json_list()
    geometry: Mapped[str] = mapped_column(server_default="")


class RecipeRow(ColourColumns, EntryRow):
    __tablename__ = "recipe"
    __mapper_args__ = _kind("recipe")
    number: Mapped[int] = _entry_key()
    bank: Mapped[str]
    bank_digest: Mapped[str]
    grams: Mapped[float]
    parts: Mapped[list[Any]]
    lights: Mapped[dict[str, Any]]
    metamerism: Mapped[float | None]
    cost: Mapped[float | None]
    sensitivity_de00_p95: Mapped[float | None]
    rank: Mapped[int]
    first_share: Mapped[float | None]
    without: Mapped[list[Any]] = _json_list()
    asked_g: Mapped[float | None]
    again_number: Mapped[int | None]  # of a batch: a column that is added to a table can't be a key in SQLite
    let_down: Mapped[list[Any]] = _json_list()
    scale_step_g: Mapped[float | None]


class BatchRow(EntryRow):
    __tablename__ = "batch"
    __mapper_args__ = _kind("batch")
    number: Mapped[int] = _entry_key()
    parts: Mapped[list[Any]]
    recipe_number: Mapped[int | None] = mapped_column(ForeignKey("recipe.number"))
    continues_number: Mapped[int | None]  # of a batch: a column that is added to a table can't be a key in SQLite
    share: Mapped[float] = mapped_column(server_default="1")
    bank: Mapped[str] = mapped_column(server_default="")
    tin_l: Mapped[float | None]
    from_lots: Mapped[list[Any]] = _json_list()
    aside_for: Mapped[str] = mapped_column(server_default="")


class SprayOutRow(ColourColumns, EntryRow):
    __tablename__ = "spray_out"
    __mapper_args__ = _kind("spray-out")
    number: Mapped[int] = _entry_key()
    batch_number: Mapped[int | None] = mapped_column(ForeignKey("batch.number"))
    name: Mapped[str]
    ground: Mapped[str]
    coats: Mapped[int | None]
    build_um: Mapped[float | None]
    surface: Mapped[str]
    geometry: Mapped[str]
    repeats: Mapped[int]
    spread_de00: Mapped[float | None]
    seen: Mapped[list[Any]] = _json_list()


class VerdictRow(EntryRow):
    __tablename__ = "verdict"
    __mapper_args__ = _kind("verdict")
    number: Mapped[int] = _entry_key()
    standard: Mapped[str]
    trial: Mapped[str]
    de00: Mapped[float]
    de76: Mapped[float]
    lights: Mapped[dict[str, Any]]
    metamerism: Mapped[float | None]
    words: Mapped[list[Any]]
    tolerance: Mapped[float]
    verdict: Mapped[str]
    spray_out_number: Mapped[int | None]  # a column that is added to a table can't be a key in SQLite
    u95: Mapped[float | None]


class CorrectionRow(EntryRow):
    __tablename__ = "correction"
    __mapper_args__ = _kind("correction")
    number: Mapped[int] = _entry_key()
    batch_number: Mapped[int | None] = mapped_column(ForeignKey("batch.number"))
    additions: Mapped[list[Any]]
    growth: Mapped[float]
    reachable: Mapped[bool]
    lights: Mapped[dict[str, Any]]
    strengths: Mapped[dict[str, Any]]
    why: Mapped[str]
    spray_out_number: Mapped[int | None]
    letdowns: Mapped[list[Any]] = _json_list()
    fills_to: Mapped[float | None]


class StrengthRow(EntryRow):
    __tablename__ = "strength"
    __mapper_args__ = _kind("strength")
    number: Mapped[int] = _entry_key()
    bank: Mapped[str]
    spray_out_number: Mapped[int | None] = mapped_column(ForeignKey("spray_out.number"))
    tints: Mapped[list[Any]]
    lots: Mapped[list[Any]]
    log_mean: Mapped[list[Any]]
    log_covariance: Mapped[list[Any]]
    starts_from_number: Mapped[int | None] = mapped_column(ForeignKey("strength.number"))
    card_precision: Mapped[list[Any] | None] = _json_or_null()
    card_information: Mapped[list[Any] | None] = _json_or_null()
    letdown: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    foretold: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))


class FilmLayerRow(EntryRow):
    __tablename__ = "film_layer"
    __mapper_args__ = _kind("film-layer")
    number: Mapped[int] = _entry_key()
    panel: Mapped[str]
    position: Mapped[int]
    layer: Mapped[str]
    builds_um: Mapped[list[Any]]
    places: Mapped[list[Any]]


class MetRow(Base):
    """An exposure as it was written, once; `value_key` is the value as it is counted, whatever its capitals."""

    __tablename__ = "met"
    __table_args__ = (UniqueConstraint("kind", "value"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    value: Mapped[str]
    value_key: Mapped[str]


class CoatMetRow(Base):
    """What a coat met. Two numbers a row: a shop's whole record is read at once to trace a defect."""

    __tablename__ = "coat_met"
    __table_args__ = ({"sqlite_with_rowid": False},)

    coat_number: Mapped[int] = mapped_column(ForeignKey("coat.number"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    met_id: Mapped[int] = mapped_column(ForeignKey("met.id"))

    met: Mapped[MetRow] = relationship()


class CoatRow(EntryRow):
    __tablename__ = "coat"
    __mapper_args__ = _kind("coat")
    number: Mapped[int] = _entry_key()
    panel: Mapped[str]
    sprayed_on: Mapped[str]
    layer: Mapped[str]

    exposures: Mapped[list[CoatMetRow]] = relationship(order_by=CoatMetRow.position)


class QuarantineRow(Base):
    """An exposure marked as suspect, or cleared; the last mark of one stands."""

    __tablename__ = "quarantine"

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    value: Mapped[str]
    value_key: Mapped[str]
    state: Mapped[str]
    why: Mapped[str]
    made_at: Mapped[str]
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"))


class ExposureRow(Base):
    """What a defective panel was exposed to; `value_key` is the value as it is counted, whatever its capitals."""

    __tablename__ = "exposure"
    __table_args__ = (Index(None, "kind", "value_key", "entry_number"),)

    entry_number: Mapped[int] = mapped_column(ForeignKey("defect.number"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    value: Mapped[str]
    value_key: Mapped[str]
    met_on: Mapped[str] = mapped_column(server_default="")


class DefectRow(EntryRow):
    __tablename__ = "defect"
    __mapper_args__ = _kind("defect")
    number: Mapped[int] = _entry_key()
    defect_kind: Mapped[str] = mapped_column(index=True)
    panel: Mapped[str]
    place: Mapped[str]
    count: Mapped[int | None]
    size_mm: Mapped[float | None]
    depth_um: Mapped[float | None]
    layer_reached: Mapped[str | None]
    seen_on: Mapped[str]
    seen: Mapped[list[Any]] = _json_list()
    checks: Mapped[list[Any]] = _json_list()
    rating: Mapped[str] = mapped_column(server_default="")
    at_mm: Mapped[list[Any]] = _json_list()
    over_mm: Mapped[list[Any]] = _json_list()

    exposures: Mapped[list[ExposureRow]] = relationship(order_by=ExposureRow.position)


class DecisionRow(EntryRow):
    __tablename__ = "decision"
    __mapper_args__ = _kind("decision")
    number: Mapped[int] = _entry_key()
    defect_number: Mapped[int | None] = mapped_column(ForeignKey("defect.number"))
    options: Mapped[list[Any]]
    chosen: Mapped[str]
    why: Mapped[str]
    outcome: Mapped[str]
    result: Mapped[str] = mapped_column(server_default="")


class PlanRow(EntryRow):
    __tablename__ = "plan"
    __mapper_args__ = _kind("plan")
    number: Mapped[int] = _entry_key()
    about: Mapped[str]
    verdict: Mapped[str]
    answer: Mapped[str]
    figures: Mapped[dict[str, Any]]
    notes: Mapped[list[Any]]


class NoteRow(EntryRow):
    __tablename__ = "note"
    __mapper_args__ = _kind("note")
    number: Mapped[int] = _entry_key()
    text: Mapped[str]


class StrikeRow(EntryRow):
    __tablename__ = "strike"
    number: Mapped[int] = _entry_key()
    __mapper_args__ = {**_kind("strike"), "inherit_condition": number == EntryRow.number}  # noqa: RUF012
    struck_number: Mapped[int] = mapped_column(ForeignKey("entry.number"))
    why: Mapped[str]


ROW_KINDS: dict[str, type[EntryRow]] = {
    mapper.polymorphic_identity: mapper.class_
    for mapper in EntryRow.__mapper__.self_and_descendants
    if mapper.polymorphic_identity
}
