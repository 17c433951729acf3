"""What a document tells of the target: a tolerance is named where somebody set one, and nowhere else."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.document_pdf import document_pdf
from finishmatch.dossier.job_document import job_document
from finishmatch.dossier.spec_document import spec_document
from finishmatch.ledger import ReadingEntry, TargetEntry, open_ledger
from finishmatch.steps.handover.kept_job import kept_in
from tests.helpers.ledger_samples import TARGET


@pytest.mark.parametrize(("tolerance", "said"), [(0.8, True), (TargetEntry.tolerance, False)])
def test_a_tolerance_nobody_said_is_not_told_as_if_it_was(tmp_path: Path, tolerance: float, said: bool) -> None:
    near = replace(TARGET, tolerance=tolerance, weights=(), evidence=("leftover tin",), covariance=None)
    with open_ledger(tmp_path) as ledger:
        ledger.record_all(
            ledger.new_job("Tarnbeck Six"), [ReadingEntry("x", "leftover tin", near.lab, "D65", 10), near]
        )
    with open_ledger(tmp_path, create=False) as ledger:
        kept = kept_in(ledger, ledger.find_job("J1"))
    content, _ = document_pdf(job_document(kept))
    paper = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(content)).pages)
    for text in (document_html(job_document(kept)), paper):
        assert ("A match counts within" in text) is said
        assert ("Dotted: the tolerance" in text) is said
        assert ("How near a match must come was not said" in text) is not said
    assert ("none was said for this colour" in document_html(spec_document(kept))) is not said
