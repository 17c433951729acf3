"""The steps that make the ledger agree with what the program reads, and cost nothing when there is nothing to do."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from finishmatch.ledger import SprayOutEntry, StrengthEntry, open_ledger
from finishmatch.ledger.opening import APPLICATION_ID, REVISION, connect
from finishmatch.ledger.rows import Base
from tests.conftest import ROOT

STEPS = ROOT / "finishmatch/ledger/migrations"
FIRST_FORM = ROOT / "tests/reference/ledger_form_0001.sql"


def test_the_steps_make_exactly_the_tables_the_program_reads(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        engine = connect(ledger.path)
        with engine.connect() as connection:
            assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
        engine.dispose()


def test_the_form_the_program_names_is_the_newest_step() -> None:
    config = Config()
    config.set_main_option("script_location", str(STEPS))
    config.set_main_option("path_separator", "os")
    assert ScriptDirectory.from_config(config).get_heads() == [REVISION]


def test_a_current_ledger_is_opened_without_the_migration_library(tmp_path: Path) -> None:
    with open_ledger(tmp_path):
        pass
    script = (
        "import sys; from pathlib import Path; from finishmatch.ledger import open_ledger\n"
        "with open_ledger(Path(sys.argv[1])) as ledger: ledger.new_job('Roof')\n"
        "assert 'sqlalchemy' in sys.modules and 'alembic' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", script, str(tmp_path)], check=True)


def _kept(path: Path, tables: list[str] | None = None) -> dict[str, list[dict[str, Any]]]:
    """All rows of a ledger by table, as columns and values."""
    database = sqlite3.connect(path)
    database.row_factory = sqlite3.Row
    if tables is None:
        found = database.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name <> 'alembic_version'")
        tables = [name for (name,) in found]
    kept = {table: [dict(row) for row in database.execute(f"SELECT * FROM {table}")] for table in tables}
    database.close()
    return kept


def test_a_ledger_of_the_first_form_keeps_all_it_holds(tmp_path: Path) -> None:
    database = sqlite3.connect(tmp_path / "ledger.db")
    database.executescript(FIRST_FORM.read_text("utf-8"))
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    database.close()
    before = _kept(tmp_path / "ledger.db")
    assert all(before.values())  # a row in every table: nothing could be lost unseen
    with open_ledger(tmp_path, create=False) as ledger:
        job = ledger.find_job("J1")
        card = ledger.latest(job, SprayOutEntry)
        assert len(ledger.story(job).lines) == len(before["entry"])
        assert ledger.source_bytes(card.sources[0][1]).startswith(b"name,L,a,b")
        ledger.record(job, StrengthEntry("Lowmere bank", card.number, ("blue",), ("",), (0.05,), ((0.001,),)))
    after = _kept(tmp_path / "ledger.db", list(before))
    for table, rows in before.items():
        assert len(after[table]) == len(rows) + (table == "entry")
        for old, new in zip(rows, after[table], strict=False):
            assert {column: new[column] for column in old} == old
