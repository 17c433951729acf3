"""A reading among the repeats of a sample that is of something else is named, and set aside or refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.readings import read_readings
from finishmatch.readings.strangers import without_stranger

WHERE = ("card.csv, line 2", "card.csv, line 3", "card.csv, line 4")
GREY = np.full(31, 0.2)


def spectra(*levels: float) -> Floats:
    """Flat spectra."""
    return np.array([GREY * level for level in levels])


def test_the_one_that_lies_far_from_others_that_agree_is_set_aside_and_named() -> None:
    kept, (warning,) = without_stranger("card", spectra(1.0, 2.0, 1.01), WHERE)
    np.testing.assert_array_equal(kept, spectra(1.0, 1.01))
    assert warning.startswith("card.csv, line 3: ΔE00 ")
    assert "from the other readings of 'card', which agree: it is set aside" in warning
    labs = np.array([[50.0, 0.0, 0.0], [50.2, 0.1, 0.0], [58.0, 0.0, 3.0]])
    assert len(without_stranger("card", labs, WHERE)[0]) == 2


def test_an_uneven_sample_stays_as_it_is() -> None:
    uneven = np.array([[50.0, 0.0, 0.0], [52.5, 0.5, 1.0], [54.5, 0.0, 2.0]])
    kept, warnings = without_stranger("survivor", uneven, WHERE)
    assert kept is uneven
    assert warnings == ()
    assert without_stranger("one", uneven[:1], WHERE)[1] == ()


@pytest.mark.parametrize("levels", [(1.0, 2.0), (1.0, 1.4, 2.0)])
def test_where_none_stands_out_they_are_refused(levels: tuple[float, ...]) -> None:
    with pytest.raises(InputError) as told:
        without_stranger("card", spectra(*levels), WHERE)
    last = WHERE[len(levels) - 1]
    assert str(told.value).startswith(f"{WHERE[0]} and {last}: both are of 'card', but ΔE00 ")
    assert "take out the one that is of another sample, or give them two names" in str(told.value)


@pytest.mark.parametrize("columns", ["spectrum", "lab"])
def test_a_file_of_readings_sets_it_aside(tmp_path: Path, columns: str) -> None:
    if columns == "lab":
        head, rows = "L,a,b", ["45,-7,5", "45.2,-7,5", "70,3,9"]
    else:
        head = ",".join(str(nm) for nm in range(400, 701, 10))
        rows = [",".join(f"{value:.4f}" for value in row) for row in spectra(1.0, 1.01, 2.0)]
    plain = tmp_path / "card.csv"
    plain.write_text(f"name,{head}\n" + "".join(f"card,{row}\n" for row in rows), encoding="utf-8")
    card = read_readings(plain)["card"]
    assert len(card.repeats) == 2
    assert any("card.csv, line 4: ΔE00" in warning for warning in card.warnings)
    assert any("it is set aside" in warning for warning in colour_target(card, ("D65",), 10).warnings)
    two = tmp_path / "two.csv"
    two.write_text(f"name,{head}\n" + "".join(f"card,{row}\n" for row in rows[1:]), encoding="utf-8")
    with pytest.raises(InputError, match="but ΔE00"):
        read_readings(two)
