"""The dossier of a job is had from the bench page, without a terminal."""

from __future__ import annotations

from finishmatch.cli.dossier import dossier_pdf
from tests.bench.conftest import Opened


def test_a_job_that_holds_something_has_its_dossier_on_its_screen(opened: Opened) -> None:
    from_job: list[str] = []

    def drawn(job: str) -> bytes:
        from_job.append(job)
        return b"%PDF-1.7 of it"

    browser = opened(dossier=drawn)
    browser.post("/jobs/new", {"title": "Roof"})
    assert "dossier.pdf" not in browser.text("/job/J1")
    browser.post("/job/J1/note", {"text": "half dried"})
    assert 'href="/job/J1/dossier.pdf"' in browser.text("/job/J1")
    answer = browser.get("/job/J1/dossier.pdf")
    assert (answer.status_code, answer.content, from_job) == (200, b"%PDF-1.7 of it", ["J1"])
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'inline; filename="J1-dossier.pdf"'
    assert browser.get("/job/J2/dossier.pdf").status_code == 404


def test_the_command_that_serves_it_draws_it(opened: Opened) -> None:
    browser = opened(dossier=dossier_pdf)
    browser.post("/jobs/new", {"title": "Roof"})
    nothing = browser.get("/job/J1/dossier.pdf")
    assert nothing.status_code == 422
    assert "holds nothing yet" in nothing.text
    browser.post("/job/J1/note", {"text": "half dried"})
    assert browser.get("/job/J1/dossier.pdf").content.startswith(b"%PDF-")
