"""A job is handed over as a document: whole, tagged, set as text, and nothing a painter wrote is read as markup."""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from PIL import Image

from finishmatch import signs
from finishmatch.dossier.document import shown
from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.document_pdf import document_pdf
from finishmatch.dossier.evidence_plot import Ring
from finishmatch.dossier.job_document import job_document
from finishmatch.dossier.job_plots import Spot, plane_svg
from finishmatch.dossier.spec_document import spec_document
from finishmatch.ledger import (
    BankTint,
    BatchEntry,
    NoteEntry,
    Nth,
    ReadingEntry,
    TargetEntry,
    open_ledger,
    remember_bank,
)
from finishmatch.outputs import as_written
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.straighten import straightened
from finishmatch.steps.handover.kept_job import KeptJob, kept_in
from tests.conftest import ROOT
from tests.helpers.large_job import large_job
from tests.helpers.ledger_samples import NOTE, PARTS, RECIPE, TARGET, every_kind

Cli = Callable[..., Any]
DOUBTS = ("door shut alone moves it: if it isn't as sound, leave it out (`without`) and say why", "tin.csv: in percent")
HOSTILE = "=cmd|' /C calc'!A0 #panic() *x* <script>alert(1)</script> $x$ \u202edrawkcab"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with a job of every kind of entry, a large one, one with a note alone, and one of hostile names."""
    folder = tmp_path_factory.mktemp("handed")
    with open_ledger(folder) as ledger:
        job = ledger.new_job("Tarnbeck Six", vehicle="Tarnbeck Six, 1934", colour_name="Saltmarsh Blue")
        tints = [
            BankTint("blue", "tint", "PB15:1", 1.0),
            BankTint("black", "black", "PBk7", 1.0, "L 7", ("lead",), "x"),
        ]
        remember_bank(ledger, job, "Lowmere bank", folder / "bank", tints)
        weighed = replace(TARGET, weights=(("leftover tin", 0.7), ("door shut", 0.3)), doubts=DOUBTS)
        found = [replace(entry, name="leftover tin") if isinstance(entry, ReadingEntry) else entry
                 for entry in every_kind()]  # fmt: skip
        ledger.record_all(job, [weighed if isinstance(entry, TargetEntry) else entry for entry in found])
        ledger.record(job, NOTE, sources=[ROOT / "swatches/photo.jpg"])
        large_job(ledger)
        ledger.record(ledger.new_job("Bare"), NOTE)
        with pytest.MonkeyPatch.context() as earlier:  # an earlier version took signs that nobody sees
            earlier.setattr(signs, "unseen_sign", lambda *_: None)
            odd = ledger.new_job(HOSTILE + "W" * 60, colour_name="\\u{202e} <b>")
            ledger.record_all(
                odd,
                [
                    ReadingEntry("x", HOSTILE, (45.2, -5, -15), "D65", 10),
                    TargetEntry("#let a = 3 漢", (45.2, -5, -15), "A", 2, None, 0.5, 1.2, (HOSTILE,)),
                    BatchEntry([("PY34 " + "z" * 90, 10.0), ("b", 2.0)]),
                    NoteEntry(HOSTILE),
                ],
            )
    return folder


def _kept(home: Path, ref: str) -> KeptJob:
    with open_ledger(home, create=False) as ledger:
        return kept_in(ledger, ledger.find_job(ref))


def _pdf(home: Path, ref: str) -> tuple[pypdf.PdfReader, str, str]:
    content, standard = document_pdf(job_document(_kept(home, ref)))
    reader = pypdf.PdfReader(io.BytesIO(content))
    return reader, standard, "\n".join(page.extract_text() for page in reader.pages)


@pytest.fixture(scope="module")
def whole(home: Path) -> tuple[pypdf.PdfReader, str, str]:
    return _pdf(home, "J1")


def test_the_pdf_is_tagged_archived_and_its_fonts_are_in_it(whole: tuple[pypdf.PdfReader, str, str]) -> None:
    reader, standard, _ = whole
    root: Any = reader.trailer["/Root"]
    assert standard == "PDF/A-2a"
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"].startswith("en")
    assert b"<pdfaid:part>2<" in root["/Metadata"].get_data()
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        below = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(below["/FontDescriptor"].get_object())


def test_a_person_finds_in_it_what_the_record_knows(whole: tuple[pypdf.PdfReader, str, str]) -> None:
    reader, _, text = whole
    assert 4 <= len(reader.pages) <= 8
    told = " ".join(text.split())
    for words in (
        "Saltmarsh Blue is a dark, muted blue",
        "PB15:1",
        "37.50 %",  # of blue by weight
        "70 %",  # the weight of the tin among the samples
        "sun visor was left out: faded",
        "– door shut alone moves it: if it isn't as sound, leave it out and say why. – tin.csv: in percent.",
        "This paint itself holds lead",
        "black of lot L 7",
        "back to primer",
        "laid straight by its chart",
        "never dry-sand it unprotected",
        "carry isocyanates",
    ):
        assert words in told, words


def test_the_page_stands_alone(home: Path) -> None:
    kept = _kept(home, "J1")
    page = document_html(job_document(kept))
    assert not re.findall(r"(?:src|href)=[\"'](?!data:)|url\((?!data:)|@import", page)
    assert page.count("data:image/jpeg;base64,") == 1
    assert kept.seal in page


def test_a_job_of_five_hundred_entries_stays_a_document(home: Path) -> None:
    reader, _, text = _pdf(home, "J2")
    assert 4 <= len(reader.pages) <= 8
    assert "The newest 12 of" in text


def test_a_job_with_a_note_alone_is_no_empty_page(home: Path) -> None:
    reader, _, text = _pdf(home, "J3")
    assert len(reader.pages) == 2
    assert "No target colour is recorded" in text
    assert "Leftover tin found under the bench" in text


def test_what_was_written_is_never_read_as_markup(home: Path) -> None:
    _, _, text = _pdf(home, "J4")
    told = " ".join(text.split())
    assert "#panic() *x* <script>alert(1)</script> $x$" in told
    assert "\u202e" not in text
    page = document_html(job_document(_kept(home, "J4")))
    assert "<script>alert" not in page
    assert "[U+202E]drawkcab" in page
    assert "\u202e" not in page


@pytest.mark.parametrize(
    ("text", "sign"), [("a\u202eb", "a[U+202E]b"), ("a\x07b", "a[U+0007]b"), ("é ΔE 漢\u200d", "é ΔE 漢\u200d")]
)
def test_what_can_not_be_seen_is_shown_as_a_sign(text: str, sign: str) -> None:
    assert shown(text) == sign


def test_a_photograph_is_laid_straight_by_its_chart_and_loses_what_its_file_says(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010F] = "a maker"
    with Image.open(ROOT / "swatches/photo.jpg") as photo:
        photo.save(tmp_path / "taken.jpg", exif=exif)
    straight = straightened(open_picture(tmp_path / "taken.jpg"))
    assert straight.by == "chart"
    assert b"a maker" not in straight.jpeg
    with Image.open(io.BytesIO(straight.jpeg)) as picture:
        assert picture.size == straight.size
        again = tmp_path / "straight.png"
        picture.save(again)
    pose = open_picture(again)
    second = straightened(pose)
    # what lies straight is not turned again: the chart's sides stay upright
    assert second.by == "chart"
    assert abs(second.size[0] / second.size[1] - straight.size[0] / straight.size[1]) < 0.03


def test_the_command_writes_both_and_replaces_only_its_own(cli: Cli, home: Path, tmp_path: Path,
                                                           monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.setenv("FINISHMATCH_HOME", str(home))
    out = tmp_path / "out"
    ran = cli("dossier", "J3", "--out", out, "--json")
    assert ran.json["files"] == [str(out / "dossier.html"), str(out / "dossier.pdf")]
    assert ran.json["pdf_standard"] == "PDF/A-2a"
    pdf = (out / "dossier.pdf").read_bytes()
    assert as_written(pdf)
    assert pdf.rstrip().endswith(b"%%EOF")
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 2
    assert cli("dossier", "J3", "--out", out).status == 0
    (out / "dossier.html").write_text("mine", "utf-8")
    assert "was not written by finishmatch" in cli("dossier", "J3", "--out", out).error
    assert (out / "dossier.html").read_text("utf-8") == "mine"
    shutil.rmtree(out)
    assert cli("dossier", "J3", "--out", out, "--paper", "letter").status == 0
    assert "is empty" in cli("dossier", "J3", "--out", " ").error


def test_what_brings_the_colour_index_names_is_told_and_nothing_where_none_is_lacking(
    cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "own"))

    def told(ref: str) -> list[str]:
        found = cli("dossier", ref, "--out", tmp_path / ref, "--json").json["warnings"]
        return [one for one in found if "Colour Index" in one]

    clear = BankTint("thinner", "clear", "", 0.9)
    blue, nameless = BankTint("blue", "tint", "PB15:1", 1.0), BankTint("white", "white", "", 1.4)
    with open_ledger(tmp_path / "own") as ledger:
        for bank, tints in ((None, ()), ("named", (blue, clear)), ("nameless", (blue, clear, nameless))):
            job = ledger.new_job(f"Roof {bank}")
            if bank is not None:
                remember_bank(ledger, job, bank, tmp_path / bank, tints)
            parts = (("blue", 3.0), ("thinner", 5.0), *((("white", 90.0),) if nameless in tints else ()))
            ledger.record(job, BatchEntry(parts))
    once = "finishmatch job use {} --bank FOLDER"
    assert told("J1") == [
        "no Colour Index names are recorded of thinner, blue: name the job's bank once, " + once.format("J1")
    ]
    assert told("J2") == []  # a thinner has none
    assert told("J3") == [
        "no Colour Index names are recorded of white: write them into the bank's tints.csv (colour_index), then "
        + once.format("J3")
    ]


def test_parts_of_the_sample_are_those_of_the_formula(home: Path) -> None:
    formula = _kept(home, "J1").formula
    assert formula is not None
    assert {part.tint: part.grams for part in formula.parts} == dict(PARTS)
    assert sum(part.share for part in formula.parts) == pytest.approx(1)


OTHER = [("white", 60.0), ("black", 40.0)]


@pytest.mark.parametrize(
    ("batch", "named"),
    [(BatchEntry(PARTS, recipe=Nth(0)), "#1"), (BatchEntry(PARTS), "#1"), (BatchEntry([("red", 9.0)]), None)],
)
def test_the_recipe_named_is_the_one_that_was_poured(tmp_path: Path, batch: BatchEntry, named: str | None) -> None:
    later = replace(RECIPE, parts=OTHER, lights={"D65": 0.9})
    with open_ledger(tmp_path) as ledger:
        job = ledger.new_job("Tarnbeck Six")
        ledger.record_all(job, [RECIPE, replace(RECIPE, parts=OTHER, rank=2), batch, later])
    text = document_html(job_document(_kept(tmp_path, "J1")))
    assert re.findall(r"mixed after recipe (#\d+)", text) == ([] if named is None else [named])
    assert "promised ΔE00 D65 0.90" not in text


def test_where_nothing_was_poured_the_last_recipe_is_named(tmp_path: Path) -> None:
    with open_ledger(tmp_path) as ledger:
        ledger.record_all(ledger.new_job("Tarnbeck Six"), [RECIPE, replace(RECIPE, parts=OTHER)])
    assert "Recipe #2 promised" in document_html(job_document(_kept(tmp_path, "J1")))


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_a_paint_shop_gets_one_page(
    cli: Cli, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, paper: str
) -> None:
    monkeypatch.setenv("FINISHMATCH_HOME", str(home))
    out = tmp_path / "spec.pdf"
    assert cli("spec", "J1", "--out", out, "--paper", paper, "--json").json["pdf_standard"] == "PDF/A-2a"
    reader = pypdf.PdfReader(str(out))
    told = " ".join(reader.pages[0].extract_text().split())
    assert len(reader.pages) == 1
    for words in (
        "d:8°, specular included",
        "ΔE00 0.5 at most",
        "LED-B3",
        "400: 0.1000",
        "700: 0.2200",
        "gloss at 60°",
    ):
        assert words in told, words
    assert "PB15" not in told  # the shop mixes from tints of its own
    assert "has no target yet" in cli("spec", "J3", "--out", out).error


@pytest.mark.parametrize(("tolerance", "said"), [(0.8, True), (TargetEntry.tolerance, False)])
def test_a_tolerance_nobody_said_is_not_told_as_if_it_was(tmp_path: Path, tolerance: float, said: bool) -> None:
    near = replace(TARGET, tolerance=tolerance, weights=(), evidence=("leftover tin",), covariance=None)
    with open_ledger(tmp_path) as ledger:
        ledger.record_all(
            ledger.new_job("Tarnbeck Six"), [ReadingEntry("x", "leftover tin", near.lab, "D65", 10), near]
        )
    kept = _kept(tmp_path, "J1")
    content, _ = document_pdf(job_document(kept))
    paper = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(content)).pages)
    for text in (document_html(job_document(kept)), paper):
        assert ("A match counts within" in text) is said
        assert ("Dotted: the tolerance" in text) is said
        assert ("How near a match must come was not said" in text) is not said
    assert ("none was said for this colour" in document_html(spec_document(kept))) is not said


@pytest.mark.parametrize("many", [0, 1, 3])
def test_samples_on_one_side_of_the_target_are_drawn_too(many: int) -> None:
    lab = np.array([45.0, -5.0, -15.0])
    spots = [Spot(f"sample {i}", lab + np.array([0.0, 0.0, i / 10]), "#506e84", "evidence") for i in range(many)]
    drawn = plane_svg(Ring("target", lab, np.zeros((3, 3)), 0.5, "#506e84"), spots, "D65, 10°")
    assert all(f">sample {i}<" in drawn for i in range(many))
