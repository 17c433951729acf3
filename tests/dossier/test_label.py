"""The label's code holds the formula, and gives it back from a print at 200 dots per inch, photographed askew."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdf
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.ledger import BankTint, BatchEntry, NoteEntry, open_ledger, remember_bank
from finishmatch.readings.batch_file import read_batch
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.label_code import LONGEST_NAME, LabelCode, LabelPart, label_text, read_label_text
from finishmatch.signs import shown
from tests.helpers.ledger_samples import TARGET

Cli = Callable[..., Any]
PARTS = [("white", 444.2), ("blue", 28.7), ("soft black", 25.4), ("red oxide", 2.0), ("violet", 1.64)]
CODES = ("H225", "H304", "H315", "H317", "H319", "H334", "H335", "H336", "H350", "H360D", "H373", "H410", "EUH066",
         "EUH204")  # fmt: skip
DOTS_PER_INCH = 200
SAID = "Its tins say: Danger: May cause an allergic skin reaction. (H317) May damage the unborn child. (H360D)"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    with open_ledger(folder) as ledger:
        job = ledger.new_job("Tarnbeck Six", colour_name="Saltmarsh Blue")
        tints = [BankTint(name, "tint", f"PB{i}", 1.0) for i, (name, _) in enumerate(PARTS)]
        tints[0] = replace(tints[0], hazards=("lead", "chromate", "Danger", "H360D"))
        tints[1] = replace(tints[1], hazards=("Warning", "H317", "H360D"))
        remember_bank(ledger, job, "Lowmere bank", folder / "bank", tints)
        ledger.record_all(job, [TARGET, BatchEntry(PARTS)])
        ledger.record(ledger.new_job("Bare"), NoteEntry("nothing mixed"))
        many = ledger.new_job("Many")
        ledger.record(many, BatchEntry([(f"a tint with a long name {i}", 1000 + i / 7) for i in range(14)]))
        ledger.record(ledger.new_job("Too many"), BatchEntry([(f"{i} " + "x" * 80, 1.0) for i in range(30)]))
        toxic = ledger.new_job("Toxic")
        named = [f"toxic tint {i}" for i in range(14)]
        harm = [("lead", "chromate", "Danger", code) for code in CODES]
        tints = [BankTint(name, "tint", "", 1.0, hazards=held) for name, held in zip(named, harm, strict=True)]
        remember_bank(ledger, toxic, "Lowmere bank", folder / "bank", tints)
        ledger.record(toxic, BatchEntry([(name, 100.0 - i) for i, name in enumerate(named)]))
    return folder


@pytest.fixture
def here(shop: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FINISHMATCH_HOME", str(shop))
    return shop


def _printed(pdf: Path) -> np.ndarray:
    """The first page as a printer lays it down: black or white, 200 dots per inch; colours as grey."""
    document = pypdfium2.PdfDocument(pdf.read_bytes())
    page = document[0]
    image = page.render(scale=DOTS_PER_INCH / 72, grayscale=True).to_numpy()
    page.close()
    document.close()
    return np.where(image.reshape(image.shape[:2]) > 128, 245, 20).astype(np.uint8)


def _photographed(page: np.ndarray, tilt_deg: float, turn_deg: float, blur_px: float, seed: int) -> np.ndarray:
    """A phone's photograph of a page from aslant: perspective, shading, blur, noise."""
    high, wide = page.shape
    corners = np.array([[-wide, -high], [wide, -high], [wide, high], [-wide, high]]) / 2.0
    tilt, turn = np.radians(tilt_deg), np.radians(turn_deg)
    spun = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    away = 1 + spun[:, 1] * np.sin(tilt) / (2.2 * max(page.shape))
    seen = spun * np.array([1, np.cos(tilt)]) / away[:, None]
    seen = (seen - seen.min(axis=0)) / np.ptp(seen, axis=0).max() * 2200 + 60
    on_page = corners + np.array([wide, high]) / 2
    move = cv2.getPerspectiveTransform(on_page.astype(np.float32), seen.astype(np.float32))
    size = tuple(int(side) for side in np.ceil(seen.max(axis=0) + 60))
    image = cv2.warpPerspective(page, move, size, flags=cv2.INTER_AREA, borderValue=90).astype(float)
    image *= np.linspace(1.0, 0.6, image.shape[1])[None, :]
    image = cv2.GaussianBlur(image, (0, 0), blur_px) + np.random.default_rng(seed).normal(0, 7, image.shape)
    return np.clip(image, 0, 255).astype(np.uint8)


def _label_of(page: np.ndarray) -> np.ndarray:
    """One label of a sheet, as a photograph of a lid shows it."""
    per_mm = DOTS_PER_INCH / 25.4
    left, top = 10 * per_mm, 24.5 * per_mm
    return page[int(top) : int(top + 62 * per_mm), int(left) : int(left + 95 * per_mm)]


