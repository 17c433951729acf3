"""What a painter can type, and what nobody should: shown as text, refused in a line, never a fault of the server."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import quote

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.core import NotSet

from finishmatch.ledger import FilmLayerEntry, NoteEntry, ReadingEntry, RecipeEntry, TargetEntry, open_ledger
from finishmatch.steps.defect.log import LogRequest, log
from finishmatch.steps.job.film import film
from finishmatch.steps.job.list import list_jobs
from finishmatch.steps.job.show import show_job
from tests.bench.conftest import Browser
from tests.conftest import ROOT
from tests.helpers.photo_frames import standard_and_card

EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{ 7*7 }}${7*7}</textarea>"
SHEET = ROOT / "swatches/panels.jpg"
SCREENS = (
    "",
    "/record",
    "/evidence",
    "/recipe",
    "/weigh",
    "/card",
    "/film",
    "/film-map",
    "/photo",
    "/swatches",
    "/defect",
    "/note",
    "/entry/1",
)
FIELDS = {
    "/jobs/new": ("title", "vehicle", "colour", "note"),
    "/job/J1/note": ("text",),
    "/job/J1/evidence": ("name", "kind", "vehicle", "L", "a", "b", "use"),
    "/job/J1/recipe": ("L", "a", "b", "bank", "grams", "tolerance", "max_tints", "scale_step"),
    "/job/J1/weigh": ("plan", "tin", "tint", "as_planned", "grams", "total", "anyway"),
    "/job/J1/weigh/undo": ("tin", "plan", "why"),
    "/job/J1/card": ("L", "a", "b", "reading", "surface", "ground", "coats", "build_um", "tolerance", "do", "seen"),
    "/job/J1/film": ("panel", "layer", "builds", "position"),
    "/job/J1/film-map/panel": ("panel", "outline", "width", "height"),
    "/job/J1/film-map/build": ("panel", "layer", "build_um", "x", "y", "seen"),
    "/job/J1/film-map/defect": ("panel", "kind", "count", "depth_um", "x", "y"),
    "/job/J1/defect": ("kind", "panel", "place", "count", "size_mm", "depth_um", "reached", "exposures", "signs"),
    "/job/J1/entry/1/strike": ("why",),
    "/job/J1/evidence/weighed": ("kept", "use", "pick", "without", "why", "name", "do"),
    "/banks/new": ("bank_name", "geometry"),
    "/devices/1/forget": (),
    "/pair": ("code", "name"),
}


def harmless(text: str) -> None:
    """See that a page holds nothing of what was typed but as text."""
    text = re.sub(r'<img src="/(job/J1|bank/B[0-9a-f]{10})/photo/', "", text)  # what is shown of a photograph
    assert not re.search(r"<script(?![^>]*\ssrc=\"/static/)", text)
    assert not re.search(r"<img|\sonerror=[^&]*>|javascript:", text.replace("onerror=alert(2)&gt;", ""))
    assert "49" not in re.findall(r"\{\{ 7\*7 \}\}|\$\{7\*7\}|>49<", text)


@pytest.mark.parametrize("path", FIELDS)
def test_every_field_shows_what_was_typed_as_text(path: str, browser: Browser) -> None:
    browser.post("/jobs/new", {"title": EVIL, "vehicle": EVIL, "colour": EVIL, "note": EVIL})
    answer = browser.post(path, dict.fromkeys(FIELDS[path], EVIL))
    assert answer.status_code < 500
    harmless(answer.text)
    harmless(browser.text("/jobs"))


def test_what_stands_in_the_record_is_shown_as_text_on_every_screen(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": EVIL})
    name = EVIL[:60]
    with open_ledger() as ledger:
        lab = (45.0, -4.0, -17.0)
        recipe = RecipeEntry(name, "", 100.0, ((name, 60.0), ("b", 40.0)), {"D65": 0.1}, None, None, None, 1, lab)
        film = FilmLayerEntry(name, 1, name, (60.0,), (name,))
        target = TargetEntry(name, lab, "D65", 10)
        entries = [NoteEntry(EVIL), ReadingEntry(name, name, lab, "D65", 10), target, recipe, film]
        ledger.record_all(ledger.find_job("J1"), entries)
    for screen in SCREENS:
        text = browser.text(f"/job/J1{screen}")
        harmless(text)
    assert "&lt;script&gt;" in text
    stream = browser.client.get("/api/job/J1/entries")
    assert stream.headers["content-type"].startswith("application/json")


def test_what_is_typed_of_a_photograph_is_shown_as_text(browser: Browser, tmp_path: Path) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    name = f"{EVIL[:60].replace('/', '')}.jpg"
    sent = {"photograph": (name, standard_and_card(tmp_path / "x.jpg").read_bytes())}
    to = browser.post("/job/J1/photo", files=sent).url.path
    harmless(browser.text("/job/J1/photo"))
    marked = {"name_0": EVIL[:40], "x_0": "110", "y_0": "50", "w_0": "90", "h_0": "60"}
    harmless(browser.post(to, marked).text)
    for fields in (dict.fromkeys((*marked, "light"), EVIL), {**marked, "x_0": "1e9"}, {"find": EVIL, "light": EVIL}):
        answer = browser.post(to, fields)
        assert answer.status_code < 500
        harmless(answer.text)
    parts = (
        "standard",
        "trial",
        "also",
        f"lit_{to.rpartition('/')[2]}",
        "ground",
        "coats",
        "build_um",
        "surface",
        "anyway",
        "seen",
    )
    for path in ("card", "judge", "evidence", "drop"):
        answer = browser.post(f"{to}/{path}", dict.fromkeys(parts, EVIL))
        assert answer.status_code < 500, path
        harmless(answer.text)


def test_what_is_typed_of_a_bank_is_shown_as_text(browser: Browser) -> None:
    name = EVIL[:60].replace("/", "|")
    here = "/".join(browser.post("/banks/new", {"bank_name": name}).url.path.split("/")[:3])
    browser.post(f"{here}/tin", {"tint": name, "role": "white", "stock_g": "100", "colour_index": name, "lot": name})
    browser.post(f"{here}/tin", {"tint": "b", "stock_g": "100", "hazard": "lead"})
    browser.post(f"{here}/panel", {"tint_0": name, "grams_0": "90", "tint_1": "b", "grams_1": "9", "panel_name": name})
    at = browser.post(f"{here}/photo", files={"photograph": (f"{name}.jpg", SHEET.read_bytes())}).url.path
    for path in (
        "/banks",
        here,
        f"{here}/tin?name={quote(name)}",
        f"{here}/plan",
        f"{here}/panel",
        f"{here}/photo",
        at,
    ):
        harmless(browser.text(path))
    harmless(browser.text(f"{here}/weighed?name={quote(name)}"))
    sent = {
        f"{here}/tin": ("was", "tint", "role", "colour_index", "density_kg_l", "solids_percent", "stock_g", "hazard"),
        f"{here}/tin/out": ("was",),
        f"{here}/panel": ("planned", "panels", "grams", "tint_0", "grams_0", "panel_name", "anyway"),
        f"{here}/weighed/out": ("panel_name",),
        at: ("name_0", "x_0", "y_0", "w_0", "h_0"),
        f"{at}/read": ("panel_0", f"under_{at.rpartition('/')[2]}"),
        f"{at}/chart": ("made",),
    }
    for path, fields in sent.items():
        answer = browser.post(path, dict.fromkeys(fields, EVIL))
        assert answer.status_code < 500, path
        harmless(answer.text)
    assert browser.post(f"{at}/read", {"panel_0": name}).status_code == 200
    harmless(browser.text(here))
    harmless(browser.get(f"{here}/told").text)


def test_what_is_typed_of_a_decision_and_its_outcome_is_shown_as_text(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    film("J1", "roof", "primer", [60.0])
    film("J1", "roof", "colour", [100.0])
    log(LogRequest("cratering", "roof", count=2, reached="primer"), job="J1")
    page = browser.text("/job/J1/defect/3")
    fields = {"choose": re.findall(r'name="choose" value="([^"]*)" checked', page)[0]}
    for why in ({**fields, "why": EVIL}, dict.fromkeys((*fields, "why", "seen"), EVIL)):
        harmless(browser.post("/job/J1/defect/3", why).text)
    decided = next(view.number for view in show_job("J1").entries if view.kind == "decision")
    for words in (dict.fromkeys(("text", "result", "seen"), EVIL), {"text": EVIL, "result": "right"}):
        answer = browser.post(f"/job/J1/decision/{decided}", words)
        assert answer.status_code < 500
        harmless(answer.text)
    harmless(browser.text("/job/J1"))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("x.csv.exe", b"MZ"),
        ("x.svg", b"<svg onload=alert(1)>"),
        ("x.csv", b"\x89PNG\r\n\x1a\n<script>alert(1)</script>"),
        ("x.csv", b"GIF89a/*\nname,L,a,b\n<script>alert(1)</script>,1,2,3\n*/"),
        ("x.xlsx", b"PK\x03\x04" + b"\x00" * 200),
        ("..\\..\\x.csv", b""),
        ("x.csv\x00.png", b"name"),
        ("x" * 500 + ".csv", b"name,L,a,b\nx,1e999,2,3\n"),
    ],
)
def test_a_file_that_is_two_things_is_refused_and_never_served(name: str, content: bytes, browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    answer = browser.post("/job/J1/evidence", {}, files={"file": (name, content, "text/html")})
    assert answer.status_code == 422
    harmless(answer.text)
    kept = [path for path in browser.bench.uploads.rglob("*") if path.is_file()]
    for path in kept:
        assert re.fullmatch(r"[A-Za-z0-9_-]{1,60}\.(csv|tsv|txt|xlsx)", path.name)
        assert not path.stat().st_mode & 0o111
        for guess in (f"/static/{path.name}", f"/{path.parent.name}/{path.name}", f"/uploads/{path.parent.name}"):
            assert browser.get(guess).status_code == 404


def test_too_many_fields_or_files_are_refused(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    assert browser.post("/job/J1/note", {f"f{i}": "x" for i in range(500)}).status_code in (200, 400, 422)
    files = [("file", (f"{i}.csv", b"x", "text/csv")) for i in range(40)]
    assert browser.post("/job/J1/evidence", {}, files=files).status_code in (400, 422)
    token = browser.token
    body = "&".join([f"token={token}", *(f"f{i}=x" for i in range(2000))])
    headers = {"content-type": "application/x-www-form-urlencoded"}
    assert browser.client.post("/job/J1/note", content=body.encode(), headers=headers).status_code == 400


def test_a_form_that_is_no_form_is_refused(browser: Browser) -> None:
    browser.text("/jobs")
    headers = {"x-bench-token": browser.token}
    for kind in (
        "multipart/form-data",
        "multipart/form-data; boundary=x",
        "application/x-www-form-urlencoded",
        "text/xml",
    ):
        sent = browser.client.post("/jobs/new", content=b"\xff\x00%%%", headers={**headers, "content-type": kind})
        assert sent.status_code in (400, 403, 422), kind
    assert not list_jobs().jobs


@pytest.mark.slow
def test_the_routes_of_scripts_never_fail_whatever_they_are_sent(browser: Browser, home: Path) -> None:
    """Every JSON route, by its own description, with what fits it and what doesn't."""
    browser.post("/jobs/new", {"title": "Roof"})
    described = browser.client.app.openapi()  # type: ignore[attr-defined]
    headers = {"x-bench-token": browser.token}
    tried: dict[str, int] = {}
    quick = settings(
        max_examples=8,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
        database=None,
    )

    def send(case: schemathesis.Case) -> None:
        body = {} if isinstance(case.body, NotSet) else {"json": case.body}
        sent = browser.client.request(case.method, case.formatted_path, params=case.query, headers=headers, **body)
        assert sent.status_code < 500, (case.method, case.formatted_path, case.query, case.body)
        tried[case.path] = tried.get(case.path, 0) + 1

    for result in schemathesis.openapi.from_dict(described).get_all_operations():
        quick(given(result.ok().as_strategy())(send))()
    assert set(tried) >= {"/api/job/{ref}/entries", "/api/job/{ref}/weigh", "/api/scale"}


@given(st.text(max_size=60))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_address_makes_the_server_fail(browser: Browser, rest: str) -> None:
    for start in ("/job/", "/job/J1/", "/static/", "/api/job/"):
        answer = browser.get(start + quote(rest, safe="/?&=%", errors="replace"))
        assert answer.status_code < 500
