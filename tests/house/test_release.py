"""What is told of a release: its version, its changes, what it is made of and under which licences."""

from __future__ import annotations

import json
import re

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

import finishmatch
from tests.conftest import ROOT
from tools import sbom


def test_the_version_is_the_same_wherever_it_stands() -> None:
    first = re.search(r"^## (\S+) \(\d{4}-\d\d-\d\d\)$", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)
    assert first is not None
    assert first[1] == finishmatch.__version__ == sbom.project()["version"]


def test_the_bill_of_materials_is_up_to_date_and_of_its_standard() -> None:
    text = sbom.SBOM.read_text()
    assert text == sbom.bill_of_materials(), "run: python -m tools.sbom"
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(text) is None
    listed = {part["name"]: part for part in json.loads(text)["components"]}
    direct = {re.split(r"[\[<>=]", line)[0].lower().replace("_", "-") for line in sbom.project()["dependencies"]}
    assert direct <= set(listed)


def test_every_package_is_pinned_and_names_its_licence() -> None:
    pinned = {
        sbom.canonicalize_name(line.partition("==")[0]): line.partition("==")[2]
        for line in (ROOT / "constraints.txt").read_text().splitlines()
        if "==" in line
    }
    for name, found in (sbom.needed() | sbom.optional()).items():
        assert pinned.get(name) == found.version, name
        assert sbom.licence(found), name
    assert sbom.LICENCES.read_text() == sbom.licences_page(), "run: python -m tools.sbom"
