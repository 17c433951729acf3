"""A file that is asked for takes the place of nothing but what the program wrote itself."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from finishmatch.errors import InputError
from finishmatch.outputs import as_written, check_output, marked, write_output
from tests.conftest import ROOT, Ran
from tests.helpers.computed_once import computed_once  # noqa: F401 -- for all tests of this file

Cli = Callable[..., Ran]


def picture(ending: str) -> bytes:
    """A small picture."""
    values = np.random.default_rng(3).integers(0, 255, (70, 80, 3), np.uint8)
    return cv2.imencode(ending, values)[1].tobytes()


CONTENTS = {
    "png": picture(".png"),
    "jpeg": picture(".jpg"),
    "page": b"<!doctype html><p>\xc2\xb5</p>",
    "pdf": b"%PDF-1.4\n%%EOF\n",
    "text": b"name,L,a,b\nx,1,2,3\n",
    "empty": b"",
    "a mark within": marked(b"one\n") + b"more\n",
}


@pytest.mark.parametrize("content", CONTENTS.values(), ids=CONTENTS)
def test_what_was_written_is_known_again_until_any_byte_changes(content: bytes) -> None:
    data = marked(content)
    assert as_written(data)
    assert not as_written(content)
    for at in {*range(0, len(data), max(1, len(data) // 100)), len(data) - 1}:
        changed = data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
        assert not as_written(changed), at
    assert not as_written(data + b"\n")


@pytest.mark.parametrize("ending", [".png", ".jpg"])
def test_the_mark_leaves_a_picture_as_it_was(ending: str) -> None:
    plain = picture(ending)
    with Image.open(io.BytesIO(plain)) as was, Image.open(io.BytesIO(marked(plain))) as now:
        assert np.array_equal(np.asarray(was), np.asarray(now))


def test_nothing_else_is_replaced_unless_it_is_said(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    write_output(file, "one\n")
    write_output(file, "two\n")
    assert file.read_text().startswith("two\n")
    with pytest.raises(InputError, match="another kind"):
        write_output(file, CONTENTS["png"])
    file.write_text(file.read_text() + "three\n")
    link = tmp_path / "link.csv"
    link.symlink_to(file)
    for path in (file, link):
        with pytest.raises(InputError, match="not written by finishmatch, or has been changed since"):
            write_output(path, "four\n")
        with pytest.raises(InputError):
            check_output(path)
    assert file.read_text().endswith("three\n")
    write_output(link, "four\n", replace=True)
    assert file.read_text().startswith("four\n")
    assert link.is_symlink()
    check_output(tmp_path / "none")
    check_output(os.devnull)


OVERWRITING = {
    "a plan by its page": ("plan page plan/plan.toml --out plan/plan.toml", "plan/plan.toml"),
    "a target by its plot": ("mix target.csv --bank bank --grams 500 --plot target.csv", "target.csv"),
    "a bank by its plot": ("bank show bank --plot bank/panels.csv", "bank/panels.csv"),
    "a bank by its page": ("bank show bank --plot notes.html", "notes.html"),
    "evidence by a photograph's readings": ("photo read photo.jpg --save evidence.csv", "evidence.csv"),
    "a picture by the overlay": ("photo read photo.jpg --overlay mine.png", "mine.png"),
    "evidence by its plot": ("evidence weigh survivors.csv --plot survivors.csv", "survivors.csv"),
    "evidence by its target": ("evidence weigh survivors.csv --save survivors.csv", "survivors.csv"),
    "a document by the card": ("photo card --out mine.pdf", "mine.pdf"),
    "a picture by a trace": ("defect trace --plot mine.png", "mine.png"),
}


@pytest.mark.parametrize(("line", "file"), OVERWRITING.values(), ids=OVERWRITING)
def test_no_command_replaces_a_file_of_the_painter(
    cli: Cli, swatches: Path, monkeypatch: pytest.MonkeyPatch, line: str, file: str
) -> None:
    monkeypatch.chdir(swatches)
    for name in ("notes.html", "mine.png", "mine.pdf"):
        Path(name).write_text("mine")
    before = Path(file).read_bytes()
    error = cli(*line.split()).error
    assert file in error
    assert "is there already" in error
    assert error.endswith("name another file, or give --replace")
    assert Path(file).read_bytes() == before


def test_replace_writes_over_it_and_the_next_time_it_is_known(
    cli: Cli, swatches: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(swatches)
    Path("plan.html").write_text("mine")
    line = ("plan", "page", "plan/plan.toml", "--out", "plan.html")
    assert "--replace" in cli(*line).error
    assert cli(*line, "--replace").status in (0, 1)
    assert cli(*line).status in (0, 1)
    assert "<html" in Path("plan.html").read_text("utf-8")


def test_the_demo_refuses_a_folder_that_is_not_a_demos(cli: Cli, tmp_path: Path) -> None:
    shop = tmp_path / "my-shop"
    (shop / "bank").mkdir(parents=True)
    (shop / "bank" / "panels.csv").write_text("mine")
    assert "isn't empty, and no demo was left there; name another folder with --out" in cli("demo", "--out", shop).error
    assert [path.name for path in shop.rglob("*")] == ["bank", "panels.csv"]
    assert (shop / "bank" / "panels.csv").read_text() == "mine"


def test_the_demo_replaces_nothing_that_was_changed_in_its_folder(cli: Cli, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert cli("demo", "--out", out).status == 0
    for name in ("match.html", "bank/panels.csv"):
        file = out / name
        was = file.read_bytes()
        file.write_bytes(was + b"\n")
        assert name in cli("demo", "--out", out).error
        assert file.read_bytes() == was + b"\n"
        file.write_bytes(was)
    assert ROOT.joinpath("swatches/bank/panels.csv").read_bytes() == (out / "bank/panels.csv").read_bytes()
    assert cli("demo", "--out", out).status == 0
