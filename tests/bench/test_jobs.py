"""Jobs and their record on the bench page: opened, shown with what comes next, noted in, struck."""

from __future__ import annotations

from finishmatch.ledger import NoteEntry, open_ledger
from finishmatch.steps.job.current_job import current_job
from finishmatch.steps.job.show import show_job
from tests.bench.conftest import Browser


def test_the_first_job_is_opened_and_says_what_comes_next(browser: Browser) -> None:
    assert "There is no job yet" in browser.text("/jobs")
    answer = browser.post("/jobs/new", {"title": "Roof & sills", "vehicle": "Tarnbeck Six", "colour": "Saltmarsh Blue"})
    assert answer.status_code == 200
    assert "Opened J1: Roof &amp; sills" in answer.text
    assert "nothing is recorded yet: it has no target" in answer.text
    assert 'href="/job/J1/evidence"' in answer.text
    used = current_job().job
    assert used is not None
    assert used.ref == "J1"
    assert "Enter the evidence" in browser.text("/jobs")
    assert browser.get("/").url.path == "/job/J1"


def test_a_title_that_is_there_already_is_questioned_and_what_was_typed_stays(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    answer = browser.post("/jobs/new", {"title": "Roof", "vehicle": "the other car"})
    assert answer.status_code == 422
    assert "J1 has this title already" in answer.text
    assert 'value="the other car"' in answer.text
    assert 'href="/job/J1">Go on with J1 Roof</a>' in answer.text
    assert "open it with «It is another job»" in answer.text
    assert '<label for="another">It is another job</label>' in answer.text
    assert answer.text.index('id="another"') < answer.text.index('id="vehicle"')
    assert 'id="another"' not in browser.post("/jobs/new", {"title": ""}).text
    assert browser.post("/jobs/new", {"title": "Roof", "another": "yes"}).url.path == "/job/J2"


def test_a_note_is_recorded_struck_and_restored(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    assert "Recorded as #1" in browser.post("/job/J1/note", {"text": "half dried\n\nunder the bench"}).text
    assert "half dried" in browser.text("/job/J1")
    refused = browser.post("/job/J1/entry/1/strike", {"why": ""})
    assert refused.status_code == 422
    struck = browser.post("/job/J1/entry/1/strike", {"why": "another car's"})
    assert "#1 is struck and counts no more" in struck.text
    assert not show_job("J1").story.current
    assert "struck by #2: another car&#39;s" in browser.text("/job/J1/record")


def test_what_isnt_there_is_said_in_a_line(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    for path in ("/job/J2", "/job/J0", "/job/j1", "/job/J1/entry/7", "/nothing", "/job/J1/record?page=0"):
        answer = browser.get(path)
        assert answer.status_code in (404, 422), path
        assert "Traceback" not in answer.text
        assert "Back to the jobs" in answer.text


def test_a_record_of_many_pages_is_paged(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    with open_ledger() as ledger:
        ledger.record_all(ledger.find_job("J1"), [NoteEntry(f"note {i}") for i in range(65)])
    first, second = browser.text("/job/J1/record"), browser.text("/job/J1/record?page=2")
    assert "note 64" in first
    assert "note 4<" not in first
    assert "note 0" in second
    assert "60 older in the record" in browser.text("/job/J1")


def test_the_entries_after_one_are_given_to_a_script(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    browser.post("/job/J1/note", {"text": "one"})
    browser.post("/job/J1/note", {"text": "two"})
    found = browser.client.get("/api/job/J1/entries?after=1").json()
    assert found == {"last": 2, "entries": [{"number": 2, "kind": "note", "text": "two"}]}
