"""Every figure of the data files says where it is from, and what is from memory is known."""

from __future__ import annotations

import pytest

from tools.provenance import KNOWN, PAGE, covers, data_files, made_page, provenance_of

FILES = data_files()


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.parent.name}/{path.name}")
def test_a_data_file_says_where_each_of_its_values_is_from(path: object) -> None:
    one = provenance_of(path)  # type: ignore[arg-type]
    assert one.source
    assert one.date >= "2026"
    assert one.known in KNOWN
    for where, known, source in one.values:
        assert known in KNOWN
        assert source
        assert any(covers(where, leaf) for leaf in one.leaves), f"{where} names no value of {one.file}"


def test_what_is_still_from_memory_is_this() -> None:
    """Look a line up in its source, write "verified" into the data file, and take it out here."""
    found = {one.file: one.from_memory for one in map(provenance_of, FILES) if one.from_memory}
    assert found == {
        "defects/data/kinds.toml": ("kind.*.iso_4618", "kind.*.rated_by"),
        "finish/data/rules/district.toml": ("limits.wash primer", "limits.sealer", "limits.mid-coat"),
        "finish/data/rules/europe.toml": ("judged", "exemptions", "words", "less"),
        "finish/data/rules/federal.toml": ("all the rest",),
        "optics/data/pigment_kinds.toml": ("all the rest",),
        "readings/data/ghs_statements.csv": ("all the rest",),
        "readings/data/pigment_hazards.csv": ("all the rest",),
    }


def test_the_page_of_sources_tells_what_the_files_say() -> None:
    text = PAGE.read_text("utf-8")
    assert text == made_page(text), "run python tools/provenance.py"
