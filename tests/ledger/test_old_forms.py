"""A ledger of an older form is brought up to date, and what stood in it still does."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine

from finishmatch.ledger import DecisionEntry, DefectEntry, ReadingEntry, open_ledger
from finishmatch.ledger.opening import APPLICATION_ID
from tests.conftest import ROOT

STEPS = ROOT / "finishmatch/ledger/migrations"

# a crater logged and decided by the first form of the ledger (invented)
ROWS = """
INSERT INTO job VALUES (1, 'Tarnbeck Six, roof', '', '', '', '2024-05-02T09:00:00Z');
INSERT INTO entry VALUES (1, 1, 'defect', '2024-05-02T09:01:00Z', NULL, '');
INSERT INTO defect VALUES (1, 'cratering', 'roof', '', 4, 1.5, 35.0, NULL, '2024-05-02');
INSERT INTO exposure VALUES (1, 0, 'air line', '2', '2');
INSERT INTO entry VALUES (2, 1, 'decision', '2024-05-02T09:02:00Z', NULL, '');
INSERT INTO decision VALUES (2, 1, '[]', 'rub out and polish', 'shallow', 'came right');
INSERT INTO entry VALUES (3, 1, 'reading', '2024-05-02T09:03:00Z', NULL, '');
INSERT INTO reading VALUES (3, 'photograph', 'tin', '', 2, 0.3, 38.8, -6.1, -18.7, 'D65', 10, NULL);
"""


def test_defects_and_decisions_of_the_first_form_are_read_and_can_be_replaced(tmp_path: Path) -> None:
    engine = create_engine(f"sqlite:///{tmp_path / 'ledger.db'}")
    config = Config()
    config.set_main_option("script_location", str(STEPS))
    config.set_main_option("path_separator", "os")
    with engine.connect() as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    engine.dispose()
    raw = sqlite3.connect(tmp_path / "ledger.db")
    raw.executescript(ROWS)
    raw.close()

    with open_ledger(tmp_path, create=False) as ledger:
        (job,) = ledger.jobs()
        defect, decision, reading = (view.entry for view in ledger.entries(job))
        assert defect == DefectEntry(
            "cratering", "roof", "", 4, 1.5, 35.0, None, "2024-05-02", exposures=(("air line", "2"),)
        )
        assert decision == DecisionEntry(1, (), "rub out and polish", "shallow", "came right")
        assert isinstance(reading, ReadingEntry)
        assert reading.u95_own is None
        assert reading == ReadingEntry(
            "photograph", "tin", (38.8, -6.1, -18.7), "D65", 10, repeats=2, spread_de00=0.3, u95=None
        )
        newer = DefectEntry("cratering", "roof", seen_on="2024-05-02", seen=("rim",), checks=(("lamp", "hollow"),))
        ledger.record(job, newer, supersedes=1, reason="looked again")
        latest = ledger.latest(job, DefectEntry)
        assert latest is not None
        assert latest.entry == newer
