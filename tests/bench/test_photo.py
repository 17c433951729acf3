"""A photograph on the bench page: sent in parts, read, marked anew, recorded; and what isn't taken."""

from __future__ import annotations

import io
import json
import re
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from booth.dng_writer import Sensor, counted, dng, mosaic
from finishmatch.bench.photographs import (
    KEPT_FOR_S,
    LARGEST,
    LARGEST_PART,
    MOST_IN_ALL,
    MOST_OF_A_DEVICE,
    Photographs,
)
from finishmatch.errors import InputError
from finishmatch.photo.find.regions import quad_of
from finishmatch.photo.overlay import upright_within
from finishmatch.steps.job.show import show_job
from finishmatch.steps.photo.photo_shown import photo_shown
from finishmatch.steps.photo.read_photo import PhotoRequest, read_photo
from tests.bench.conftest import Browser, Opened
from tests.conftest import ROOT

PHOTO = ROOT / "swatches" / "photo.jpg"


def _picture(suffix: str = "JPEG") -> bytes:
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "a camera that gives itself away"
    Image.new("RGB", (120, 90), (90, 120, 140)).save(out, suffix, exif=exif)
    return out.getvalue()


def _announced(browser: Browser, name: str, size: int) -> Any:
    headers = {"x-bench-token": browser.token}
    return browser.client.post("/api/job/J1/photo", json={"name": name, "size": size}, headers=headers)


def sent(browser: Browser, name: str, data: bytes, part: int = 60_000) -> str:
    headers = {"x-bench-token": browser.token, "content-type": "application/octet-stream"}
    said = _announced(browser, name, len(data)).json()
    path = f"/api/job/J1/photo/{said['key']}"
    for at in range(0, len(data), part):
        answer = browser.client.put(f"{path}?offset={at}", content=data[at : at + part], headers=headers)
        assert answer.status_code == 200, answer.text
    done = browser.client.post(f"{path}/finish", headers=headers)
    assert done.status_code == 200, done.text
    to = done.json()["to"]
    assert isinstance(to, str)
    return to


@pytest.fixture
def job(browser: Browser) -> Browser:
    """A browser on a job."""
    browser.post("/jobs/new", {"title": "Roof"})
    return browser


def test_a_photograph_is_sent_in_parts_read_and_recorded_as_the_command_reads_it(job: Browser) -> None:
    to = sent(job, "Saltmarsh 1.jpg", PHOTO.read_bytes())
    page = job.text(to)
    same = read_photo(PHOTO)
    for region in same.regions:
        numbers = "".join(f'<td class="n">{value:.1f}</td>' for value in (*region.lab, region.u95))
        assert numbers in page.replace("\n", "")
    one = same.differences[0]
    assert f"ΔE00 {one.de00:.2f} ± {one.u95:.2f}" in page
    assert page.count("<polygon") == 2 * (1 + len(same.regions))  # the chart and the samples, each twice: rim and line
    recorded = job.post(f"{to}/evidence")
    assert recorded.url.path == "/job/J1"
    entries = [view.entry for view in show_job("J1").entries]
    assert [getattr(entry, "u95", None) for entry in entries] == pytest.approx([region.u95 for region in same.regions])
    assert show_job("J1").story.current[0].files == ("Saltmarsh-1.jpg",)
    marked = {"name_0": "tin", "x_0": "117", "y_0": "75", "w_0": "90", "h_0": "60", "light": "A"}
    page = job.post(to, marked).text
    tin = read_photo(PHOTO, PhotoRequest(region=("tin=117,75,90,60",), light="A")).regions[0]
    assert "".join(f'<td class="n">{value:.1f}</td>' for value in (*tin.lab, tin.u95)) in page.replace("\n", "")
    card = job.post(f"{to}/card", {"trial": "tin", "ground": "grey <b>primer</b>", "coats": "2"})
    assert "Recorded as #5" in card.text
    assert "<b>" not in card.text
    wrong = job.post(f"{to}/card", {"trial": "roof"})
    assert wrong.status_code == 422
    assert "These were: tin" in wrong.text


