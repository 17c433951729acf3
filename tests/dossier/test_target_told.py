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
from finishmatch.ledger import Entry, ReadingEntry, TargetEntry, VerdictEntry, open_ledger
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


@pytest.mark.parametrize("saw", [(), ({"lab": [45, -4, -18], "share": 1, "looks": []},)])
def test_that_recipes_may_lie_beside_what_a_photograph_told_is_said(tmp_path: Path, saw: tuple[dict, ...]) -> None:
    target = replace(TARGET, camera_saw=saw)
    with open_ledger(tmp_path) as ledger:
        ledger.record(ledger.new_job("Tarnbeck Six"), target)
    with open_ledger(tmp_path, create=False) as ledger:
        text = document_html(job_document(kept_in(ledger, ledger.find_job("J1"))))
    assert ("recipes go by what the camera saw of it besides" in text) is bool(saw)


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


def test_a_difference_that_was_seen_stands_with_its_doubt(tmp_path: Path) -> None:
    def in_light(light: str, u95: float, alike: float) -> dict[str, object]:
        known = {"u95": u95, "alike_u95": alike, "pictures": 1}
        return {"light": light, "observer": 10, "difference": [0.2, 0.1, -0.3], **known}

    seen = [in_light("D65", 0.5968, 0.2), in_light("A", 0.466, 0.2), in_light("LED-B3", 0.7, 0.25)]
    card, read = replace(spray_out(None), reflectance=None, seen=seen), replace(spray_out(None), name="card 2")
    lights = {"D65": 0.38, "A": 0.28, "LED-B3": 0.39}
    verdict = VerdictEntry("x", "card 1", 0.38, 0.5, lights, None, (), 0.5, "within", 2, 0.5968)

    def text(*entries: Entry) -> str:
        with open_ledger(tmp_path) as ledger:
            ledger.record_all(ledger.new_job("Tarnbeck Six"), [TARGET, *entries])
            kept = kept_in(ledger, ledger.jobs()[-1])
        content, _ = document_pdf(job_document(kept))
        paper = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(content)).pages)
        page = document_html(job_document(kept)).replace("\N{NO-BREAK SPACE}", " ")
        told = "sprayed and seen beside it in photographs lies ΔE00 0.39 ±0.7 from it in the worst of 3 lights, inside "
        assert (told in page) is (told in paper) is (verdict in entries)
        return page

    page = text(card, verdict)
    for cell in ("0.38 ±0.6", "0.28 ±0.47", "0.39 ±0.7"):
        assert f">{cell}<" in page
    assert "With ± behind a difference" in page
    by_instrument = text(read, replace(verdict, u95=None, trial="card 2", spray_out=5))
    assert "sprayed and read lies ΔE00 0.39 from it" in by_instrument
    assert "±" not in by_instrument.split("ΔE00 to the target")[-1].split("</table>")[0]
