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
from finishmatch.ledger import ReadingEntry, TargetEntry, VerdictEntry, open_ledger
from finishmatch.steps.handover.kept_job import kept_in
from tests.helpers.ledger_samples import TARGET, spray_out


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


def test_a_sample_that_was_photographed_and_then_weighed_stands_there_once(tmp_path: Path) -> None:
    read = ReadingEntry("photograph", "tin", (45.0004, -4.1, -17.8), "D65", 10, "45/0", u95=2.3)
    weighed = replace(read, role="evidence: leftover tin", lab=(45.0, -4.1, -17.8), u95=None)
    other = replace(read, name="door", lab=(47.0, -4.1, -17.8))
    target = replace(TARGET, weights=(("tin", 1.0),), evidence=("tin", "door"))
    with open_ledger(tmp_path) as ledger:
        ledger.record_all(ledger.new_job("Tarnbeck Six"), [read, other, weighed, target])
    with open_ledger(tmp_path, create=False) as ledger:
        text = document_html(job_document(kept_in(ledger, ledger.find_job("J1"))))
    assert text.count(">45.00<") == 1
    assert "leftover tin" in text
    assert text.count(">47.00<") == 1


@pytest.mark.parametrize(
    ("tolerance", "said"), [(1.8, "what could be told of it, ±1.8"), (2.5, "the tolerance of 2.5")]
)
def test_what_a_photograph_can_tell_is_no_tolerance(tmp_path: Path, tolerance: float, said: str) -> None:
    seen = [{"light": "D65", "observer": 10, "difference": [0.5, 0.2, -1.1], "u95": 1.8, "pictures": 1}]
    card = replace(spray_out(None), reflectance=None, seen=seen)
    verdict = VerdictEntry("x", "card 1", 1.2, 1.9, {"D65": 1.2}, None, ("bluer",), tolerance, "within", 2)
    with open_ledger(tmp_path) as ledger:
        ledger.record_all(ledger.new_job("Tarnbeck Six"), [TARGET, card, verdict])
    with open_ledger(tmp_path, create=False) as ledger:
        text = document_html(job_document(kept_in(ledger, ledger.find_job("J1"))))
    assert f"inside {said}." in text