def test_it_goes_on_where_it_stopped_and_a_part_sent_twice_changes_nothing(job: Browser) -> None:
    data = _picture()
    headers = {"x-bench-token": job.token, "content-type": "application/octet-stream"}
    path = f"/api/job/J1/photo/{_announced(job, 'a.jpg', len(data)).json()['key']}"
    assert job.client.put(f"{path}?offset=0", content=data[:100], headers=headers).json()["came"] == 100
    assert job.client.put(f"{path}?offset=0", content=data[:100], headers=headers).json()["came"] == 100
    assert job.client.put(f"{path}?offset=300", content=data[300:400], headers=headers).json()["came"] == 100
    early = job.client.post(f"{path}/finish", headers=headers)
    assert early.status_code == 422
    assert "bytes have come" in early.json()["error"]
    assert job.client.get(path).json()["came"] == 100
    job.client.put(f"{path}?offset=100", content=data[100:], headers=headers)
    assert job.client.post(f"{path}/finish", headers=headers).status_code == 200
    assert job.client.put(f"{path}?offset=0", content=b"x", headers=headers).json()["came"] == len(data)


def test_without_a_script_a_form_sends_it_in_one_piece_and_what_cant_serve_says_what_to_change(job: Browser) -> None:
    files = {"photograph": ("no chart.jpg", _picture(), "image/svg+xml")}
    answer = job.post("/job/J1/photo", files=files)
    assert answer.status_code == 200
    assert "This photograph can't serve" in answer.text
    why = read_photo(_kept(job)).why
    assert "no 24-patch chart was found" in why
    assert why[1:] in answer.text
    assert "Record it" not in answer.text
    assert not show_job("J1").entries
    served = job.text(sent(job, "both.jpg", PHOTO.read_bytes()))
    assert "shows the same two" not in served  # it is no second photograph of them
    unread = sent(job, "other.jpg", PHOTO.read_bytes())
    job.text(unread)
    assert re.search(r'<label for="lit_[^"]*">both.jpg<', job.text(unread))
    assert "shows the same two, in the same light" in job.text(unread)
    assert job.post("/job/J1/photo").status_code == 422


def _kept(browser: Browser) -> Path:
    (one,) = browser.bench.photographs._kept.values()
    return one.path


def test_what_is_shown_is_a_picture_of_our_own(job: Browser) -> None:
    polyglot = _picture("PNG") + b"<script>alert(1)</script>"
    to = sent(job, "x.jpg", polyglot)  # a PNG that says it is a JPEG and is a page too
    answer = job.get(f"{to}/picture")
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.content[:3] == b"\xff\xd8\xff"
    assert b"<script" not in answer.content
    exif = sent(job, "y.jpg", _picture())
    assert b"gives itself away" not in job.get(f"{exif}/picture").content


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("x.svg", b"<svg onload='alert(1)'/>", "is not a kind of photograph"),
        ("x.html", b"<p>", "is not a kind of photograph"),
        ("../../x", b"x", "is not a kind of photograph"),
        ("x.jpg", b"<html><script>alert(1)</script></html>", "is not a photograph that can be read"),
        ("x.png", _picture("PNG")[:60], "is damaged or cut short"),
        ("x.jpg", b"", "is empty"),
    ],
)
def test_what_is_no_photograph_isnt_kept(job: Browser, name: str, data: bytes, said: str) -> None:
    answer = job.post("/job/J1/photo", files={"photograph": (name, data, "image/jpeg")})
    assert answer.status_code == 422
    assert said in answer.text
    assert "finishmatch-photographs" not in answer.text
    assert not job.bench.photographs.all_of("", "J1")
    assert not job.bench.photographs._kept


def test_too_much_is_refused(job: Browser) -> None:
    assert _announced(job, "x.jpg", LARGEST + 1).status_code == 422
    assert _announced(job, "x.jpg", 0).status_code == 422
    assert _announced(job, "x" * 400 + ".jpg", 5).status_code == 422
    key = _announced(job, "x.jpg", 1000).json()["key"]
    headers = {"x-bench-token": job.token, "content-type": "application/octet-stream"}
    more = job.client.put(f"/api/job/J1/photo/{key}?offset=0", content=b"x" * 1001, headers=headers)
    assert more.status_code == 422
    large = job.client.put(f"/api/job/J1/photo/{key}?offset=0", content=b"x" * (LARGEST_PART + 1), headers=headers)
    assert large.status_code == 413
    assert job.client.put(f"/api/job/J1/photo/{key}?offset=0", content=b"x").status_code == 403  # without its token


def test_a_photograph_is_its_devices_alone(opened: Opened) -> None:
    one = opened()
    one.post("/jobs/new", {"title": "Roof"})
    one.post("/jobs/new", {"title": "Door"})
    to = sent(one, "x.jpg", _picture())
    other = opened(bench=one.bench)
    for path in (to, f"{to}/picture", to.replace("/job/", "/api/job/"), to.replace("/J1/", "/J2/")):
        asked = one if "/J2/" in path else other  # the photograph's own name may hold a J2
        assert asked.get(path).status_code == 404
    assert other.post(f"{to}/evidence").status_code == 404
    assert other.post(f"{to}/drop").status_code == 404
    assert one.get("/job/J1/photo/" + "A" * 32).status_code == 404
    assert one.get("/job/J1/photo/..%2f..%2fx").status_code == 404
    assert re.search(r"/photo/[\w-]{32}$", to)
    assert one.post(f"{to}/drop").url.path == "/job/J1/photo"
    assert one.get(to).status_code == 404


