"""A job leaves as open data and comes back equal; what was changed, or isn't to be trusted, is refused in one line."""

from __future__ import annotations

import io
import json
import stat
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
import pytest
from defusedxml.ElementTree import fromstring
from PIL import Image

from finishmatch.ledger import JobView, NoteEntry, SprayOutEntry, open_ledger, soundness_of
from finishmatch.photo.without_place import place_kept, without_place
from finishmatch.readings import read_readings
from finishmatch.readings.cgats_text import read_tables
from finishmatch.readings.spectra_files import NAMESPACE
from finishmatch.steps.handover.bundle_file import packed
from finishmatch.steps.handover.export import Exported, export_job
from finishmatch.steps.handover.job_form import job_schema
from finishmatch.steps.handover.take_in import import_job
from tests.conftest import ROOT
from tests.helpers.large_job import large_job
from tests.helpers.ledger_samples import NOTE, SPECTRUM, every_kind
from tools.make_job_schema import written

Cli = Callable[..., Any]
GPS, MAKE, ORIENTATION = 0x8825, 0x010F, 0x0112


def _exported(home: Path, ref: str, file: Path, keep_place: bool = False) -> Exported:
    def write(content: bytes) -> str:
        file.write_bytes(content)
        return str(file)

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FINISHMATCH_HOME", str(home))
        return export_job(ref, keep_place=keep_place, draw=lambda _: {}, write=write)


def photographed(path: Path, kind: str) -> Path:
    """A photograph that says where it was taken, and how it was held."""
    exif = Image.Exif()
    exif[MAKE] = "a maker of cameras"
    exif[ORIENTATION] = 6
    exif.get_ifd(GPS)[2] = (51.0, 28.0, 38.0)
    exif.get_ifd(GPS)[1] = "N"
    image = Image.fromarray(np.arange(64 * 80 * 3, dtype=np.uint8).reshape(64, 80, 3))
    file = path / f"shed.{kind.lower()}"
    image.save(file, kind, exif=exif)
    return file