@pytest.mark.parametrize(
    ("tilt", "turn", "blur", "quality"), [(0, 0, 0.8, 90), (35, 12, 1.2, 75), (45, -20, 1.0, 60), (20, 165, 1.6, 70)]
)
def test_it_is_read_back_from_a_print_photographed_askew(
    cli: Cli, here: Path, tmp_path: Path, tilt: float, turn: float, blur: float, quality: int
) -> None:
    drawn = cli("label", "J1", "--out", tmp_path / "labels.pdf", "--json").json
    photo = _photographed(_label_of(_printed(tmp_path / "labels.pdf")), tilt, turn, blur, seed=int(tilt + 100))
    file = tmp_path / "lid.jpg"
    cv2.imwrite(str(file), cv2.cvtColor(photo, cv2.COLOR_GRAY2BGR), [cv2.IMWRITE_JPEG_QUALITY, quality])
    read = cli("label", "--read", file, "--save", tmp_path / "batch.csv", "--json").json
    assert read["label"] == drawn["label"]
    assert {part["tint"]: part["grams"] for part in read["label"]["parts"]} == dict(PARTS)
    assert read_batch(tmp_path / "batch.csv", [tint for tint, _ in PARTS]) == tuple(PARTS)


@pytest.mark.usefixtures("here")
def test_fourteen_tints_with_long_names_are_read_from_the_tape(cli: Cli, tmp_path: Path) -> None:
    drawn = cli("label", "J3", "--out", tmp_path / "tape.pdf", "--paper", "62", "--json").json
    reader = pypdf.PdfReader(str(tmp_path / "tape.pdf"))
    assert float(reader.pages[0].mediabox.width) == pytest.approx(62 / 25.4 * 72, abs=0.1)
    photo = _photographed(_printed(tmp_path / "tape.pdf"), 15, 5, 0.8, seed=1)
    cv2.imwrite(str(tmp_path / "lid.png"), cv2.cvtColor(photo, cv2.COLOR_GRAY2BGR))
    assert cli("label", "--read", tmp_path / "lid.png", "--json").json["label"] == drawn["label"]


@pytest.mark.parametrize(("paper", "wide_mm"), [("A4", 210.0), ("letter", 215.9)])
@pytest.mark.usefixtures("here")
def test_a_sheet_holds_eight_that_a_person_can_read(cli: Cli, tmp_path: Path, paper: str, wide_mm: float) -> None:
    out = tmp_path / "labels.pdf"
    assert cli("label", "J1", "--out", out, "--paper", paper, "--use-by", "31.05.2099", "--lot", "L 1").status == 0
    reader = pypdf.PdfReader(io.BytesIO(out.read_bytes()))
    text = " ".join(reader.pages[0].extract_text().split())
    assert len(reader.pages) == 1
    assert float(reader.pages[0].mediabox.width) == pytest.approx(wide_mm / 25.4 * 72, abs=0.1)
    for words in ("Saltmarsh Blue", "J1, lot L 1", "444.2", "Use by 2099-05-31", "Holds lead, chromate (white).", SAID):
        assert text.count(words) == 8, words


@pytest.mark.usefixtures("here")
def test_what_harms_is_never_cut_off_and_is_told_on_the_screen_too(cli: Cli, tmp_path: Path) -> None:
    out = tmp_path / "toxic.pdf"
    ran = cli("label", "Toxic", "--out", out, "--count", 1)
    assert "! Holds lead, chromate (toxic tint 0, toxic tint 1, " in ran.out
    assert "Danger: Highly flammable liquid and vapour. (H225)" in ran.out
    (page,) = pypdf.PdfReader(str(out)).pages
    text = " ".join(page.extract_text().split())
    assert f"Holds lead, chromate. Its tins say: Danger: {', '.join(CODES)}." in text
    assert "more, in the code" in text
    assert min(_heights(page)) > float(page.mediabox.height) - (24.5 + 62) / 25.4 * 72  # of the sheet's first label


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_long_names_cut_off_nothing_that_harms(
    paper: str, cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path))
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Two-Seater Drophead with Sliding Roof " * 5, colour_name="Heather-and-Periwinkle " * 8)
        named = [f"toxic tint {i}" for i in range(14)]
        tints = [BankTint(name, "tint", "PB15:3", 1.0, hazards=("lead", "Danger", "H360D")) for name in named]
        remember_bank(ledger, job, "Lowmere bank", tmp_path / "bank", tints)
        ledger.record(job, BatchEntry([(name, 100.0 - i) for i, name in enumerate(named)]))
    out = tmp_path / "labels.pdf"
    assert cli("label", "J1", "--out", out, "--count", 1, "--paper", paper).status == 0
    (page,) = pypdf.PdfReader(str(out)).pages
    text = " ".join(page.extract_text().split())
    for words in ("Heather-and-", "Use by", "Holds lead", "in all", "air-fed protection", "before anything said here"):
        assert words in text, words
    high = float(page.mediabox.height)
    assert min(_heights(page)) > high / 2 + (248 / 2 - 62) / 25.4 * 72  # of the sheet's first label