def test_what_is_left_lying_is_cleared_away() -> None:
    clock = [0.0]
    kept = Photographs(lambda: clock[0])
    for i in range(MOST_OF_A_DEVICE + 3):
        clock[0] += 1
        kept.begin("mine", "J1", f"{i}.jpg", 10)
    paths = [one.path for one in kept._kept.values()]
    assert len(paths) == MOST_OF_A_DEVICE
    assert all(path.is_file() for path in paths)
    for i in range(MOST_IN_ALL):
        kept.begin(f"device {i}", "J1", "x.jpg", 10)
    assert len(kept._kept) == MOST_IN_ALL
    clock[0] += KEPT_FOR_S + 1
    last = kept.begin("mine", "J1", "new.jpg", 10)
    assert list(kept._kept) == [last.key]
    assert not any(path.exists() for path in paths)
    kept.close()
    assert not last.path.parent.parent.exists()
    with pytest.raises(InputError):
        kept.begin("mine", "J1", "x.exe", 10)


def test_a_photograph_shown_is_small_upright_and_says_its_size(tmp_path: Path) -> None:
    path = tmp_path / "x.jpg"
    exif = Image.Exif()
    exif[0x0112] = 6  # held on its side
    Image.new("RGB", (2400, 1600), (10, 200, 90)).save(path, exif=exif)
    shown = photo_shown(path)
    assert shown.size == (1600, 2400)
    with Image.open(io.BytesIO(shown.jpeg)) as picture:
        assert picture.size == (1067, 1600)
        assert not picture.getexif()


def test_outlines_lie_in_the_picture_and_an_upright_oblong_lies_within_them() -> None:
    found = json.loads(json.dumps(read_photo(PHOTO).as_dict()["photographs"][0]["outlines"]))
    wide, high = found["size"]
    with Image.open(PHOTO) as picture:
        assert picture.size == (wide, high)
    assert len(found["patches"]) == 24
    for sample in found["samples"]:
        x, y, w, h = sample["upright"]
        corners = quad_of(x, y, w, h)
        assert _inside(corners, np.array(sample["outline"]))
    assert upright_within(quad_of(20, 30, 90, 60)) == (20, 30, 90, 60)
    diamond = np.array([[50.0, 0], [100, 50], [50, 100], [0, 50]])
    assert _inside(quad_of(*upright_within(diamond)), diamond)


def _inside(points: np.ndarray, quad: np.ndarray) -> bool:
    along = np.roll(quad, -1, axis=0) - quad
    off = points[:, None] - quad[None]
    crossed = along[None, :, 0] * off[..., 1] - along[None, :, 1] * off[..., 0]
    return bool((crossed >= -1e-6).all() or (crossed <= 1e-6).all()) or bool(np.abs(crossed).min() < 30)


def test_reading_twice_costs_one_reading(job: Browser) -> None:
    to = sent(job, "x.jpg", PHOTO.read_bytes(), part=900_000)
    job.text(to)
    started = time.process_time()
    job.text(to)
    assert time.process_time() - started < 0.5


def test_a_raw_photograph_is_taken_and_shown_balanced_without_its_preview(job: Browser) -> None:
    """A phone's DNG: its small picture is red, and the sensor's own values are green before they are balanced."""
    grey = Sensor(balance=(2.0, 1.0, 1.6), preview=True)
    light = np.full((90, 120, 3), 0.6) / grey.balance
    at = sent(job, "IMG_0001.DNG", dng(mosaic(counted(light, grey), grey), grey))
    shown = job.client.get(at.split("?")[0] + "/picture")
    with Image.open(io.BytesIO(shown.content)) as picture:
        middle = np.asarray(picture.convert("RGB"), int)[45, 60]
    assert picture.size == (120, 90)
    assert np.ptp(middle) <= 4
    assert middle.min() > 200


def test_whoever_has_no_instrument_is_led_from_what_is_open_to_the_camera(job: Browser) -> None:
    assert "Enter the evidence" in job.text("/job/J1")
    assert "Read a photograph" in job.text("/job/J1")
    assert "Photograph it beside its standard" in job.text("/job/J1/card")
