"""The steps that make the ledger agree with what the program reads, and cost nothing when there is nothing to do."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from finishmatch.ledger import open_ledger
from finishmatch.ledger.opening import REVISION, connect
from finishmatch.ledger.rows import Base

STEPS = Path(__file__).parents[1] / "src/finishmatch/ledger/migrations"


def test_the_steps_make_exactly_the_tables_the_program_reads(tmp_path: Path) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with open_ledger(tmp_path) as ledger:
        engine = connect(ledger.path)
        with engine.connect() as connection:
            assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
        engine.dispose()


def test_the_form_the_program_names_is_the_newest_step() -> None:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

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
