"""One spike among repeats is named by file, row and wavelength, set aside, and never becomes a tolerance."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.readings import read_bank, read_readings
from finishmatch.readings.spikes import without_spikes
from tests.conftest import Ran
from tests.helpers.door_files import HOUSE_NM, smooth, spectra_csv, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


def repeats(count: int, seed: int = 1) -> np.ndarray:
    """Repeats of one sample with an instrument's noise, each a little off as a whole by its place."""
    r = np.random.default_rng(seed)
    places = r.normal(0, 0.004, (count, 1)) * np.linspace(0.5, 1.5, 31)
    return np.array(smooth(HOUSE_NM)) + places + r.normal(0, 0.0006, (count, 31))


def rows(values: np.ndarray, name: str = "roof") -> str:
    """A readings file of repeats of one name."""
    return spectra_csv([(name, row.tolist()) for row in values])


@pytest.mark.parametrize("count", [2, 3, 5])
@pytest.mark.parametrize("at", [0, 1, 14, 29, 30])
@pytest.mark.parametrize("off", [-0.15, 0.04, 0.5])
def test_a_spike_is_set_aside_wherever_it_is(count: int, at: int, off: float) -> None:
    clean = repeats(count)
    spiked = clean.copy()
    spiked[1, at] += off
    mended, warnings = without_spikes(spiked, [f"row {i}" for i in range(count)])
    (warning,) = warnings
    assert warning.startswith(f"row 1: {spiked[1, at]:.3f} at {HOUSE_NM[at]} nm is far from its repeats")
    np.testing.assert_allclose(mended, clean, atol=0.006)
    untouched = np.ones_like(clean, dtype=bool)
    untouched[1, at] = False
    np.testing.assert_array_equal(mended[untouched], spiked[untouched])


def test_repeats_as_they_are_pass() -> None:
    for seed in range(60):
        clean = repeats(2 + seed % 4, seed)
        mended, warnings = without_spikes(clean, ["row"] * len(clean))
        assert warnings == ()
        assert mended is not None
        np.testing.assert_array_equal(mended, clean)


def test_a_single_reading_and_lab_are_left_alone() -> None:
    lone = np.array([smooth(HOUSE_NM)])
    lone[0, 5] = 0.99
    assert without_spikes(lone, ["row"])[1] == ()
    assert without_spikes(np.array([[50.0, 0, 0], [90.0, 0, 0]]), ["a", "b"])[1] == ()


def test_repeats_of_another_thing_are_no_spikes() -> None:
    values = repeats(3)
    values[1, 2::5] += 0.3
    mended, warnings = without_spikes(values, ["a", "b", "c"])
    assert warnings == ()
    np.testing.assert_array_equal(mended, values)


def test_every_command_that_reads_it_says_so_and_none_is_led_astray(cli: Cli, bench: Path) -> None:
    clean, spiked = repeats(3), repeats(3)
    spiked[2, 10] = 0.95
    write(bench / "clean.csv", rows(clean))
    write(bench / "spiked.csv", rows(spiked))
    told = "spiked.csv, line 4: 0.950 at 500 nm is far from its repeats"
    plain = cli("compare", "target.csv", "clean.csv", "--json").json
    ran = cli("compare", "target.csv", "spiked.csv", "--json").json
    assert any(told in warning for warning in ran["warnings"])
    assert ran["lights"] == pytest.approx(plain["lights"], abs=0.05)
    assert told in cli("compare", "target.csv", "spiked.csv").out
    predicted = cli(
        "predict", "batch1.csv", "--bank", "bank", "--target", "spiked.csv", "--max-growth", "0.01", "--json"
    )
    assert any(told in warning for warning in predicted.json["warnings"])
    mixed = cli("mix", "spiked.csv", "--bank", "bank", "--grams", "300", "--max-tints", "2", "--json")
    assert any(told in warning for warning in mixed.json["warnings"])


def test_a_spike_never_becomes_a_tolerance(cli: Cli, bench: Path) -> None:
    def weighed(values: np.ndarray) -> Ran:
        lines = spectra_csv([("roof", row.tolist()) for row in values]).splitlines()
        lines = [line.replace("name,", "name,kind,").replace("roof,", "roof,sheltered paint,") for line in lines]
        write(bench / "survivors.csv", "\n".join(lines) + "\n")
        return cli("evidence", "weigh", "survivors.csv", "--json")

    clean, spiked = repeats(3), repeats(3)
    spiked[2, 10] = 0.95
    plain, ran = weighed(clean).json, weighed(spiked).json
    assert ran["tolerance"] == pytest.approx(plain["tolerance"], abs=0.02)
    assert any("survivors.csv, line 4: 0.950 at 500 nm" in warning for warning in ran["warnings"])


def test_a_spike_in_a_panel_of_the_bank_is_named(bench: Path) -> None:
    path = bench / "bank" / "readings.csv"
    head, *lines = [line for line in path.read_text().splitlines() if line[:1] != "#"]
    cells = lines[0].split(",")
    cells[13] = "0.999999" if float(cells[13]) < 0.5 else "0.1"
    write(path, "\n".join([head, lines[0], lines[0], ",".join(cells), *lines[1:]]) + "\n")
    (warning,) = [text for text in read_bank(bench / "bank").warnings if "far from its repeats" in text]
    assert "readings.csv, line 4" in warning


def test_the_reading_itself_keeps_its_repeats(bench: Path) -> None:
    spiked = repeats(3)
    spiked[2, 10] = 0.95
    found = read_readings(write(bench / "spiked.csv", rows(spiked)))["roof"]
    assert found.repeats.shape == (3, 31)
    assert found.spread_de00 is not None
    assert found.spread_de00 < 0.5
