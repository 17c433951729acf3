"""What a document tells of the target: a tolerance is named where somebody set one, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.job_document import job_document
from finishmatch.ledger import TargetEntry, open_ledger
from finishmatch.steps.handover.kept_job import kept_in
from tests.helpers.ledger_samples import TARGET

UNSAID = replace(TARGET, tolerance=TargetEntry.tolerance, weights=[], u95=None)


@pytest.mark.parametrize(
    ("target", "told"),
    [
        (UNSAID, False),
        (replace(UNSAID, tolerance=0.4), True),
        (replace(UNSAID, weights=[("door shut", 1.0)]), True),
    ],
)
def test_a_tolerance_nobody_set_is_not_told(tmp_path: Path, target: TargetEntry, told: bool) -> None:
    with open_ledger(tmp_path) as ledger:
        ledger.record_all(ledger.new_job("Tarnbeck Six"), [target])
    with open_ledger(tmp_path, create=False) as ledger:
        text = document_html(job_document(kept_in(ledger, ledger.find_job("J1"))))
    assert ("A match counts within" in text) is told
    assert "The target is L*" in text