@pytest.fixture(scope="module")
def there(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with a job of every kind of entry, and a large one."""
    home = tmp_path_factory.mktemp("there")
    shed = photographed(home, "JPEG")
    with open_ledger(home) as ledger:
        job = ledger.new_job("Tarnbeck Six", vehicle="1934", colour_name="Saltmarsh Blue")
        numbers = ledger.record_all(job, every_kind(), sources={0: [ROOT / "swatches/target.csv"]})
        ledger.record(job, NoteEntry("said again"), supersedes=numbers[-1], reason="typing")
        with place_kept():
            ledger.record(job, NOTE, sources=[shed])
        large_job(ledger)
    return home


@pytest.fixture(scope="module")
def bundle(there: Path) -> Path:
    _exported(there, "J1", there / "J1.zip")
    return there / "J1.zip"


def _views(home: Path, job: JobView) -> list[dict[str, Any]]:
    """The entries of a job, numbered from its first."""
    with open_ledger(home, create=False) as ledger:
        views = ledger.entries(job)
    place = {view.number: i for i, view in enumerate(views)}
    pointing = ("number", "supersedes", "superseded_by", "struck_by", "fell_with")
    found = []
    for view in views:
        document = view.as_dict()
        document |= {name: place.get(document[name]) for name in pointing}
        document["entry"] |= {name: place.get(document["entry"][name]) for name in view.entry.REFERS}
        found.append(document)
    return found


@pytest.mark.parametrize("ref", ["J1", "J2"])
def test_a_job_comes_back_equal_into_a_record_that_holds_others(
    there: Path, home: Path, tmp_path: Path, ref: str
) -> None:
    found = _exported(there, ref, tmp_path / "job.zip")
    with open_ledger(home) as ledger:
        ledger.record(ledger.new_job("another"), NOTE)
    taken = import_job(tmp_path / "job.zip")
    assert taken.seal == found.kept.seal
    assert _views(home, taken.job) == _views(there, found.kept.job)
    with open_ledger(home) as ledger:
        assert soundness_of(ledger).damaged == ()
        added = ledger.record(taken.job, SprayOutEntry(None, (40, 0, 0), name="since"))
        assert ledger.entries(taken.job)[-1].number == added
    again = _exported(home, taken.job.ref, tmp_path / "again.zip")
    third = tmp_path / "third"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FINISHMATCH_HOME", str(third))
        assert import_job(tmp_path / "again.zip").seal == again.kept.seal
    assert again.kept.seal != found.kept.seal


def test_where_its_bank_lies_is_asked_for_by_a_command(bundle: Path, cli: Cli) -> None:
    ran = cli("import", bundle, "--json")
    assert any("finishmatch job use JOB --bank FOLDER" in warning for warning in ran.json["warnings"])


def test_what_is_here_already_is_not_taken_in_twice(bundle: Path, cli: Cli) -> None:
    assert cli("import", bundle, "--json").json["job"]["ref"] == "J1"
    assert "its job is here already: J1" in cli("import", bundle).error


def _files(bundle: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(bundle) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name != "manifest.json"}


def _job_changed(bundle: Path, change: Callable[[Any], None]) -> bytes:
    files = _files(bundle)
    job = json.loads(files["job.json"])
    change(job)
    return packed(files | {"job.json": json.dumps(job).encode()}, "2026-01-01T00:00:00Z")


def _zip(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def _link() -> bytes:
    out = io.BytesIO()
    info = zipfile.ZipInfo("sources/x")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(info, "/etc/passwd")
    return out.getvalue()


def _byte_changed(bundle: Path) -> bytes:
    files = _files(bundle)
    manifest = zipfile.ZipFile(bundle).read("manifest.json")
    return _zip(**files | {"manifest.json": manifest, "README.txt": b"other"})


def _added(bundle: Path) -> bytes:
    return _zip(**_files(bundle) | {"manifest.json": zipfile.ZipFile(bundle).read("manifest.json"), "more": b"x"})


def _entry(number: int, **changes: Any) -> Callable[[Any], None]:
    return lambda job: job["entries"][number].update(changes)


HOSTILE: dict[str, tuple[Callable[[Path], bytes], str]] = {
    "no zip": (lambda _: b"PK\x03\x04 rubbish", "is not a bundle, or is damaged"),
    "another zip": (lambda _: _zip(a=b"x"), "is a zip, but no bundle"),
    "a name that climbs out": (lambda _: _zip(**{"../../home/x": b"x"}), "a name that leads out of it"),
    "a name from the root": (lambda _: _zip(**{"/etc/x": b"x"}), "a name that leads out of it"),
    "a link": (lambda _: _link(), "which is a link"),
    "a bomb": (lambda _: _zip(big=bytes(80 * 2**20)), "would unpack to far more than a job holds"),
    "a file that was changed": (_byte_changed, "in it was changed"),
    "a file that was added": (_added, "which its list doesn't name"),
    "a newer bundle": (
        lambda _: _zip(**{"manifest.json": b'{"format": "finishmatch bundle", "version": 2}'}),
        "is of a newer form (2)",
    ),
    "a newer job": (lambda b: _job_changed(b, lambda job: job.update(version=2)), "is of a newer form (2)"),
    "an entry that was changed": (
        lambda b: _job_changed(b, lambda job: job["entries"][1]["entry"].update(tolerance=9.5)),
        "isn't as it was written: its hash doesn't fit",
    ),
    "a title that was changed": (
        lambda b: _job_changed(b, lambda job: job["job"].update(title="x")),
        "hash doesn't fit",
    ),
    "an entry that was taken out": (lambda b: _job_changed(b, lambda job: job["entries"].pop(9)), "hash doesn't fit"),
    "a time that is none": (lambda b: _job_changed(b, _entry(0, made_at="noon")), "is not a time"),
    "a kind that isn't known": (
        lambda b: _job_changed(b, _entry(0, kind="dream")),
        "of a kind this program doesn't know",
    ),
    "a form that is none": (lambda b: _job_changed(b, lambda job: job.pop("entries")), "isn't of the form of a job"),
    "a pointer to nothing": (
        lambda b: _job_changed(b, lambda job: job["entries"][3]["entry"].update(recipe=99)),
        "points at #99",
    ),
    "a seal that is another's": (lambda b: _job_changed(b, lambda job: job.update(seal="0" * 64)), "its seal isn't"),
    "a file under another's hash": (
        lambda b: _job_changed(b, lambda job: next(iter(job["sources"].values())).update(sha256="0" * 64)),
        "isn't the file its record names",
    ),
    "JSON without end": (lambda _: packed({"job.json": b"[" * 200_000}, "2026-01-01T00:00:00Z"), "is not JSON"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_not_to_be_trusted_is_refused_in_one_line(
    bundle: Path, cli: Cli, home: Path, tmp_path: Path, name: str
) -> None:
    make, said = HOSTILE[name]
    file = tmp_path / "hostile.zip"
    file.write_bytes(make(bundle))
    assert said in cli("import", file).error
    if (home / "ledger.db").exists():
        with open_ledger(home) as ledger:
            assert ledger.jobs() == []
    assert [path.name for path in tmp_path.iterdir()] == ["hostile.zip"]


def test_a_photograph_leaves_without_its_place_and_comes_in_all_the_same(bundle: Path, there: Path, tmp_path: Path,
                                                                        home: Path) -> None:  # fmt: skip
    (photo,) = (data for name, data in _files(bundle).items() if name.endswith(".jpeg"))
    assert b"maker of cameras" not in photo
    whole = tmp_path / "whole.zip"
    _exported(there, "J1", whole, keep_place=True)
    assert any(b"maker of cameras" in data for data in _files(whole).values())
    taken = import_job(bundle)
    assert "shed.jpeg" in " ".join(taken.warnings)
    with open_ledger(home) as ledger:
        named = {sha256 for view in ledger.entries(taken.job) for _, sha256 in view.sources}
        assert photo in [ledger.source_bytes(sha256) for sha256 in named]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_only_metadata_goes_and_the_picture_stays_to_the_last_pixel(tmp_path: Path, kind: str) -> None:
    file = photographed(tmp_path, kind)
    bare = without_place(file.name, file.read_bytes())
    assert bare is not None
    with Image.open(file) as before, Image.open(io.BytesIO(bare)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))
        assert after.getexif().get(ORIENTATION) == before.getexif().get(ORIENTATION)
        assert not after.getexif().get_ifd(GPS)
        assert MAKE not in after.getexif()
    assert b"maker of cameras" not in bare


def test_of_a_heic_place_and_maker_go_and_the_picture_stays(tmp_path: Path) -> None:
    pillow_heif.register_heif_opener()
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>51,28.63N of a maker of cameras</x:xmpmeta>"
    jpeg = photographed(tmp_path, "JPEG")
    file = tmp_path / "shed.heic"
    with Image.open(jpeg) as image:
        image.save(file, "HEIF", exif=image.getexif(), xmp=xmp)
    data = file.read_bytes()
    assert b"a maker of cameras" in data
    bare = without_place(file.name, data)
    assert bare is not None
    assert len(bare) == len(data)
    with Image.open(file) as before, Image.open(io.BytesIO(bare)) as after:
        assert np.array_equal(np.asarray(before), np.asarray(after))
        assert before.getexif().get_ifd(GPS)
        assert not after.getexif().get_ifd(GPS)
        assert MAKE not in after.getexif()
    assert b"maker of cameras" not in bare
    assert b"51,28" not in bare


def test_what_can_not_be_taken_out_with_certainty_is_not_let_go() -> None:
    assert without_place("a.dng", b"II*\0") is None
    assert without_place("a.jpg", b"\xff\xd8\xff\xe1\xff") is None


@pytest.mark.parametrize("name", ["spectra.cgats.txt", "spectra.cxf"])
def test_the_spectra_are_read_back_by_the_reader_of_instruments(bundle: Path, tmp_path: Path, name: str) -> None:
    file = tmp_path / name
    file.write_bytes(_files(bundle)[name])
    readings = read_readings(file)
    assert readings["tin #1"].geometry == "di8"
    np.testing.assert_allclose(readings["tin #1"].reflectance, SPECTRUM, atol=1e-6)


@pytest.mark.parametrize(
    ("name", "program", "made"),
    [("spectra.cxf", "cxf2ti3", "read.cie"), ("spectra.cgats.txt", "txt2ti3", "read.ti3")],
)
def test_a_program_of_others_opens_the_spectra(
    bundle: Path, tmp_path: Path, name: str, program: str, made: str
) -> None:
    """Debian's package argyll: what its `cxf2ti3` makes of the CxF3, and its `txt2ti3` of the CGATS.17, in percent."""
    (tmp_path / name).write_bytes(_files(bundle)[name])
    ran = subprocess.run([program, name, "read"], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert ran.returncode == 0, ran.stderr
    (table,) = read_tables(tmp_path / made)
    first = [float(value) for value in table.rows[0][1][table.fields.index("SPEC_400") :]]
    np.testing.assert_allclose(first, [100 * factor for factor in SPECTRUM], atol=1e-3)


def test_the_xml_is_built_as_the_standard_builds_it(bundle: Path) -> None:
    root = fromstring(_files(bundle)["spectra.cxf"])
    assert root.tag == f"{{{NAMESPACE}}}CxF"
    assert [child.tag.partition("}")[2] for child in root] == ["FileInformation", "Resources"]
    named = {node.get("Id") for node in root.iter(f"{{{NAMESPACE}}}ColorSpecification")}
    spectra = list(root.iter(f"{{{NAMESPACE}}}ReflectanceSpectrum"))
    assert spectra
    for spectrum in spectra:
        assert spectrum.get("ColorSpecification") in named
        assert len((spectrum.text or "").split()) == 31


def test_the_published_schema_is_that_of_the_ledger() -> None:
    assert job_schema().decode() == written()


def test_the_command_writes_and_takes_in_with_the_dossier(cli: Cli, there: Path, tmp_path: Path,
                                                          monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.setenv("FINISHMATCH_HOME", str(there))
    out = tmp_path / "J1.zip"
    document = cli("export", "J1", "--out", out, "--json").json
    assert {"job.json", "spectra.cxf", "dossier.pdf", "formula.csv"} <= set(document["files"])
    assert document["stripped"] == ["shed.jpeg"]
    assert cli("export", "J1", "--out", out).status == 0  # its own may be replaced
    out.write_bytes(out.read_bytes() + b"x")
    assert "was not written by finishmatch" in cli("export", "J1", "--out", out).error
