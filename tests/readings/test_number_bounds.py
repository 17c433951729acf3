"""One parser reads all numbers: what no bench has is no number, or none that serves."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import counted, plain_number, simple_numbers
from finishmatch.toml_reader import parse_toml
from tests.conftest import Ran

Cli = Callable[..., Ran]


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e400", "9" * 400, "9" * 5000, "1e16"])
def test_what_is_beyond_all_bounds_is_refused_at_an_option(cli: Cli, text: str) -> None:
    line = cli("plan", "quantity", "--area", "3m2", "--build", "40um", "--transfer", 0.5, "--density", text)
    assert line.status == 2
    assert "finite number" in cli("compare", "50,0,0", "50,0,0", "--tolerance", text).error
    assert len(line.error) < 300


@pytest.mark.parametrize("text", ["1e-320", "1e-16", "-0", "5e-324"])
def test_what_is_next_to_nothing_is_nothing(cli: Cli, text: str) -> None:
    assert plain_number(text) == 0
    assert math.copysign(1, plain_number(text)) == 1
    assert "--tolerance: 0 is not a tolerance" in cli("compare", "50,0,0", "50,0,0", "--tolerance", text).error
    assert "--solids" in cli("plan", "quantity", "--area", "3m2", "--build", "40um", "--solids", text).error


@pytest.mark.parametrize("text", ["0", "0.5", "7.", "12.25", "0.000000000001", "999999999.9"])
def test_numbers_read_in_one_go_are_those_read_one_by_one(text: str) -> None:
    assert simple_numbers(["0.1", text]) in ([0.1, plain_number(text)], None)
    assert simple_numbers(["0.25", "3", "0.125000"]) == [0.25, 3.0, 0.125]


@pytest.mark.parametrize("text", ["", "1;2", "-1", "1e3", "0,5", "30%", "٣", "1_0", "nan", " 1", "0." + 13 * "0" + "1"])
def test_what_is_written_otherwise_is_read_by_itself(text: str) -> None:
    assert simple_numbers(["0.1", text, "0.2"]) is None


def test_solids_that_no_paint_has_mix_no_lake(cli: Cli) -> None:
    line = cli("plan", "quantity", "--area", "3m2", "--build", "40um", "--solids", "1e-14").error
    assert "--solids: 1e-14 is too little for a paint" in line


@pytest.mark.parametrize("text", ["9" * 5000, "٣", "-1", "1.0", "", "nan"])
def test_what_counts_is_a_few_plain_digits(cli: Cli, text: str) -> None:
    with pytest.raises(ValueError, match=re.escape(text) or "^$"):
        counted(text)
    cli("job", "new", "roof")
    assert "neither a number nor 'last'" in cli("job", "coat", "J1", "--panel", "roof", f"--like={text}").error
    assert "is not the number of an entry" in cli("job", "strike", "J1", "--why", "x", "--", text).error


def test_a_whole_number_of_four_hundred_digits_in_toml_is_refused() -> None:
    with pytest.raises(InputError, match=r"plan\.toml, step coats: holds a number beyond all bounds"):
        parse_toml(f"[step]\ncoats = {'9' * 400}\n", "plan.toml")
