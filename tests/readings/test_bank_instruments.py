"""A bank whose panels were read by an instrument: its files stand beside the tables, which name their samples."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.readings import read_bank
from tests.conftest import ROOT
from tests.helpers.instrument_files import SPHERE_EXCLUDED, cgats, cxf, cxf_lab, cxf_specification, cxf_spectrum

NM = list(range(400, 701, 10))


@pytest.fixture
def measured(swatches: Path) -> Path:
    """The bundled bank, with the spectra of its tables moved into instrument's files."""
    bank = swatches / "bank"
    for table, kind in (("readings", "meter.cxf"), ("grounds", "grounds.txt")):
        path = bank / f"{table}.csv"
        lines = [line for line in path.read_text("utf-8").splitlines() if line and not line.startswith("#")]
        rows = list(csv.DictReader(lines))
        named = [column for column in rows[0] if not column.isdigit()]
        spectra: dict[str, list[list[float]]] = {}
        for row in rows:
            name = " / ".join(row[column] for column in named if row[column])
            spectra.setdefault(name, []).append([float(row[str(nm)]) for nm in NM])
        seen = {" / ".join(row[c] for c in named if row[c]): [row[c] for c in named] for row in rows}
        told = [[*cells, f"{kind}@{name}"] for name, cells in seen.items()]
        path.write_text("\n".join(",".join(cells) for cells in [[*named, "reading"], *told]) + "\n", "utf-8")
        samples = [(name, values) for name, repeats in spectra.items() for values in repeats]
        if kind.endswith("cxf"):
            text = cxf([(name, cxf_spectrum(values)) for name, values in samples])
        else:
            text = cgats(samples, NM, 'MEASUREMENT_GEOMETRY "di8"\n')
        (bank / kind).write_text(text, "utf-8")
    return bank


def test_the_bank_is_the_same_as_with_its_spectra_in_the_tables(measured: Path) -> None:
    written = read_bank(ROOT / "swatches/bank")
    found = read_bank(measured)
    by_key = {(p.name, p.ground, p.build_um): p.repeats for p in found.panels}
    assert len(by_key) == len(written.panels)
    for panel in written.panels:
        np.testing.assert_allclose(by_key[panel.name, panel.ground, panel.build_um], panel.repeats, atol=1e-6)
    for (name, one), (other_name, other) in zip(found.grounds, written.grounds, strict=True):
        assert name == other_name
        np.testing.assert_allclose(one, other, atol=1e-6)


def test_a_fit_is_made_anew_when_an_instruments_file_changes(measured: Path) -> None:
    before = read_bank(measured).digest
    path = measured / "meter.cxf"
    path.write_text(path.read_text("utf-8").replace("invented", "invented again", 1), "utf-8")
    assert read_bank(measured).digest != before


def put(bank: Path, cell: str) -> None:
    """Name something else in the first row."""
    path = bank / "readings.csv"
    lines = path.read_text("utf-8").splitlines()
    lines[1] = ",".join([*lines[1].split(",")[:3], cell])
    path.write_text("\n".join(lines) + "\n", "utf-8")


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("", "line 2, column 'reading': is empty"),
        ("other.cxf@x", "other.cxf: there is no such file"),
        ("../evidence.csv@tin", "'../evidence.csv' is not a file of the bank's folder"),
        ("..@x", "'..' is not a file of the bank's folder"),
        ("meter.cxf@no such panel", "meter.cxf has no reading named 'no such panel'; it has "),
        ("meter.cxf", "meter.cxf has no reading named ''; it has "),
        ("excluded.cxf", "'a' was read de8; the bank is read di8"),
        ("lab.cxf@a", "only Lab is known of 'a'; a bank needs spectra"),
    ],
)
def test_what_a_row_names_wrongly_is_told(measured: Path, cli: Callable[..., object], cell: str, told: str) -> None:
    spectrum = cxf_spectrum([0.5] * 31)
    (measured / "excluded.cxf").write_text(cxf([("a", spectrum)], cxf_specification(SPHERE_EXCLUDED)), "utf-8")
    (measured / "lab.cxf").write_text(cxf([("a", cxf_lab((50, 0, 0)))]), "utf-8")
    put(measured, cell)
    assert told in cli("bank", "show", measured).error


def test_a_sample_read_both_ways_gives_the_banks_geometry(measured: Path) -> None:
    both = cxf_spectrum([0.4] * 31, 400, "two") + cxf_spectrum([0.5] * 31)
    told = cxf_specification() + cxf_specification(SPHERE_EXCLUDED, name="two")
    (measured / "both.cxf").write_text(cxf([("a", both)], told), "utf-8")
    put(measured, "both.cxf")
    assert any((panel.repeats == 0.5).all() for panel in read_bank(measured).panels)


def test_spectra_here_and_there_are_refused(measured: Path) -> None:
    path = measured / "readings.csv"
    path.write_text(path.read_text("utf-8").replace("reading\n", "reading,400\n", 1), "utf-8")
    with pytest.raises(InputError, match="cells where the header"):
        read_bank(measured)
    path.write_text("panel,ground,build_um,reading,400\nwhite masstone,,,meter.cxf@x,0.5\n", "utf-8")
    with pytest.raises(InputError, match="the column '400' is not known here"):
        read_bank(measured)
