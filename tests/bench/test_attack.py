"""What a stranger tries: another site's form, another name, a guessed code, a stolen session, too much, a path."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import stat
from pathlib import Path

import pytest

from finishmatch.bench.bench import Bench, Served
from finishmatch.bench.pairing import TRIES_OF_A_CODE, TRIES_OF_A_DEVICE, Pairing, pairing_link
from finishmatch.bench.sessions import FILE, KEPT_FOR, Devices
from finishmatch.errors import InputError
from finishmatch.steps.job.list import list_jobs
from tests.bench.conftest import HOSTS, Browser, Opened


def _paired(browser: Browser, name: str = "tablet") -> None:
    page = browser.text("/pair")
    assert 'name="code"' in page
    code = browser.bench.pairing.code()
    answer = browser.client.post("/pair", data={"code": code, "name": name}, follow_redirects=False)
    assert answer.status_code == 303


def test_every_answer_carries_the_headers_and_allows_no_inline_script(browser: Browser) -> None:
    for path in ("/jobs", "/nothing", "/static/bench.js", "/jobs/new"):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert "camera=(self)" in headers["permissions-policy"]
        assert headers["cache-control"] == ("no-cache" if path.startswith("/static") else "no-store")
    page = browser.text("/jobs/new")
    assert not re.search(r"<script(?![^>]*src=)|\sstyle=|\son[a-z]+=", page)
    # the one sheet in a page is allowed by its digest: byte for byte, and nothing that somebody else puts there
    (sheet,) = re.findall(r"<style[^>]*>(.*?)</style", page, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode()
    assert f"style-src 'self' 'sha256-{digest}';" in policy


def test_the_page_answers_to_its_own_names_alone(browser: Browser) -> None:
    for host in ("evil.example", "127.0.0.1.evil.example", "", "localhost.evil.example:8420"):
        assert browser.get("/jobs", headers={"host": host}).status_code == 421
    assert browser.get("/jobs", headers={"host": "localhost:8420"}).status_code == 200


def test_a_device_comes_by_any_address_of_this_machine_but_by_no_other_name(opened: Opened) -> None:
    lan, here = opened(lan=True), opened()
    assert lan.client.get("http://192.0.2.7:8420/pair").status_code == 200
    assert lan.client.get("http://evil.example:8420/pair").status_code == 421
    assert lan.get("/pair", headers={"host": "192.0.2.9"}).status_code == 421
    assert here.client.get("http://192.0.2.7:8420/jobs").status_code == 421


def test_another_sites_form_records_nothing(browser: Browser) -> None:
    browser.text("/jobs")
    for headers in (
        {},
        {"x-bench-token": "0" * 64},
        {"origin": "https://evil.example"},
        {"sec-fetch-site": "cross-site"},
    ):
        sent = browser.client.post("/jobs/new", data={"title": "x", "token": "0" * 64}, headers=headers)
        assert sent.status_code == 403
    elsewhere = browser.post("/jobs/new", {"title": "x"}, headers={"sec-fetch-site": "cross-site"})
    assert elsewhere.status_code == 403
    assert not list_jobs().jobs


def test_the_cookie_is_for_this_site_and_out_of_reach_of_scripts(browser: Browser) -> None:
    header = browser.get("/jobs").headers["set-cookie"]
    assert "HttpOnly" in header
    assert "SameSite=Strict" in header


def test_a_device_that_isnt_paired_sees_nothing(opened: Opened) -> None:
    browser = opened(lan=True)
    assert browser.get("/jobs").url.path == "/pair"
    assert browser.client.get("/api/job/J1/entries").status_code == 401
    assert browser.client.post("/jobs/new", data={"title": "x"}).status_code == 401
    assert browser.client.post("/pair", content=b"x" * 5000).status_code == 413
    assert not list_jobs().jobs


def test_a_device_is_paired_once_listed_and_forgotten(opened: Opened, home: Path) -> None:
    browser = opened(lan=True)
    code = browser.bench.pairing.code()
    _paired(browser)
    assert "tablet" in browser.text("/devices")
    assert code not in browser.text("/devices")
    other = opened(bench=browser.bench)
    assert other.client.post("/pair", data={"code": code}).status_code == 422  # it was used up
    stolen = dict(browser.client.cookies)
    thief = opened(bench=browser.bench)
    thief.client.cookies.update(stolen)
    assert thief.get("/jobs").url.path == "/jobs"
    kept = json.loads((home / FILE).read_text())
    assert next(iter(stolen.values())) not in json.dumps(kept)
    assert stat.S_IMODE((home / FILE).stat().st_mode) == 0o600
    Devices(home).forget(1)  # as the command does, in a program of its own
    assert thief.get("/jobs").url.path == "/pair"
    assert browser.get("/jobs").url.path == "/pair"
    with pytest.raises(InputError, match="isn't paired"):
        Devices(home).forget(1)


def test_a_paired_device_forgets_another_from_the_page(opened: Opened) -> None:
    one = opened(lan=True)
    _paired(one, "tablet")
    other = opened(bench=one.bench)
    _paired(other, "phone")
    assert one.post("/devices/2/forget").status_code == 200
    assert other.get("/jobs").url.path == "/pair"
    assert one.get("/jobs").url.path == "/jobs"


def test_a_session_ends_after_its_days(opened: Opened, home: Path) -> None:
    browser = opened(lan=True)
    _paired(browser)
    kept = json.loads((home / FILE).read_text())
    kept["devices"][0]["paired_at"] = f"{2026 - KEPT_FOR.days // 300 - 1}-01-01T00:00:00+00:00"
    (home / FILE).write_text(json.dumps(kept))
    assert browser.get("/jobs").url.path == "/pair"


def test_guessing_the_code_is_shut_out(opened: Opened) -> None:
    browser = opened(lan=True)
    first = browser.bench.pairing.code()
    wrong = "".join("1" if sign == "0" else "0" for sign in first if sign.isdigit())
    answers = [browser.client.post("/pair", data={"code": wrong}) for _ in range(TRIES_OF_A_DEVICE + 3)]
    assert {answer.status_code for answer in answers} == {422}
    assert "wrong too often" in answers[-1].text
    right = browser.client.post("/pair", data={"code": browser.bench.pairing.code()})
    assert "wrong too often" in right.text
    assert not browser.bench.devices.listed()


def test_a_code_lasts_ten_minutes_five_tries_and_one_device() -> None:
    clock = [0.0]
    pairing = Pairing(lambda: clock[0])
    first = pairing.code()
    clock[0] = 601.0
    assert pairing.code() != first
    assert not pairing.try_code(first, "a")
    now = pairing.code()
    for _ in range(TRIES_OF_A_CODE):
        pairing.try_code("0000", "b")
    assert not pairing.try_code(now, "c")
    fresh = pairing.code()
    assert pairing.try_code(fresh.replace(" ", "-"), "c")
    assert not pairing.try_code(fresh, "c")
    assert pairing_link("http://192.0.2.7:8420", "1234 5678") == "http://192.0.2.7:8420/pair#12345678"
    many = Pairing(lambda: clock[0])
    for i in range(30):
        many.try_code("0000", f"device {i}")
    with pytest.raises(InputError, match="too often"):
        many.try_code(many.code(), "one more")
    clock[0] += 3700
    assert many.try_code(many.code(), "one more")


def test_too_much_is_refused_whatever_length_it_says(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    assert browser.post("/job/J1/note", {"text": "x" * 1_100_000}).status_code == 413

    def flowing() -> object:
        for _ in range(30):
            yield b"x" * 100_000

    headers = {"content-type": "application/x-www-form-urlencoded"}
    sent = browser.client.post("/job/J1/note", content=flowing(), headers=headers)  # type: ignore[arg-type]
    assert sent.status_code in (400, 413)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2f..%2fapp.py",
        "/job/..%2fJ1",
        "/job/J1%00",
        "/job/J1'--",
    ],
)
def test_no_path_leads_outside(browser: Browser, path: str) -> None:
    assert browser.get(path).status_code in (404, 422)


def test_a_file_of_devices_that_was_garbled_lets_nobody_in(home: Path) -> None:
    bench = Bench(Served(home, HOSTS, True))
    secret = bench.devices.paired("tablet")
    (home / FILE).write_text("{")
    assert Devices(home).session(secret) is None
    assert Devices(home).session("x" * 500) is None
