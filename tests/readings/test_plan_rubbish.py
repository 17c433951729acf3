"""Rubbish at the plan's doors: a file nearly right is read rightly or refused in one line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.finish.sheen import flattening_for
from finishmatch.readings.angles_file import read_angles
from finishmatch.readings.areas_file import read_areas
from finishmatch.readings.ladder_file import read_ladder
from finishmatch.readings.plan_file import read_plan
from finishmatch.readings.product_sheet import read_product
from finishmatch.readings.rules_file import read_rules
from finishmatch.toml_reader import packaged_text
from tests.conftest import ROOT

PLANS = ROOT / "swatches/plan"
ODD = (
    *("", "0", "-1", "1e999", "nan", "inf", "true", '"x"', '""', "[]", "{}", "9" * 400),
    *('["1 h"]', '"-3 m2"', '"5 % at 20 C"', '"1e300 h at 20 C"', '"1 h at 1e300 C"', '"1e200 m2"', "1979-05-27"),
)
DOORS: dict[str, tuple[Callable[[Path], Any], str]] = {
    "product": (read_product, (PLANS / "single-stage.toml").read_text("utf-8")),
    "plan": (read_plan, (PLANS / "plan.toml").read_text("utf-8").replace('product = "', f'product = "{PLANS}/')),
    "rules": (read_rules, packaged_text("finish", "rules/federal.toml")),
    "areas": (read_areas, packaged_text("finish", "panels.toml")),
    "ladder": (lambda path: flattening_for(read_ladder(path), 35), (PLANS / "ladder.csv").read_text("utf-8")),
    "angles": (read_angles, (PLANS / "metallic.csv").read_text("utf-8")),
}


@st.composite
def mangled(draw: st.DrawFn, text: str) -> bytes:
    """A text with lines lost, doubled or cut, and values replaced."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        sign = "=" if "=" in lines[at] else ","
        match draw(st.sampled_from(["odd", "odd", "odd", "lose", "double", "cut", "insert"])):
            case "odd":
                lines[at] = lines[at].split(sign)[0] + sign + draw(st.sampled_from(ODD) | st.text(max_size=6))
            case "lose":
                lines[at] = ""
            case "double":
                lines.insert(at, lines[at])
            case "cut":
                lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
            case "insert":
                lines[at] += draw(st.text(max_size=4))
    return "\n".join(lines).encode("utf-8", "surrogatepass")


@pytest.mark.parametrize("door", DOORS)
@given(data=st.data())
@settings(max_examples=60, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_file_nearly_right_is_read_or_refused_in_one_line(door: str, data: st.DataObject) -> None:
    read, text = DOORS[door]
    content = data.draw(mangled(text) | st.binary(max_size=60))
    with TemporaryDirectory() as folder:
        file = Path(folder) / "file.toml"
        file.write_bytes(content)
        told = "read"
        try:
            read(file)
        except InputError as error:
            told = str(error)
    assert told
    assert "\n" not in told