def _heights(page: pypdf.PageObject) -> list[float]:
    """Where each piece of text stands on a page, points from its lower edge."""
    found: list[float] = []

    def note(text: str, at: list[float], within: list[float], *_: object) -> None:
        if text.strip():
            found.append(at[5] + within[5])

    page.extract_text(visitor_text=note)
    return found


@pytest.mark.usefixtures("here")
def test_without_a_name_it_is_named_by_its_job(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli("label", "J1", "--paper", "62", "--json").json["file"] == "J1-labels.pdf"
    assert (tmp_path / "J1-labels.pdf").read_bytes()[:5] == b"%PDF-"
    cli("label", "J1", "--paper", "62", "--replace")
    (tmp_path / "J1-labels.pdf").write_bytes(b"somebody's own")
    assert "J1-labels.pdf" in cli("label", "J1").error


@pytest.mark.usefixtures("here")
def test_what_can_not_be_done_is_said_in_one_line(cli: Cli, tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    assert "has no batch and no recipe yet" in cli("label", "J2", "--out", out).error
    assert "is too long for the code of a label" in cli("label", "J4", "--out", out).error
    assert "is not a date" in cli("label", "J1", "--out", out, "--use-by", "31 May").error
    assert "could be two days" in cli("label", "J1", "--out", out, "--use-by", "3/4/2099").error
    assert "is before the day of the mix" in cli("label", "J1", "--out", out, "--use-by", "2001-01-31").error
    assert "is given with --out" in cli("label", "--read", "a.jpg", "--out", out).error
    assert "give 1 to 80" in cli("label", "J1", "--out", out, "--count", 0).error
    assert not out.exists()
    cv2.imwrite(str(tmp_path / "wall.png"), np.full((300, 400, 3), 128, np.uint8))
    assert "no square code can be read in it" in cli("label", "--read", tmp_path / "wall.png").error


CODE = LabelCode("Saltmarsh Blue", "J1", "J1-8", "2026-05-02", "D65", 10, (45.2, -5.0, -15.2),
                 (LabelPart("white", "PW6", 444.2), LabelPart("blue", "PB15:1", 28.7)))  # fmt: skip


def test_the_form_stays_what_it_is() -> None:
    """A label on a tin is read for decades: another form needs another version."""
    assert label_text(CODE) == (
        "FINISHMATCH 1\nSaltmarsh Blue\nJ1|J1-8|2026-05-02\nD65/10|45.20,-5.00,-15.20\n"
        "444.2|white|PW6\n28.7|blue|PB15:1\n=C94F1DB8"
    )
    assert read_label_text(label_text(CODE), "lid.jpg") == CODE


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (label_text(CODE).replace("444.2", "444.3"), "the checksum doesn't fit"),
        (label_text(CODE)[:-1], "the checksum doesn't fit"),
        (label_text(CODE).replace("FINISHMATCH 1", "FINISHMATCH 2"), "of a newer form"),
        ("https://example.org", "none of a label of this program"),
    ],
)
def test_a_code_that_was_read_wrong_is_refused(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_label_text(text, "lid.jpg")


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.text(max_size=30), st.text(max_size=10), st.floats(0, 9999)), max_size=6), st.text())
def test_any_names_come_back_on_one_line(parts: list[tuple[str, str, float]], name: str) -> None:
    def lined(text: str) -> str:
        return shown(" ".join(text.split()))[:LONGEST_NAME]

    made = tuple(LabelPart(lined(tint), lined(ci), round(grams, 2)) for tint, ci, grams in parts)
    code = replace(CODE, name=lined(name), parts=made)
    assert read_label_text(label_text(code), "lid.jpg") == code


@settings(deadline=None, max_examples=40)
@given(st.text())
def test_rubbish_behind_the_mark_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(InputError):
        read_label_text("FINISHMATCH 1\n" + text, "lid.jpg")


@pytest.mark.parametrize(("name", "cell"), [("=cmd|x", "'=cmd|x"), ("@a", "'@a"), ("-1", "'-1"), ("white", "white")])
def test_a_name_is_no_formula_of_a_spreadsheet(name: str, cell: str) -> None:
    assert guarded(name) == cell
