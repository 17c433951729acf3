"""Write what finishmatch is made of: `sbom.cdx.json` (CycloneDX 1.6) and the table of licences in `docs/licences.md`.

    python -m tools.sbom          write both anew, after a dependency or a pinned version changed
    python -m tools.sbom --check  exit with 1 where they are not up to date

It tells what runs on a painter's machine, from the packages installed here, which are those of `constraints.txt`.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterator, Sequence
from importlib.metadata import Distribution, distribution
from pathlib import Path
from typing import Any

from cyclonedx.contrib.license.factories import LicenseFactory
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentScope, ComponentType
from cyclonedx.output.json import JsonV1Dot6
from packageurl import PackageURL
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
SBOM, LICENCES = ROOT / "sbom.cdx.json", ROOT / "docs/licences.md"
FOR_DEVELOPERS = {"test"}  # extras that no painter installs
_HEAD = """# Licences

What finishmatch is made of, with the licence that each package names for itself; written by `python -m tools.sbom` from
the versions of `constraints.txt`. The same, for programs to read, stands in `sbom.cdx.json` (CycloneDX 1.6). The texts
of the licences lie in the packages. A wheel may hold compiled libraries with licences of their own; those of
pillow-heif are libheif and libde265, under the LGPL («from memory»), that of rawpy is LibRaw, under the LGPL 2.1.

| package | version | licence | |
|---|---|---|---|
"""


def main(arguments: Sequence[str]) -> int:
    """Write both files, or see whether they are up to date; return the exit status."""
    made = {SBOM: bill_of_materials(), LICENCES: licences_page()}
    if "--check" in arguments:
        old = [path.name for path, text in made.items() if not path.exists() or path.read_text() != text]
        print(f"not up to date: {', '.join(old)}" if old else "up to date")
        return 1 if old else 0
    for path, text in made.items():
        path.write_text(text)
        print(f"written: {path.relative_to(ROOT)}")
    return 0


def project() -> dict[str, Any]:
    """Return the table ``project`` of pyproject.toml."""
    table: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return table


def needed() -> dict[str, Distribution]:
    """Return the packages that run with finishmatch, by name, those of them that others need included."""
    return dict(sorted(_walk(project()["dependencies"], {})))


def optional() -> dict[str, Distribution]:
    """Return the packages that only an extra brings."""
    always = needed()
    extras = project()["optional-dependencies"]
    lines = [line for extra, lines in extras.items() if extra not in FOR_DEVELOPERS for line in lines]
    return {name: found for name, found in sorted(_walk(lines, {})) if name not in always}


def _walk(lines: Sequence[str], known: dict[str, Distribution]) -> Iterator[tuple[str, Distribution]]:
    for requirement in map(Requirement, lines):
        name = canonicalize_name(requirement.name)
        if name in known:
            continue
        found = known[name] = distribution(name)
        yield name, found
        yield from _walk([line for line in found.requires or [] if _holds(line, requirement.extras)], known)


def _holds(line: str, extras: set[str]) -> bool:
    marker = Requirement(line).marker
    return marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *extras))


def licence(found: Distribution) -> str:
    """Return the licence a package names: an SPDX expression where it has one, else its classifier or its own words."""
    told = found.metadata
    expression = told.get("License-Expression")
    if expression:
        return str(expression)
    classes = [line.rpartition(" :: ")[2] for line in told.get_all("Classifier") or [] if line.startswith("License ::")]
    words = next(iter(str(told.get("License") or "").strip().splitlines()), "")
    return " AND ".join(classes) or words


def bill_of_materials() -> str:
    """Return the bill of materials; the same versions give the same text."""
    own = project()
    licences = LicenseFactory()
    root = Component(name=own["name"], version=own["version"], type=ComponentType.APPLICATION, bom_ref=own["name"])
    bom = Bom()
    bom.metadata.component = root
    parts: dict[str, Component] = {}
    for scope, packages in ((ComponentScope.REQUIRED, needed()), (ComponentScope.OPTIONAL, optional())):
        for name, found in packages.items():
            part = parts[name] = Component(
                name=name,
                version=found.version,
                type=ComponentType.LIBRARY,
                scope=scope,
                bom_ref=name,
                purl=PackageURL("pypi", None, name, found.version),
                licenses=[licences.make_from_string(licence(found))],
            )
            bom.components.add(part)
    for name, found in (needed() | optional()).items():
        names = {canonicalize_name(Requirement(line).name) for line in found.requires or [] if _holds(line, set())}
        bom.register_dependency(parts[name], [parts[other] for other in sorted(names & parts.keys())])
    direct = {canonicalize_name(Requirement(line).name) for line in own["dependencies"]}
    bom.register_dependency(root, [parts[name] for name in sorted(direct)])
    document = json.loads(JsonV1Dot6(bom).output_as_string())
    # what differs from one writing to the next says nothing
    document.pop("serialNumber", None)
    document["metadata"].pop("timestamp", None)
    return json.dumps(document, indent=1, sort_keys=True) + "\n"


def licences_page() -> str:
    """Return the table of licences."""
    rows = [(name, found, "") for name, found in needed().items()]
    rows += [(name, found, "with an extra only") for name, found in optional().items()]
    return _HEAD + "".join(f"| {name} | {found.version} | {licence(found)} | {note} |\n" for name, found, note in rows)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
